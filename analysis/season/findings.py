"""What a season says beside its figures: steps that were found, and what to do about them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise
from typing import Any, Final

import numpy as np

from ..digest import LogDigest
from ..estimate import Answer, Estimate, NoEstimate, Verdict
from ..fitting.change_points import find_steps
from ..phrases import clock_text, day_text, iso_utc, signed_amps
from .display_setting import setting_steps
from .happenings import find_happenings
from .ledger import Ledger
from .percent_jumps import LogPercent, is_circular
from .resistance_trend import ResistanceTrend
from .sign_history import find_sign_changes
from .zero import LogZero, find_zero_errors, zero_history

#: Scatter between drives of a resistance brought to 20 degC, at least. [parts]
RESISTANCE_SCATTER: Final = 0.012
#: So few logs, so long before or after all others, may have a wrong date. Chosen here. [s]
APART_MAX, APART_S = 3, 366 * 86_400.0
#: A step of the resistance smaller than this is not told. [parts]
RESISTANCE_STEP_MIN: Final = 0.03


@dataclass(frozen=True, slots=True)
class ChangePoint:
    """Something stepped between two logs."""

    kind: str
    moment_s: float
    before: float
    after: float
    unit: str
    words: str

    def as_json(self) -> dict[str, Any]:
        return {"kind": self.kind, "time": iso_utc(self.moment_s), "before": self.before,
                "after": self.after, "unit": self.unit, "words": self.words}


@dataclass(frozen=True, slots=True)
class SeasonFinding:
    """Something the logbook says about the pack or the instrument."""

    kind: str
    verdict: Verdict
    start_s: float
    words: str
    size: Answer
    next: str
    #: When it was last seen; infinite for what stands until somebody mends it. [s, Unix time]
    end_s: float = math.inf

    def as_json(self) -> dict[str, Any]:
        return {"kind": self.kind, "verdict": self.verdict, "start": iso_utc(self.start_s),
                "end": iso_utc(self.end_s) if math.isfinite(self.end_s) else None,
                "words": self.words, "size": self.size.as_json(), "next": self.next}


def find_changes(digests: Sequence[LogDigest],
                 resistance: ResistanceTrend) -> tuple[ChangePoint, ...]:
    """Steps of the display's setting, the zero, the sign and the resistance, in order."""
    found = [ChangePoint("display_setting", step.moment_s, round(step.before_ah, 1),
                         round(step.after_ah, 1), "Ah", step.words)
             for step in setting_steps([(d.start_s, d.of(LogPercent)) for d in digests])]
    levels = zero_history([(d.start_s, d.of(LogZero)) for d in digests]).levels
    found += [ChangePoint("rest_amps", after.from_s, round(before.level_a, 3),
                          round(after.level_a, 3), "A",
                          f"at rest the amps read {signed_amps(after.level_a)} A; before, "
                          f"{signed_amps(before.level_a)} A")
              for before, after in pairwise(levels)]
    found += _sign_changes(digests)
    found += _resistance_steps(resistance)
    return tuple(sorted(found, key=lambda change: change.moment_s))


def _sign_changes(digests: Sequence[LogDigest]) -> list[ChangePoint]:
    meaning = {"negative_is_discharge": "minus", "positive_is_discharge": "plus"}
    return [ChangePoint(
        "sign", digests[change.first_new].start_s, -1.0 if "negative" in change.before else 1.0,
        -1.0 if "negative" in change.after else 1.0, "",
        f"{meaning[change.after]} is out of the pack from here on; before, it was "
        f"{meaning[change.before]}. Each log is read by its own sign")
        for change in find_sign_changes([d.head.sign for d in digests])]


def _resistance_steps(trend: ResistanceTrend) -> list[ChangePoint]:
    if not trend.start_s:
        return []
    level = np.log(trend.at_reference_mohm)
    found = []
    for step in find_steps(level, RESISTANCE_SCATTER):
        before, after = math.exp(step.before), math.exp(step.after)
        if abs(step.change) < RESISTANCE_STEP_MIN:
            continue
        found.append(ChangePoint(
            "resistance", trend.start_s[step.first], round(before, 2), round(after, 2), "mohm",
            f"the resistance at 20 °C went from {before:.1f} to {after:.1f} mΩ: a step, not age; "
            + ("look at joints and cables" if after > before else "a joint was mended, or made")))
    return found


def find_findings(digests: Sequence[LogDigest], resistance: ResistanceTrend,
                  ledger: Ledger) -> tuple[SeasonFinding, ...]:
    """Findings of a season in order of time."""
    found = [*_zero(digests), *_jumps(digests), *_settings(digests), *_circular(digests),
             *_unfilled(ledger), *_cold(resistance), *_clock(digests), *turned_logs(digests),
             *far_apart(digests), *_happenings(digests)]
    return tuple(sorted(found, key=lambda finding: finding.start_s))


def _zero(digests: Sequence[LogDigest]) -> list[SeasonFinding]:
    levels = zero_history([(d.start_s, d.of(LogZero)) for d in digests])
    return [SeasonFinding("zero_error", zero.verdict, zero.from_s, zero.words, zero.error_a,
                          zero.next, zero.until_s) for zero in find_zero_errors(levels)]


def _happenings(digests: Sequence[LogDigest]) -> list[SeasonFinding]:
    return [SeasonFinding(f.kind, f.verdict, f.start_s, f.words, f.size, f.next, f.end_s)
            for f in find_happenings(digests)]


_JUMP_NEXT: Final = {
    "full": "nothing; it is right now",
    "knee": "fill fully, until the tail tapers or a cell reaches its top; until then, trust the "
            "volts at the low end more than the percent",
    "restart": "fill fully, so that it counts from a known point",
    "drift": "fill fully, so that it counts from a known point",
}


def _jumps(digests: Sequence[LogDigest]) -> list[SeasonFinding]:
    return [SeasonFinding(
        f"percent_jump_{jump.kind}", "yes", d.start_s + jump.elapsed_s, jump.words,
        Estimate.around(jump.to_pct - jump.from_pct, d.of(LogPercent).step_points, "%"),
        _JUMP_NEXT[jump.kind], d.start_s + jump.elapsed_s)
        for d in digests for jump in d.of(LogPercent).jumps if jump.kind in _JUMP_NEXT]


def _settings(digests: Sequence[LogDigest]) -> list[SeasonFinding]:
    return [SeasonFinding(
        "display_setting", "yes", step.moment_s, step.words,
        Estimate.around(step.ratio, 0.01 * step.ratio, "ratio"),
        "compare percents across that day only after multiplying by the ratio", step.moment_s)
        for step in setting_steps([(d.start_s, d.of(LogPercent)) for d in digests])]


def _circular(digests: Sequence[LogDigest]) -> list[SeasonFinding]:
    logs = [d.of(LogPercent) for d in digests]
    if not is_circular(logs):
        return []
    setting = float(np.median([log.ah_per_100 for log in logs if log.ah_per_100 > 0][-20:]))
    return [SeasonFinding(
        "circular_percent", "yes", digests[0].start_s,
        f"the displayed percent merely counts amp-hours against {setting:.0f} Ah: a capacity from "
        "it would give back that setting, not the pack, and is not shown",
        NoEstimate("circular, not a measurement", "a full test"),
        "measure capacity from a full charge down to empty")]


def _unfilled(ledger: Ledger) -> list[SeasonFinding]:
    return [SeasonFinding(
        "no_full_charge", "yes", stretch.from_s,
        f"{stretch.days:.0f} days without a charge to the top, until {day_text(stretch.until_s)}: "
        "cells drift apart, and the percent with them",
        Estimate.around(stretch.days, 1.0, "days"),
        "charge to the top about once a week; some warranties ask for it", stretch.until_s)
        for stretch in ledger.without_full]


def _cold(resistance: ResistanceTrend) -> list[SeasonFinding]:
    return [SeasonFinding(
        "cold_not_old", "yes", log.start_s, log.words,
        Estimate.around(100 * log.rise, 10.0, "%"),
        "judge the pack on a warm day; no charging below 0 °C, and defer to the maker's limits",
        log.start_s)
        for log in resistance.cold]


def _clock(digests: Sequence[LogDigest]) -> list[SeasonFinding]:
    return [SeasonFinding(
        "clock_step", "yes", d.start_s,
        f"the computer's clock was set {'back' if step < 0 else 'forward'} by {_span(abs(step))} "
        "while recording; the order was kept by the steady clock",
        Estimate.around(step, 1.0, "s"), "let the computer set its clock before recording",
        d.end_s)
        for d in digests for step in d.head.clock_steps_s]


def turned_logs(digests: Sequence[LogDigest]) -> list[SeasonFinding]:
    """Logs within which the sign of the amps turns: none of their amps is counted."""
    return [SeasonFinding(
        "sign_turns", "yes", turned_s,
        f"the sign of the amps turns within the log {d.log}, about "
        f"{clock_text(datetime.fromtimestamp(turned_s, UTC), d.head.time_zone)[:5]}: its amps are "
        "left out of every count",
        NoEstimate("a direction, not a size", "look at that log"),
        "begin a new recording whenever monitor, firmware or shunt change: each log has one sign",
        d.end_s)
        for d in digests if d.head.sign.turns and d.head.sign.told_by != "person"
        for turned_s in (d.start_s + d.head.sign.turned_s,)]


def far_apart(digests: Sequence[LogDigest]) -> list[SeasonFinding]:
    """The first or the last few logs, where they lie more than a year from all others."""
    gaps = [k for k in range(1, len(digests))
            if digests[k].start_s - digests[k - 1].end_s > APART_S]
    few = [digests[:k] for k in gaps if k <= APART_MAX < len(digests) - k]
    few += [digests[k:] for k in gaps if len(digests) - k <= APART_MAX < k]
    return [_apart(part) for part in few]


def _apart(part: Sequence[LogDigest]) -> SeasonFinding:
    logs = "one log lies" if len(part) == 1 else f"{len(part)} logs lie"
    return SeasonFinding(
        "far_apart", "cannot tell yet", part[0].start_s,
        f"{logs} more than a year from all others: was the computer's clock right then?",
        NoEstimate("a question, not a size", "look at the date"),
        f"if it was not, 'packhand correct clock --log {part[0].log.partition('.')[0]}' moves "
        "such a log to when it really began", part[-1].end_s)


def _span(seconds: float) -> str:
    if seconds >= 86400:
        return f"{seconds / 86400:.1f} days"
    return f"{seconds / 60:.0f} minutes" if seconds >= 120 else f"{seconds:.1f} s"
