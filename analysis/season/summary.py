"""Everything about a pack over its logbook: the single answers, put together."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from ..digest import LogDigest
from ..estimate import Answer, Estimate, NoEstimate, Verdict
from ..limits import Limits
from ..one_log.charge import Instrument
from ..one_log.use import LogUse
from ..phrases import day_text, iso_utc
from .beyond_limits import beyond_limits
from .capacity import capacity_from_spans
from .capacity_now import capacity_at_reference, spans_of_late
from .day_use import DAY_S, DayUse, ToldDay, YearUse, use_by_day, use_by_year
from .efficiency import Efficiency, find_efficiency
from .fade import (
    END_OF_LIFE,
    REACH,
    USUAL_PER_YEAR,
    YEAR_S,
    CapacityPoint,
    FadeLine,
    change_since_first,
    fade_line,
    forecast_crossing,
    years_until_told,
)
from .findings import ChangePoint, SeasonFinding, find_changes, find_findings
from .ledger import Ledger, make_ledger
from .pack_sensor import LogWarmth, find_loose_sensor
from .resistance_trend import LogResistance, ResistanceTrend, resistance_trend
from .spans import Span, find_spans
from .state_of_charge import charge_left_at_end

#: Parts of the digests that a season needs.
PARTS_NEEDED: Final = ("use", "anchors", "zero", "percent", "resistance", "coasting", "warmth",
                       "stops", "loading")


@dataclass(frozen=True, slots=True)
class Capacity:
    """One capacity of the pack, at 20 degC if it was colder and the temperature is known."""

    span: Span
    #: With the gain of the meter. [Ah]
    ah: Answer

    def as_json(self) -> dict[str, Any]:
        return {"time": iso_utc(self.span.end_s), "ah": self.ah.as_json(),
                "method": self.span.method, "log": self.span.log}


@dataclass(frozen=True, slots=True)
class Fade:
    """Whether the pack has faded, how fast, and when it would reach 80 %."""

    ah_per_year: Answer
    ah_per_100_cycles: Answer
    change_ah: Answer
    change_pct: Answer
    verdict: Verdict
    words: str
    #: Unix seconds as value and interval, unit ``s``.
    eighty_percent: Answer
    #: Its end is where the forecast was cut: it may as well be later.
    or_later: bool = False
    #: What it was read from; ``None`` with fewer than three capacities.
    line: FadeLine | None = None
    #: 80 % of the rating, or of the line's beginning where nobody typed one; NaN without a line.
    #: [Ah]
    level_ah: float = math.nan

    def as_json(self) -> dict[str, Any]:
        return {"ah_per_year": self.ah_per_year.as_json(),
                "ah_per_100_cycles": self.ah_per_100_cycles.as_json(),
                "change_ah": self.change_ah.as_json(),
                "percent_since_first": self.change_pct.as_json(),
                "verdict": self.verdict, "words": self.words,
                "eighty_percent_date": _date_json(self.eighty_percent, or_later=self.or_later)}


@dataclass(frozen=True, slots=True)
class Season:
    """A pack over its logbook."""

    pack: str
    start_s: float
    end_s: float
    invented: bool
    capacity: tuple[Capacity, ...]
    #: From the spans of the last months together. [Ah]
    capacity_now: Answer
    fade: Fade
    resistance: ResistanceTrend
    change_points: tuple[ChangePoint, ...]
    findings: tuple[SeasonFinding, ...]
    efficiency: Efficiency
    charge_left: Answer
    ledger: Ledger
    use: tuple[DayUse, ...]
    years: tuple[YearUse, ...]

    @property
    def other_steps(self) -> tuple[ChangePoint, ...]:
        """Steps that no finding explains already."""
        told = {finding.start_s for finding in self.findings}
        return tuple(step for step in self.change_points if step.moment_s not in told)

    def as_json(self) -> dict[str, Any]:
        """The document of ``packhand season --json``."""
        ledger = self.ledger.as_json()
        return {
            "schema": "packhand.season/1", "pack": self.pack, "invented": self.invented,
            "start": iso_utc(self.start_s), "end": iso_utc(self.end_s),
            "capacity": [capacity.as_json() for capacity in self.capacity],
            "capacity_now_ah": self.capacity_now.as_json(),
            "fade": self.fade.as_json(),
            "resistance": self.resistance.as_json(),
            "resistance_now_mohm": self.resistance.now_mohm.as_json(),
            "resistance_pct_per_year": self.resistance.per_year_pct.as_json(),
            "change_points": [change.as_json() for change in self.change_points],
            "findings": [finding.as_json() for finding in self.findings],
            "efficiency": {"charge_pct": self.efficiency.charge_pct.as_json(),
                           "energy_pct": self.efficiency.energy_pct.as_json()},
            "charge_left_pct": self.charge_left.as_json(),
            "equivalent_full_cycles": ledger["equivalent_full_cycles"],
            "days_since_full": ledger["days_since_full"],
            "ledger": ledger,
            "years": [year.as_json() for year in self.years],
            "use": [day.as_json() for day in self.use],
        }


def find_season(digests: Sequence[LogDigest], *, rated_ah: float | None = None,
                limits: Limits | None = None, told: Sequence[ToldDay] = ()) -> Season:
    """Everything about one pack.

    Parameters
    ----------
    digests
        Of one pack, oldest first, with ``PARTS_NEEDED``; at least one.
    rated_ah
        What the pack is rated at, if known. [Ah]
    limits
        What was typed of board and breaker; ``None``: nobody looks at them.
    told
        Days as somebody read them off the display.
    """
    ledger, use = make_ledger(digests, rated_ah, told), use_by_day(digests, told)
    spans = find_spans(digests)
    resistance = _resistance(digests)
    now = capacity_at_reference(spans_of_late(spans, digests[-1].end_s))
    return Season(
        digests[-1].head.pack, min([digests[0].start_s, *(day.day_s for day in use)]),
        max([d.end_s for d in digests] + [day.day_s + DAY_S for day in use if day.is_typed]),
        any(d.head.invented for d in digests),
        tuple(Capacity(span, _with_gain(span)) for span in spans), now,
        _fade(spans, digests, use, rated_ah), resistance, find_changes(digests, resistance),
        _findings(digests, resistance, ledger, limits), find_efficiency(digests),
        charge_left_at_end(digests, now), ledger, use,
        use_by_year(use, rated_ah))


def _resistance(digests: Sequence[LogDigest]) -> ResistanceTrend:
    """Of the drives whose pack sensor sits on the pack: the air's temperature makes steps."""
    loose = find_loose_sensor([(d.start_s, d.of(LogWarmth)) for d in digests])
    return resistance_trend([
        (d.start_s, d.of(LogResistance)) for d in digests if d.of(LogUse).kind == "drive"
        and not any(found.start_s <= d.start_s <= found.end_s for found in loose)])


def _findings(digests: Sequence[LogDigest], resistance: ResistanceTrend, ledger: Ledger,
              limits: Limits | None) -> tuple[SeasonFinding, ...]:
    """Every finding, in order of time."""
    beyond = beyond_limits(digests, limits) if limits else ()
    return tuple(sorted([*find_findings(digests, resistance, ledger), *beyond],
                        key=lambda finding: finding.start_s))


def _with_gain(span: Span) -> Answer:
    one = np.ones(1)
    return capacity_from_spans(one, span.at_reference_ah * one, 1e-6 * one, span.sd_ah * one,
                               instrument=Instrument())


def _fade(spans: tuple[Span, ...], digests: Sequence[LogDigest], use: Sequence[DayUse],
          rated_ah: float | None) -> Fade:
    # A refill begins at the empty that a test ended at: it says nothing of its own about time.
    points = [_point(span, digests, use, rated_ah) for span in spans if span.method != "refill"]
    change, line = change_since_first(points), fade_line(points)
    change_pct = (change.scaled(100 / points[0].capacity_ah, "%")
                  if isinstance(change, Estimate) else change)
    verdict, words = _told(points, change)
    if isinstance(line, NoEstimate):
        return Fade(line, line, change, change_pct, verdict, words, line)
    level = END_OF_LIFE * (rated_ah or line.at(0.0)[0])
    crossing, or_later = forecast_crossing(line, points, level), False
    if isinstance(crossing, Estimate):
        or_later = crossing.high >= REACH * line.span_years
        value, low, high = (line.first_s + YEAR_S * years
                            for years in (crossing.value, crossing.low, crossing.high))
        crossing = Estimate(value, low, high, "s", crossing.coverage)
    return Fade(line.per_year(), _per_100_cycles(line, points), change, change_pct, verdict, words,
                crossing, or_later, line, level)


def _point(span: Span, digests: Sequence[LogDigest], use: Sequence[DayUse],
           rated_ah: float | None) -> CapacityPoint:
    out_ah = sum(d.of(LogUse).out_ah for d in digests if d.end_s <= span.end_s
                 and d.of(LogUse).out_ah > 0)
    out_ah += sum(day.out_ah for day in use if day.is_typed and day.day_s + DAY_S <= span.end_s
                  and day.out_ah > 0)
    return CapacityPoint(span.end_s, span.at_reference_ah, span.sd_ah,
                         cycles=out_ah / (rated_ah or span.at_reference_ah))


def _per_100_cycles(line: FadeLine, points: Sequence[CapacityPoint]) -> Answer:
    cycles = points[-1].cycles - points[0].cycles
    if not cycles > 1:
        return NoEstimate("hardly a full cycle between the tests", "use the pack, then test again")
    return line.per_year().scaled(100 * line.span_years / cycles, "Ah per 100 cycles")


def _told(points: Sequence[CapacityPoint], change: Answer) -> tuple[Verdict, str]:
    if isinstance(change, NoEstimate):
        return "cannot tell yet", f"Fade cannot be told yet: {change.reason}; {change.next}."
    since = day_text(points[0].moment_s)
    size = f"{change.value:+.1f} ± {change.half_width:.1f} Ah since {since}".replace("-", "−", 1)
    if change.high < 0:
        share = 100 * abs(change.value) / points[0].capacity_ah
        return "yes", f"The pack has lost capacity: {size} ({share:.0f} %), probably real."
    if change.low > 0:
        return "no", f"The pack gives rather more than at first: {size}; young packs may."
    rate = min(change.value / max(_years(points), 1e-9), -USUAL_PER_YEAR * points[0].capacity_ah)
    told_s = points[0].moment_s + YEAR_S * max(
        years_until_told(points, rate), _years(points) * 1.01)
    return "cannot tell yet", (
        f"Fade is not yet distinguishable from none: {size}. Testing on at this pace it could be "
        f"told from {day_text(told_s)} at the earliest.")


def _years(points: Sequence[CapacityPoint]) -> float:
    return (points[-1].moment_s - points[0].moment_s) / YEAR_S


def _date_json(answer: Answer, *, or_later: bool) -> dict[str, Any]:
    if isinstance(answer, NoEstimate):
        return answer.as_json()
    return {"value": iso_utc(answer.value), "low": iso_utc(answer.low),
            "high": iso_utc(answer.high), "or_later": or_later, "unit": "date",
            "coverage": answer.coverage}
