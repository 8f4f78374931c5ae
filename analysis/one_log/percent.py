"""The displayed percent against the counted charge: what 100 % would hold, and jumps.

A displayed percent is a count with corrections. Where it moves without amp-hours it was corrected
(a true full, the knee at the low end, a changed setting, a restart), and a capacity worked out
across such a jump would be wrong; jumps are found first and left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from ..estimate import Answer, Estimate, NoEstimate
from ..telemetry import Floats, Telemetry
from ..timebase import Observed, Rows, observe
from .charge import SECONDS_PER_HOUR, Budget, Instrument, charge_budget, smallest_step

#: A step of the percent this much larger than the counted charge explains is a jump. [points]
JUMP_POINTS: Final = 3.0
#: A jump may be spread over this time. [s]
JUMP_SPREAD_S: Final = 60.0
#: The log is judged in this many pieces to learn what one point stands for.
_PIECES: Final = 40
#: A capacity from less change than this is not worth telling. [points]
SWING_MIN_POINTS: Final = 5.0


@dataclass(frozen=True, slots=True)
class Jump:
    """The percent moved and no charge explains it."""

    start_s: float
    end_s: float
    from_pct: float
    to_pct: float
    #: What the amps moved meanwhile, positive in. [Ah]
    counted_ah: float
    #: Whether it happened while nothing was heard.
    in_gap: bool

    @property
    def words(self) -> str:
        if self.in_gap:
            return (f"the percent went from {self.from_pct:.0f} to {self.to_pct:.0f} "
                    "while nothing was heard")
        return (f"the percent went from {self.from_pct:.0f} to {self.to_pct:.0f} while "
                f"{abs(self.counted_ah):.1f} Ah went {'in' if self.counted_ah > 0 else 'out'}")


@dataclass(frozen=True, slots=True)
class PercentAgreement:
    """How the displayed percent and the counted charge go together."""

    start_pct: float
    end_pct: float
    #: Display step. [points]
    step_points: float
    #: Amp-hours that 100 % of this display stands for.
    implied_capacity_ah: Answer
    jumps: tuple[Jump, ...]

    @property
    def is_whole_numbers(self) -> bool:
        return self.step_points >= 0.999

    def as_json(self) -> dict[str, Any]:
        return {
            "implied_capacity_ah": self.implied_capacity_ah.as_json(),
            "step_pct": self.step_points,
            "whole_numbers": self.is_whole_numbers,
            "jumps": [{"from_pct": j.from_pct, "to_pct": j.to_pct, "counted_ah": j.counted_ah,
                       "words": j.words} for j in self.jumps],
        }


@dataclass(frozen=True, slots=True)
class PercentCourse:
    """The displayed percent where it changes, beside the counted charge."""

    observed: Observed
    #: At the observed rows. [points]
    percent: Floats
    #: First rows of a new percent, and the charge counted until then. [Ah]
    changes: Rows
    charge_ah: Floats
    jumps: tuple[Jump, ...]


def compare_percent(telemetry: Telemetry, instrument: Instrument | None = None,
                    like: Observed | None = None) -> PercentAgreement | None:
    """Compare ``soc_pct`` with the counted charge; ``None`` if the log lacks either.

    Parameters
    ----------
    telemetry
        Amps in packhand's sign.
    instrument
        What the amps may be wrong by; a usual shunt monitor by default.
    like
        As in ``timebase.observe``.

    Notes
    -----
    The percent is looked at where it changes: there it is known to much less than its step. The
    implied capacity is counted charge over change of percent between the first and the last such
    moment, without the jumps and without gaps. It says what the display reckons with, not what
    the pack holds.
    """
    course = percent_course(telemetry, like)
    if course is None:
        return None
    percent, changes = course.percent, course.changes
    step = smallest_step(percent)
    seen = _seen_points(course.observed, changes, percent)
    answer = _capacity(course.observed, changes, seen, course.charge_ah, course.jumps, step,
                       instrument or Instrument())
    return PercentAgreement(float(percent[0]), float(percent[-1]), step, answer, course.jumps)


def percent_course(telemetry: Telemetry, like: Observed | None = None) -> PercentCourse | None:
    """What the percent did; ``None`` if the log lacks it or amps. As in ``compare_percent``."""
    observed = observe(telemetry, "soc_pct", "current_a", like=like)
    if len(observed.time_s) < 2:
        return None
    percent = observed.pick(telemetry["soc_pct"])
    changes = np.flatnonzero(percent[1:] != percent[:-1]) + 1
    knots = np.concatenate(([0], changes, [len(percent) - 1]))
    charge_ah = observed.running_at(knots, observed.pick(telemetry["current_a"]))
    charge_ah /= SECONDS_PER_HOUR
    return PercentCourse(observed, percent, changes, charge_ah[1:-1],
                         _find_jumps(observed, knots, percent[knots], charge_ah))


def _seen_points(observed: Observed, changes: Rows, percent: Floats) -> float:
    """Change of the percent between its first and last change, without what it did in gaps."""
    if not len(changes):
        return 0.0
    gaps = observed.gap_steps
    inside = gaps[(gaps >= changes[0]) & (gaps < changes[-1])]
    unseen = float((percent[inside + 1] - percent[inside]).sum())
    return float(percent[changes[-1]] - percent[changes[0]]) - unseen


def _find_jumps(observed: Observed, knots: Rows, percent: Floats,
                charge_ah: Floats) -> tuple[Jump, ...]:
    """Jumps between knots: single steps, or a rush of steps, that the charge does not explain."""
    per_point = _ah_per_point(percent, charge_ah)
    unexplained = percent - (charge_ah / per_point if per_point > 0 else 0.0)
    time_s = observed.time_s[knots]
    jumps: list[Jump] = []
    done = 0
    starts, reaches = _starts_of_jumps(time_s, unexplained)
    for k, reach in zip(starts.tolist(), reaches.tolist(), strict=True):
        if k < done:
            continue
        shift = np.abs(unexplained[k + 1: reach] - unexplained[k])
        if shift.max() < JUMP_POINTS:
            continue
        done = k + 1 + int(np.argmax(shift >= shift.max() - 1.0))
        # A percent that stands still (held at 100 while a charge goes on) has not jumped.
        if abs(percent[done] - percent[k]) < JUMP_POINTS:
            continue
        first, done = _sharpest(percent, k, done)
        # A change happens in the one step before its row, however long the percent stood still.
        start = knots[first + 1] - 1
        gaps = np.searchsorted(observed.gap_steps, [start, knots[done]])
        jumps.append(Jump(float(observed.time_s[start]), float(time_s[done]),
                          float(percent[first]), float(percent[done]),
                          float(charge_ah[done] - charge_ah[first]), bool(gaps[1] > gaps[0])))
    return tuple(jumps)


def _starts_of_jumps(time_s: Floats, unexplained: Floats) -> tuple[Rows, Rows]:
    """Knots at which a jump may begin, and the first knot beyond what it may be spread over."""
    steps = np.abs(np.diff(unexplained))
    starts = np.flatnonzero(steps >= 0.5)
    reaches = np.searchsorted(time_s, time_s[starts + 1] + JUMP_SPREAD_S, side="right")
    # A shift is no larger than the steps that lead to it, one by one, add up to.
    travelled = np.concatenate(([0.0], np.cumsum(steps)))
    may = travelled[reaches - 1] - travelled[starts] > JUMP_POINTS - 0.01
    return starts[may], reaches[may]


def _sharpest(percent: Floats, k: int, done: int) -> tuple[int, int]:
    """The one step that makes up most of a jump, if there is one; else the whole of it."""
    steps = np.abs(np.diff(percent[k: done + 1]))
    largest = int(np.argmax(steps))
    if steps[largest] < max(JUMP_POINTS, 0.75 * abs(percent[done] - percent[k])):
        return k, done
    return k + largest, k + largest + 1


def _ah_per_point(percent: Floats, charge_ah: Floats) -> float:
    """Counted charge per point: the median over pieces of the log, which jumps hardly move."""
    inner = np.arange(1, len(percent) - 1)
    ends = inner[np.unique(np.linspace(0, len(inner) - 1, _PIECES + 1).astype(np.intp))] if (
        len(inner)) else inner
    points, moved = np.diff(percent[ends]), np.diff(charge_ah[ends])
    usable = np.abs(points) > 0
    if np.count_nonzero(usable) < 3:
        return 0.0
    order = np.argsort(moved[usable] / points[usable])
    weight = np.cumsum(np.abs(moved[usable][order]))
    middle = order[int(np.searchsorted(weight, weight[-1] / 2))]
    return float((moved[usable] / points[usable])[middle])


def _capacity(observed: Observed, changes: Rows, seen_points: float, charge_ah: Floats,
              jumps: tuple[Jump, ...], step: float, instrument: Instrument) -> Answer:
    if len(changes) < 2:
        return NoEstimate("the percent did not change twice", "log a longer drive")
    heard = [jump for jump in jumps if not jump.in_gap]
    points = seen_points - sum(j.to_pct - j.from_pct for j in heard)
    moved = float(charge_ah[-1] - charge_ah[0]) - sum(j.counted_ah for j in heard)
    if abs(points) < SWING_MIN_POINTS:
        return NoEstimate(f"the percent moved by {abs(points):.0f} points only",
                          "log a drive that takes at least 5 points")
    if points * moved <= 0:
        return NoEstimate("percent and counted charge move against each other",
                          "look at the sign of the amps")
    seconds = float(observed.time_s[changes[-1]] - observed.time_s[changes[0]])
    counted = charge_budget(moved, seconds, instrument)
    # At a change the display is right to about half a step; both ends and each jump count.
    ends = Budget({"ends": step / 2 / 3**0.5 * (2 + 2 * len(jumps))**0.5})
    value = moved / points * 100
    relative = 2 * ((counted.combined / moved)**2 + (ends.combined / points)**2)**0.5
    return Estimate(value, value * max(0.0, 1 - relative), value * (1 + relative), "Ah")
