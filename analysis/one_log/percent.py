"""The displayed percent against the counted charge: what 100 % would hold, and jumps.

A displayed percent is a count with corrections. Where it moves without amp-hours it was corrected
(a true full, the knee at the low end, a changed setting, a restart), and a capacity worked out
across such a jump would be wrong; jumps are found first and left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from ..estimate import Answer, Estimate, NoEstimate
from ..telemetry import Floats, Telemetry
from ..timebase import Observed, Rows, observe
from .charge import SECONDS_PER_HOUR, Instrument, charge_budget, smallest_step

#: A step of the percent this much larger than the counted charge explains is a jump. [points]
JUMP_POINTS: Final = 3.0
#: A jump may be spread over this time. [s]
JUMP_SPREAD_S: Final = 60.0
#: The log is judged in this many pieces to learn what one point stands for.
_PIECES: Final = 40
#: A change of more than the charge explains by this has skipped steps: the percent was put there.
#: [steps], and in points where its steps are finer.
SKIP_STEPS, SKIP_POINTS = 1.5, 1.0
#: A capacity from less change than this is not worth telling. [points]
SWING_MIN_POINTS: Final = 5.0
#: Less than this flows in a jump while all is off. [Ah]
STILL_AH: Final = 0.05


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
        flowed = ("hardly any amps flowed: the display was set anew or put itself right"
                  if abs(self.counted_ah) < STILL_AH else
                  f"{abs(self.counted_ah):.1f} Ah went {'in' if self.counted_ah > 0 else 'out'}")
        return f"the percent went from {self.from_pct:.0f} to {self.to_pct:.0f} while {flowed}"


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
    #: Its least step. [points]
    step: float
    #: First rows of a new percent, and the charge counted until then. [Ah]
    changes: Rows
    charge_ah: Floats
    jumps: tuple[Jump, ...]
    #: Of ``changes``: those that were put there, unheard or in a jump, and passed no step.
    placed: Rows

    @property
    def edges(self) -> Floats:
        """The percent at each change: from 64 to 63 and from 63 to 64 both happen at 63.5."""
        return (self.percent[self.changes] + self.percent[self.changes - 1]) / 2

    def stretches(self, least: int) -> list[Rows]:
        """Places in ``changes``, stretch by stretch, with at least so many in each.

        A stretch ends at a gap and at a jump, for the percent moved there without the charge.
        """
        gaps = np.searchsorted(self.changes, self.observed.gap_steps + 1)
        cuts = np.unique(np.concatenate((gaps, self.placed, self.placed + 1)))
        parts = np.split(np.arange(len(self.changes)), cuts)
        is_placed = np.zeros(len(self.changes), bool)
        is_placed[self.placed] = True
        return [part for part in parts if len(part) >= least and not is_placed[part[0]]]


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
    moment of each stretch that neither a jump nor a gap breaks. It says what the display reckons
    with, not what the pack holds.
    """
    course = percent_course(telemetry, like)
    if course is None:
        return None
    answer = _capacity(course, instrument or Instrument())
    return PercentAgreement(float(course.percent[0]), float(course.percent[-1]), course.step,
                            answer, course.jumps)


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
    per_point = _ah_per_point(percent[knots], charge_ah)
    unexplained = percent[knots] - (charge_ah / per_point if per_point > 0 else 0.0)
    jumps = _find_jumps(observed, knots, percent[knots], charge_ah, unexplained)
    step = smallest_step(percent)
    missed = np.minimum(np.abs(np.diff(percent[knots])), np.abs(np.diff(unexplained)))[:-1]
    is_placed = missed > max(SKIP_STEPS * step, SKIP_POINTS)
    is_placed |= np.isin(changes, observed.gap_steps + 1)
    for jump in jumps:
        is_placed |= (observed.time_s[changes] > jump.start_s) & (
            observed.time_s[changes] <= jump.end_s)
    return PercentCourse(observed, percent, step, changes, charge_ah[1:-1], jumps,
                         np.flatnonzero(is_placed))


def _find_jumps(observed: Observed, knots: Rows, percent: Floats, charge_ah: Floats,
                unexplained: Floats) -> tuple[Jump, ...]:
    """Jumps between knots: single steps, or a rush of steps, that the charge does not explain.

    ``unexplained`` is the percent without what the charge moved it.
    """
    time_s = observed.time_s[knots]
    jumps: list[Jump] = []
    done = 0
    starts, reaches = _starts_of_jumps(time_s, unexplained)
    for k, reach in zip(starts.tolist(), reaches.tolist(), strict=True):
        if k < done:
            continue
        shift = np.abs(unexplained[k + 1: reach] - unexplained[k])
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
    """Knots from which the percent shifts that far, and the first knot beyond what a jump may be
    spread over."""
    steps = np.abs(np.diff(unexplained))
    starts = np.flatnonzero(steps >= 0.5)
    reaches = np.searchsorted(time_s, time_s[starts + 1] + JUMP_SPREAD_S, side="right")
    bounds = np.column_stack([starts, reaches]).ravel()
    highest, lowest = (most.reduceat(np.append(unexplained, 0.0), bounds)[::2]
                       for most in (np.maximum, np.minimum))
    shift = np.maximum(highest - unexplained[starts], unexplained[starts] - lowest)
    return starts[shift >= JUMP_POINTS], reaches[shift >= JUMP_POINTS]


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


def _capacity(course: PercentCourse, instrument: Instrument) -> Answer:
    stretches = course.stretches(2)
    if not stretches:
        return NoEstimate("the percent did not change twice", "log a longer drive")
    ends = np.array([(part[0], part[-1]) for part in stretches])
    points, moved, seconds = (np.diff(values[ends])[:, 0] for values in (
        course.edges, course.charge_ah, course.observed.time_s[course.changes]))
    # What went in and what went out tell the same: neither takes away from the other.
    way = np.sign(points)
    swing, charge = float(way @ points), float(way @ moved)
    if swing < SWING_MIN_POINTS:
        return NoEstimate(f"the percent moved by {swing:.0f} points only",
                          "log a drive that takes at least 5 points")
    if charge <= 0:
        return NoEstimate("percent and counted charge move against each other",
                          "look at the sign of the amps")
    counted = charge_budget(charge, abs(float(way @ seconds)), instrument)
    # At a change the display is right to about half a step; both ends of each stretch count.
    crossing = course.step / 2 / 3**0.5 * (2 * len(stretches))**0.5
    value = charge / swing * 100
    relative = 2 * math.hypot(counted.combined / charge, crossing / swing)
    return Estimate(value, value * max(0.0, 1 - relative), value * (1 + relative), "Ah")
