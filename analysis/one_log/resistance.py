"""Pack resistance from ordinary driving, at 1 s and 10 s after a change of the amps.

``R_d`` is the change of the volts ``d`` seconds after a step of the amps, divided by the step.
In windows with a wide swing the volts are fitted with

    V(t) = a + b t + sum_j r_j E_j(I(t - tau)),  r_j >= 0

where ``E_0`` is the amps and ``E_1..3`` their one-pole responses with 1.5, 8 and 60 s; both sides
are high-passed at 40 s, the drift ``b`` and what the high pass still holds from before are fitted
too, and the skew ``tau`` between the channels is searched on a 0.1 s grid within 1.5 s. Then
``R_d = r_0 + sum r_j (1 - exp(-d / T_j))``.

Skew, not noise, is what spoils a resistance: a plain regression of volts differences is half wrong
at 0.7 s. Where the channels are skewed, the volts answer amps that stand in no row. Straight lines
between rows cut off the bends of a motor's amps, and the figure comes out 7 % too high; curves
swing past the steps of a switch, and it comes out 7 to 14 % too low. The volts tell which of the
two fits, as they tell the skew.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from ..estimate import Answer, Estimate, NoEstimate
from ..fitting.not_negative import SINGULAR, not_negative_fit
from ..telemetry import Floats, Telemetry
from ..timebase import Observed, Rows, observe
from .charge import smallest_step
from .excitation import Window, Windows
from .one_pole import one_pole

TIME_CONSTANTS_S: Final = (1.5, 8.0, 60.0)
HIGH_PASS_S: Final = 40.0
SKEW_MAX_S: Final = 1.5
#: What flowed before a window still works in its volts; its first minute only warms the filters.
SETTLING_S: Final = 60.0
SKEW_STEP_S: Final = 0.1
#: The best skew must fit better than the worst by this much, or the volts do not answer the amps
#: clearly: on three invented seasons drives stood above by 800 and more, and what a single step of
#: a charger or a load told (below 50) was a third off. [nats]
SKEW_TOLD: Final = 100.0
#: From this skew on a resistance is indicative only. [s]
SKEW_TOLERATED_S: Final = 0.15
#: What a skew still does to the 1 s figure where the amps jump between rows; where they run in
#: curves it does half of it.
SKEWED_GAIN: Final = 0.08
WINDOW_S: Final = 300.0
WINDOWS_MAX: Final = 8
#: The skew belongs to the monitor, not to the moment: the widest few tell it.
SKEW_WINDOWS: Final = 4
SWING_MIN_A: Final = 5.0
#: So much of the swing must lie behind the settling, or the fit would be one of noise. [A]
SETTLED_SWING_A: Final = 1.0
#: The volts must move by this many display steps.
STEPS_MIN: Final = 5.0


@dataclass(frozen=True, slots=True)
class Resistance:
    """A pack's resistance, leads and joints included."""

    #: Volts lost per amp one second after a change. [mohm]
    after_1_s: Answer
    #: The same ten seconds after. [mohm]
    after_10_s: Answer
    #: How much later the volts are told than the amps. [s]
    skew_s: float = 0.0
    windows: int = 0

    @property
    def is_indicative(self) -> bool:
        """Whether the channels are so far apart in time that the 1 s figure is only a hint."""
        return abs(self.skew_s) > SKEW_TOLERATED_S


def find_resistance(telemetry: Telemetry, observed: Observed | None = None) -> Resistance:
    """Resistance of the pack from a log.

    Parameters
    ----------
    telemetry
        Amps in packhand's sign; ``current_a`` and ``voltage_v``.
    observed
        ``observe(telemetry, "current_a", "voltage_v")`` if it is at hand.

    Returns
    -------
    Resistance
        The median of the windows, its interval from their scatter (Student's t), from what the
        steps of the volts leave open and, if the channels are skewed, from what skew can do.
    """
    if "current_a" not in telemetry or "voltage_v" not in telemetry:
        return _none("the log does not hold both amps and volts", "log both")
    observed = observed or observe(telemetry, "current_a", "voltage_v")
    amps = observed.pick(telemetry["current_a"])
    volts = observed.pick(telemetry["voltage_v"])
    if not observed.usual_s <= 2.0:
        return _none("samples are more than two seconds apart", "log once a second or faster")
    step_s = min(max(round(observed.usual_s / SKEW_STEP_S) * SKEW_STEP_S, 0.5), 2.0)
    resolution_v = smallest_step(volts)
    cut = Windows.cut(amps, volts, observed, length_s=WINDOW_S, step_s=step_s)
    long = [w for w in cut.widest(WINDOWS_MAX) if len(w.time_s) * step_s >= 2 * SETTLING_S]
    if not long:
        return _none("no two minutes were seen without a gap", "log longer")
    return _of_windows(long, resolution_v)


def _of_windows(long: list[Window], resolution_v: float) -> Resistance:
    """From those windows in which amps and volts move enough."""
    moving = [w for w in long if w.swing_a >= SWING_MIN_A]
    if not moving:
        return _none("the amps hardly change",
                     "drive off hard once or twice from standstill while recording")
    windows = [w for w in moving if np.ptp(w.voltage_v) >= STEPS_MIN * resolution_v]
    if not windows:
        return _none(f"the volts move by less than {STEPS_MIN:.0f} of their steps of "
                     f"{1000 * resolution_v:.3g} mV",
                     "pull harder while recording, or let the monitor tell volts in finer steps")
    prepared = [made for made in _Prepared.together(windows) if made.swing_a >= SETTLED_SWING_A]
    if not prepared:
        return _none("the amps hardly change after their first minute",
                     "drive off hard once or twice later in the drive")
    found = _best_skew(prepared[:SKEW_WINDOWS])
    if found is None:
        return _none("the volts do not answer the amps clearly",
                     "drive off hard once or twice from standstill while recording")
    skew_s, curved = found
    ohms, misfit, gram = _fit(prepared, np.array([skew_s]), curved)
    # Residuals count half, for they are related.
    square_v2 = 2 * misfit / [len(window.volts) for window in prepared]
    at_1_s, at_10_s = (_answer(_after(ohms, after_s), _fit_sd(ohms, gram, square_v2, after_s), gain)
                       for after_s, gain in ((1.0, SKEWED_GAIN if skew_s else 0.0), (10.0, 0.0)))
    return Resistance(at_1_s, at_10_s, skew_s, len(prepared))


def _none(reason: str, todo: str) -> Resistance:
    return Resistance(NoEstimate(reason, todo), NoEstimate(reason, todo))


@dataclass(frozen=True, slots=True)
class _Prepared:
    """One window's volts and responses to the amps, both high-passed."""

    #: Responses on a grid of 0.1 s, with straight lines between the rows, shape (4, n).
    responses: Floats
    #: The amps of the window's rows, and how many grid steps there are between two.
    rows_a: Floats
    parts: int
    #: A drift of the volts and what the high pass holds from before, at the points, shape (2, n).
    slow: Floats
    #: Volts at the window's own points, less those two.
    volts: Floats
    #: Where those points lie on the fine grid.
    points: Rows

    @classmethod
    def together(cls, windows: list[Window]) -> list[_Prepared]:
        """All windows in one go, filled up to the longest: no filter looks ahead."""
        fine = round(windows[0].step_s / SKEW_STEP_S)
        amps, volts = (_high_passed(_refined(_side_by_side(rows), fine)) for rows in (
            [window.current_a for window in windows], [window.voltage_v for window in windows]))
        responses = np.stack([amps, *(_low_passed(amps, t) for t in TIME_CONSTANTS_S)], axis=1)
        settled = math.ceil(SETTLING_S / windows[0].step_s)
        made = []
        for window, answers, told in zip(windows, responses, volts, strict=True):
            points = np.arange(settled, len(window.time_s)) * fine
            points = points[points < (len(window.time_s) - 1) * fine - SKEW_MAX_S / SKEW_STEP_S]
            slow = _slow(len(points), windows[0].step_s)
            seen = told[points]
            made.append(cls(answers, window.current_a, fine, slow, seen - (seen @ slow.T) @ slow,
                            points))
        return made

    @property
    def swing_a(self) -> float:
        """How far the amps reach at the points that are fitted, less what drift and the high
        pass's fading make of them."""
        if not len(self.points):
            return 0.0
        amps = self.responses[0, self.points]
        return float(np.ptp(amps - (amps @ self.slow.T) @ self.slow))

    def equations(self, skews_s: Floats, curved: bool) -> tuple[Floats, Floats, Floats]:
        """The normal equations for each skew: shapes (k, 4, 4), (k, 4) and the squared volts."""
        moved = self.points - np.rint(skews_s / SKEW_STEP_S).astype(np.intp)[:, None]
        basis = self.responses[:, moved].swapaxes(0, 1)
        if curved:
            basis[:, 0] += _curves(self.rows_a, self.parts)[moved]
        held = basis @ self.slow.T
        return (basis @ basis.swapaxes(1, 2) - held @ held.swapaxes(1, 2), basis @ self.volts,
                np.full(len(skews_s), self.volts @ self.volts))


def _side_by_side(columns: list[Floats]) -> Floats:
    """One column a row, the shorter ones with their last figure on."""
    rows = np.empty((len(columns), max(map(len, columns))))
    for row, column in zip(rows, columns, strict=True):
        row[: len(column)], row[len(column):] = column, column[-1]
    return rows


def _refined(values: Floats, parts: int) -> Floats:
    """Rows less their first figures, on a grid so many times as fine, with straight lines."""
    values = values - values[:, :1]
    lines = np.diff(values)[..., None] * (np.arange(1, parts + 1) / parts)
    lines += values[:, :-1, None]
    return np.concatenate([values[:, :1], lines.reshape(len(values), -1)], axis=1)


def _curves(values: Floats, parts: int) -> Floats:
    """How far smooth curves through figures lie above straight lines, on a grid so many times as
    fine.

    Cubics that meet in value and slope; the slopes from the five figures around.
    """
    steps = np.diff(values)
    slopes = np.gradient(values)
    slopes[2:-2] = (8 * (values[3:-1] - values[1:-3]) - values[4:] + values[:-4]) / 12
    way = np.arange(1, parts + 1) / parts
    above = (np.outer(slopes[:-1] - steps, way * (1 - way) ** 2)
             - np.outer(slopes[1:] - steps, way**2 * (1 - way)))
    return np.concatenate([np.zeros(1), above.ravel()])


@lru_cache(maxsize=16)
def _slow(count: int, step_s: float) -> Floats:
    """A constant, which is a steady drift high-passed, and the high pass's own fading.

    Of length 1 and at right angles, shape (2, count).
    """
    fading = np.exp(-np.arange(count) * (step_s / HIGH_PASS_S))
    fading -= fading.mean()
    slow = np.stack([np.full(count, 1 / math.sqrt(count)), fading / math.sqrt(fading @ fading)])
    slow.setflags(write=False)
    return slow


def _high_passed(values: Floats) -> Floats:
    ratio = HIGH_PASS_S / SKEW_STEP_S
    pole = ratio / (ratio + 1)
    return one_pole(pole * np.diff(values, prepend=0.0), pole)


def _low_passed(values: Floats, time_constant_s: float) -> Floats:
    """A one-pole low pass, with straight lines between samples."""
    ratio = time_constant_s / SKEW_STEP_S
    pole = math.exp(-1 / ratio)
    now, before = 1 - ratio * (1 - pole), ratio * (1 - pole) - pole
    drive = now * values
    drive[:, 1:] += before * values[:, :-1]
    return one_pole(drive, pole)


def _fit(windows: list[_Prepared], skews_s: Floats, curved: bool) -> tuple[Floats, Floats, Floats]:
    """Resistances of the four responses [ohm], the misfit [V2] and the equations' matrix [A2],
    window by window, skew by skew."""
    gram, moment, power = map(np.concatenate, zip(
        *(window.equations(skews_s, curved) for window in windows), strict=True))
    ohms = not_negative_fit(gram, moment)
    explained = ohms * (2 * moment - (gram @ ohms[..., None])[..., 0])
    return ohms, np.maximum(power - explained.sum(axis=1), 0.0), gram


def _best_skew(windows: list[_Prepared]) -> tuple[float, bool] | None:
    """The skew that fits all windows best, and whether the amps run in curves between the rows.

    On a coarse grid, then on 0.1 s around its best. ``None`` where all fit about alike: a charger's
    steady amps say nothing, and would be told as a skew at the edge.
    """
    counts = np.array([len(window.volts) for window in windows])

    def misfit(skews_s: Floats, curved: bool = False) -> Floats:
        """Twice the negative log likelihood, but for a constant; residuals count half, for they
        are related."""
        each = _fit(windows, skews_s, curved)[1].reshape(len(windows), -1)
        return np.asarray(counts @ np.log(each + 1e-12))

    grid = np.arange(-SKEW_MAX_S, SKEW_MAX_S + 0.01, 0.5)
    coarse = misfit(grid)
    if np.ptp(coarse) < SKEW_TOLD:
        return None
    fine = grid[np.argmin(coarse)] + np.arange(-0.4, 0.41, SKEW_STEP_S)
    fine = fine[np.abs(fine) <= SKEW_MAX_S + 1e-9]
    straight = misfit(fine)
    skew_s, curved = float(fine[np.argmin(straight)]), False
    if abs(skew_s) > SKEW_STEP_S / 2:
        near = fine[np.abs(fine - skew_s) < 2.5 * SKEW_STEP_S]
        bent = misfit(near, curved=True)
        if bent.min() < straight.min():
            skew_s, curved = float(near[np.argmin(bent)]), True
    return round(skew_s, 1) + 0.0, curved


def _grown(seconds: float) -> Floats:
    """What each response has come to at a time after a step. [parts]"""
    return np.array([1.0, *(1 - math.exp(-seconds / t) for t in TIME_CONSTANTS_S)])


def _after(ohms: Floats, seconds: float) -> Floats:
    """Milliohms at a time after a step, for each window."""
    milliohms: Floats = ohms @ _grown(seconds) * 1000
    return milliohms


def _fit_sd(ohms: Floats, gram: Floats, square_v2: Floats, seconds: float) -> Floats:
    """What rounded volts leave open of it, for each window: ``s^2 g' (E'E)^-1 g``, with the terms
    in use. [mohm]"""
    used = ohms > 0
    spread = np.linalg.pinv(np.where(used[:, :, None] & used[:, None, :], gram, 0.0),
                            rcond=SINGULAR, hermitian=True)
    milliohms: Floats = 1000 * np.sqrt(square_v2 * (spread @ _grown(seconds) @ _grown(seconds)))
    return milliohms


def _answer(milliohms: Floats, fit_sd_mohm: Floats, skewed_gain: float) -> Answer:
    value = float(np.median(milliohms))
    count = len(milliohms)
    if value <= 0:
        return NoEstimate("the volts do not answer the amps", "check that both are of one pack")
    # With few windows their scatter is not known: the 4.5 % seen between real trips stands in.
    scatter = max(float(np.std(milliohms, ddof=1)) if count > 2 else 0.0, 0.045 * value)
    half = math.hypot(STUDENT_T[min(count, len(STUDENT_T)) - 1] * scatter / math.sqrt(count),
                      2 * float(np.linalg.norm(fit_sd_mohm)) / count, skewed_gain * value)
    return Estimate(value, max(0.0, value - half), value + half, "mohm")


#: Student's t for 95 %, by the number of windows; the first two stand in for a scatter that is
#: not measured but known.
STUDENT_T: Final = (2.0, 2.0, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365)
