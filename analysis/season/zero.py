"""The zero error of the amps over a logbook: how large, since when, and the dated correction.

Every log shows at rest what the monitor reads when hardly anything flows. A level that stays the
same over many logs is either a zero error or something small that is always on. Amps *into* a pack
that rests cannot be a load, so there the sign decides. The correction is proposed, dated, and
never applied to the raw figures.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from ..estimate import Estimate, Verdict
from ..one_log.charge import smallest_step
from ..one_log.rest import find_rest
from ..phrases import day_text, iso_utc
from ..telemetry import Telemetry
from ..timebase import observe

ZERO_COLUMNS: Final = ("current_a",)
#: Rests whose amps differ by less than this belong to one level. [A]
SAME_LEVEL_A: Final = 0.08
#: A level is held by at least this many logs.
LOGS_MIN: Final = 3
#: A level smaller than this is none. [A]
LEVEL_MIN_A: Final = 0.1
#: What a display and a board draw by themselves, unseen under a zero error. [A]
#: (common practice, no source)
STANDBY_A: Final = 0.05
#: The zero error of a monitor nobody has checked. [A] (common practice, no source)
UNCHECKED_A: Final = 0.1


@dataclass(frozen=True, slots=True)
class LogZero:
    """What one log's amps read at rest; NaN if it holds no rest."""

    rest_a: float
    rest_s: float
    resolution_a: float


@dataclass(frozen=True, slots=True)
class ZeroLevel:
    """Logs in a row whose rests read the same."""

    from_s: float
    #: Start of the first log of the next level; infinite for the last.
    until_s: float
    level_a: float
    logs: int
    #: Between two levels that agree with each other: the level comes back.
    is_interlude: bool


@dataclass(frozen=True, slots=True)
class ZeroHistory:
    """The zero error over a logbook."""

    levels: tuple[ZeroLevel, ...]
    resolution_a: float

    def level_at(self, start_s: float) -> float:
        """What the amps of a log are too high by; an interlude counts as the level around it. [A]

        In an interlude the monitor's dead band or a load hides the zero error at rest, but not
        under load. NaN if no log has rested.
        """
        settled = [level for level in self.levels if not level.is_interlude]
        if not settled:
            return math.nan
        return next((level.level_a for level in reversed(settled) if start_s >= level.from_s),
                    settled[0].level_a)

    def uncertainty_a(self) -> float:
        """Standard uncertainty of a level. [A]"""
        if not self.levels:
            return UNCHECKED_A / math.sqrt(3)
        return math.hypot(self.resolution_a / math.sqrt(12), STANDBY_A / math.sqrt(3))


@dataclass(frozen=True, slots=True)
class ZeroFinding:
    """A zero error: since when, how much a day, and the correction proposed."""

    from_s: float
    #: Infinite while it stands.
    until_s: float
    verdict: Verdict
    error_a: Estimate
    per_day_ah: Estimate
    words: str
    next: str

    def correction(self) -> dict[str, Any]:
        """The dated layer that takes it off, as a log's metadata holds it."""
        return {"kind": "zero", "column": "current_a", "value": round(-self.error_a.value, 3),
                "from": iso_utc(self.from_s),
                "until": iso_utc(self.until_s) if math.isfinite(self.until_s) else None,
                "reason": "what the amps read at rest"}

    def as_json(self) -> dict[str, Any]:
        return {"kind": "zero_error", "verdict": self.verdict, "from": iso_utc(self.from_s),
                "error_a": self.error_a.as_json(), "per_day_ah": self.per_day_ah.as_json(),
                "correction": self.correction(), "words": self.words, "next": self.next}


def zero_digest(telemetry: Telemetry) -> LogZero:
    """What the amps of one log read at rest; in packhand's sign."""
    if "current_a" not in telemetry:
        return LogZero(math.nan, 0.0, math.nan)
    seen = observe(telemetry, "current_a")
    amps = seen.pick(telemetry["current_a"])
    resolution = smallest_step(amps)
    rest = find_rest(amps, seen, resolution) if len(amps) > 1 else None
    if rest is None:
        return LogZero(math.nan, 0.0, resolution)
    return LogZero(rest.current_a, rest.seconds, resolution)


def zero_history(rests: Sequence[tuple[float, LogZero]]) -> ZeroHistory:
    """Levels of the rests over a logbook.

    Parameters
    ----------
    rests
        Start of each log [s] and its rest, oldest first; logs without a rest are passed over.
    """
    held = [(start, rest) for start, rest in rests if math.isfinite(rest.rest_a)]
    if not held:
        return ZeroHistory((), math.nan)
    groups: list[list[tuple[float, float]]] = []
    for start, rest in held:
        if groups and abs(rest.rest_a - _level(groups[-1])) <= SAME_LEVEL_A:
            groups[-1].append((start, rest.rest_a))
        else:
            groups.append([(start, rest.rest_a)])
    lasting = [group for group in groups if len(group) >= LOGS_MIN]
    groups = _joined(lasting or [max(groups, key=len)])
    resolution = float(np.median([rest.resolution_a for _, rest in held]))
    return ZeroHistory(tuple(_as_level(groups, k) for k in range(len(groups))), resolution)


def _level(group: list[tuple[float, float]]) -> float:
    return float(np.median([amps for _, amps in group]))


def _joined(groups: list[list[tuple[float, float]]]) -> list[list[tuple[float, float]]]:
    """Neighbours of one level joined again, after a few odd logs between them were left out."""
    joined = [groups[0]]
    for group in groups[1:]:
        if abs(_level(group) - _level(joined[-1])) <= SAME_LEVEL_A:
            joined[-1] = joined[-1] + group
        else:
            joined.append(group)
    return joined


def _as_level(groups: list[list[tuple[float, float]]], k: int) -> ZeroLevel:
    group = groups[k]
    until = groups[k + 1][0][0] if k + 1 < len(groups) else math.inf
    returns = 0 < k < len(groups) - 1 and (
        abs(_level(groups[k - 1]) - _level(groups[k + 1])) <= SAME_LEVEL_A)
    # Of two levels that take turns the longer one stands, the other is the interlude.
    shorter = returns and len(group) < min(len(groups[k - 1]), len(groups[k + 1]))
    return ZeroLevel(group[0][0], until, _level(group), len(group), shorter)


def find_zero_errors(history: ZeroHistory) -> tuple[ZeroFinding, ...]:
    """Every zero error that lasted, oldest first; the last may stand at the logbook's end."""
    settled = [level for level in history.levels if not level.is_interlude]
    runs: list[list[ZeroLevel]] = []
    for level in settled:
        if runs and abs(level.level_a - runs[-1][-1].level_a) <= SAME_LEVEL_A:
            runs[-1].append(level)
        else:
            runs.append([level])
    least_a = max(LEVEL_MIN_A, history.resolution_a)
    return tuple(_finding(run, history) for run in runs if abs(run[-1].level_a) >= least_a)


def _finding(run: Sequence[ZeroLevel], history: ZeroHistory) -> ZeroFinding:
    """The error of levels in a row that are one."""
    amps, since, until = run[-1].level_a, run[0].from_s, run[-1].until_s
    half = history.resolution_a / 2
    # What the display itself draws lies under the reading: the error is rather more into the pack.
    error = Estimate(amps, amps - half, amps + half + STANDBY_A, "A")
    low, high = sorted((abs(error.low), abs(error.high)))
    day = Estimate(abs(amps), low, high, "A").scaled(24.0, "Ah")
    is_over = math.isfinite(until)
    how_long = f" until {day_text(until)}" if is_over else ""
    words = (f"the amps read {amps:+.2f} A at rest{how_long}; "
             + ("nothing charges a pack that rests, so the zero is off; " if amps > 0 else
                "the zero is off, or something small is always on; ")
             + f"left alone it counts {day.value:.1f} Ah a day that never flowed")
    hidden = [level for level in history.levels
              if level.is_interlude and since <= level.from_s < until]
    if hidden:
        last = hidden[-1]
        words += (f"; from {day_text(last.from_s)} the reading went back to {last.level_a:.1f} A "
                  f"for {last.logs} logs, as it would if something small was left on")
    return ZeroFinding(since, until, "yes" if amps > 0 else "cannot tell yet", error, day, words,
                       "accept a correction from the first to the last of these days, so that "
                       "their counts come right" if is_over else
                       "take one reading with a clamp meter while all is off, then accept "
                       "the correction from that day on")
