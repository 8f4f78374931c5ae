"""Why the displayed percent jumped, and what its display reckons with.

A jump is classed by what surrounds it: a display puts itself right at a true full and at the knee;
a restart forgets; a changed capacity setting multiplies every percent by one ratio; what is left
is a correction of drift. Between jumps the slope of counted charge against percent is the capacity
that the display reckons with. A display that merely counts follows it to less than one step, and
its capacity is then *circular*: it gives back the setting, not the pack.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np

from ..one_log.anchors import ANCHOR_COLUMNS, TOP_V, lowest_and_highest
from ..one_log.percent import Jump, PercentCourse, percent_course
from ..telemetry import Floats, Telemetry
from ..timebase import Rows

JumpKind = Literal["full", "knee", "restart", "setting", "drift"]

PERCENT_COLUMNS: Final = ANCHOR_COLUMNS
#: A display corrects itself downwards where the lowest cell is below this. [V]
KNEE_V: Final = 3.15
#: Corrected to at least this: a sync at full. [points]
FULL_PCT: Final = 98.0
#: A setting is changed by hand: hardly any amps, and a modest ratio.
SETTING_AMPS_A: Final = 2.0
SETTING_RATIO: Final = (0.5, 2.0)
#: Changes of the percent in a stretch that give its slope.
CHANGES_MIN: Final = 4
#: A change of the percent is placed no better than this. [display steps]
CROSSING_STEPS: Final = 0.02
#: A percent that follows the count this closely merely counts, [display steps] ...
CIRCULAR_STEPS: Final = 1.0
#: ... or this closely, where its steps are finer than anyone could count; [points]
CIRCULAR_FINE: Final = 0.1
#: ... shown over this much of the scale. [points]
CIRCULAR_POINTS: Final = 40.0


@dataclass(frozen=True, slots=True)
class ClassedJump:
    """A jump of the displayed percent, and what it was."""

    kind: JumpKind
    elapsed_s: float
    from_pct: float
    to_pct: float
    counted_ah: float
    #: Lowest cell just before; NaN if cells are not told. [V]
    low_v: float

    @property
    def ratio(self) -> float:
        """New percent over old; a setting from A to B gives A / B."""
        return self.to_pct / self.from_pct if self.from_pct else math.inf

    @property
    def words(self) -> str:
        moved = f"the percent went from {self.from_pct:.0f} to {self.to_pct:.0f}"
        return f"{moved}: " + {
            "full": "the display saw a full charge and set itself right",
            "knee": "the display saw the low end and set itself right; before, it told too much",
            "restart": "nothing was heard meanwhile; it was switched off or forgot its count",
            "setting": f"someone changed the capacity setting, by a ratio of {self.ratio:.2f}",
            "drift": "the display corrected itself, and no amps explain it",
        }[self.kind]

    def as_json(self) -> dict[str, Any]:
        return {"kind": self.kind, "from_pct": self.from_pct, "to_pct": self.to_pct,
                "words": self.words}


@dataclass(frozen=True, slots=True)
class LogPercent:
    """What one log's displayed percent did."""

    step_points: float
    jumps: tuple[ClassedJump, ...]
    #: Counted charge for 100 points between jumps; NaN if the percent hardly moved. [Ah]
    ah_per_100: float
    #: Standard uncertainty of it, from the scatter at the changes. [Ah]
    ah_per_100_sd: float
    #: Root mean square by which the percent strays from the count between jumps. [points]
    residual_points: float
    #: Points of percent that this was seen over, stretch by stretch.
    swing_points: float


def percent_digest(telemetry: Telemetry) -> LogPercent:
    """Jumps and slope of one log; amps in packhand's sign. All NaN without percent or amps."""
    course = percent_course(telemetry)
    if course is None:
        return LogPercent(math.nan, (), math.nan, math.nan, math.nan, 0.0)
    jumps = tuple(_classed(jump, telemetry.between(jump.start_s - 60.0, jump.end_s))
                  for jump in course.jumps)
    step = course.step
    points, charge = _aligned(course)
    power = float(np.square(points).sum())
    if power <= 0 or step <= 0:
        return LogPercent(step, jumps, math.nan, math.nan, math.nan, 0.0)
    slope = float((points * charge).sum()) / power
    residual = float(np.sqrt(np.mean(np.square(points - charge / slope)))) if slope else math.nan
    spread = abs(slope) * max(residual, CROSSING_STEPS * step) / math.sqrt(power)
    return LogPercent(step, jumps, slope * 100, spread * 100, residual, _swing(points, step))


def _classed(jump: Jump, around: Telemetry) -> ClassedJump:
    """``around`` is the log from a minute before the jump."""
    low, high = lowest_and_highest(around)
    lowest, highest = _extreme(low, min), _extreme(high, max)
    amps = float(np.nanmax(np.abs(around["current_a"]), initial=0.0))
    return ClassedJump(_kind(jump, lowest, highest, amps), jump.end_s, jump.from_pct, jump.to_pct,
                       jump.counted_ah, lowest)


def _extreme(values: Floats, which: Any) -> float:
    finite = values[np.isfinite(values)]
    return float(which(finite)) if len(finite) else math.nan


def _kind(jump: Jump, low_v: float, high_v: float, amps: float) -> JumpKind:
    if jump.in_gap:
        return "restart"
    rises = jump.to_pct > jump.from_pct
    if rises and jump.to_pct >= FULL_PCT and not high_v < TOP_V[0] - 0.1:
        return "full"
    if not rises and low_v < KNEE_V:
        return "knee"
    ratio = jump.to_pct / jump.from_pct if jump.from_pct else math.inf
    if amps <= SETTING_AMPS_A and SETTING_RATIO[0] <= ratio <= SETTING_RATIO[1]:
        return "setting"
    return "drift"


def _aligned(course: PercentCourse) -> tuple[Floats, Floats]:
    """Percent and counted charge at the changes of the percent, each stretch about its mean."""
    groups = course.stretches(CHANGES_MIN)
    return _centred(course.edges, groups), _centred(course.charge_ah, groups)


def _centred(values: Floats, groups: list[Rows]) -> Floats:
    return np.concatenate([values[g] - values[g].mean() for g in groups]) if groups else (
        np.empty(0))


def _swing(points: Floats, step: float) -> float:
    """Points of percent passed through: one display step for each change that was used."""
    return float(len(points)) * step


def is_circular(logs: list[LogPercent]) -> bool:
    """Whether the displayed percent merely counts amp-hours against a setting.

    So if over ``CIRCULAR_POINTS`` of percent it strays by less than one display step (a tenth of
    a point where the steps are finer) from the count. Its capacity is then the setting, however
    narrow the scatter.
    """
    telling = [log for log in logs if log.swing_points > 0 and math.isfinite(log.residual_points)]
    swing = sum(log.swing_points for log in telling)
    if swing < CIRCULAR_POINTS:
        return False
    square = sum(log.swing_points * (
        log.residual_points / max(log.step_points, CIRCULAR_FINE)) ** 2 for log in telling)
    return math.sqrt(square / swing) < CIRCULAR_STEPS
