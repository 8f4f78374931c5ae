"""Pack resistance from ordinary driving, at 1 s and 10 s after a change of the amps.

``R_d`` is the change of the volts ``d`` seconds after a step of the amps, divided by the step.
In windows with a wide swing the volts are fitted with

    V(t) = a + b t + sum_j r_j E_j(I(t - tau)),  r_j >= 0

where ``E_0`` is the amps and ``E_1..3`` their one-pole responses with 1.5, 6 and 30 s; both sides
are high-passed at 40 s, and the skew ``tau`` between the channels is searched on a 0.1 s grid
within 1.5 s. Then ``R_d = r_0 + sum r_j (1 - exp(-d / T_j))``. Skew, not noise, is what spoils a
resistance: a plain regression of volts differences is half wrong at 0.7 s, this fit by 9 %.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..estimate import Answer, Estimate, NoEstimate
from ..telemetry import Floats, Telemetry
from ..timebase import Observed, Rows, observe
from .charge import smallest_step
from .excitation import Window, widest_windows

TIME_CONSTANTS_S: Final = (1.5, 6.0, 30.0)
HIGH_PASS_S: Final = 40.0
SKEW_MAX_S: Final = 1.5
#: What flowed before a window still works in its volts; its first minute only warms the filters.
SETTLING_S: Final = 60.0
SKEW_STEP_S: Final = 0.1
#: From this skew on a resistance is indicative only. [s]
SKEW_TOLERATED_S: Final = 0.15
#: What an unresolved skew may do to the 1 s figure.
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
        The median of the windows, its interval from their scatter (Student's t) and, if the
        channels are skewed, from what skew can do.
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
    long = [w for w in widest_windows(amps, volts, observed, length_s=WINDOW_S, step_s=step_s,
                                      count=WINDOWS_MAX)
            if len(w.time_s) * step_s >= 2 * SETTLING_S]
    if not long:
        return _none("no two minutes were seen without a gap", "log longer")
    windows = [w for w in long if w.swing_a >= SWING_MIN_A
               and np.ptp(w.voltage_v) >= STEPS_MIN * resolution_v]
    if not windows:
        return _none("the amps hardly change",
                     "drive off hard once or twice from standstill while recording")
    prepared = [made for made in map(_Prepared.of, windows) if made.swing_a >= SETTLED_SWING_A]
    if not prepared:
        return _none("the amps hardly change after their first minute",
                     "drive off hard once or twice later in the drive")
    skew_s = _best_skew(prepared[:SKEW_WINDOWS])
    fits = np.array([window.fit(skew_s)[0] for window in prepared])
    return Resistance(_answer(_after(fits, 1.0), skew_s), _answer(_after(fits, 10.0), 0.0),
                      skew_s, len(prepared))


def _none(reason: str, todo: str) -> Resistance:
    return Resistance(NoEstimate(reason, todo), NoEstimate(reason, todo))


@dataclass(frozen=True, slots=True)
class _Prepared:
    """One window's volts and responses to the amps, both high-passed."""

    #: Responses on a grid of 0.1 s, shape (4, n).
    responses: Floats
    #: Volts at the window's own points.
    volts: Floats
    #: Where those points lie on the fine grid.
    points: Rows

    @classmethod
    def of(cls, window: Window) -> _Prepared:
        fine_s = np.arange(window.time_s[0], window.time_s[-1] + 1e-6, SKEW_STEP_S)
        size = _padded(len(fine_s))
        amps, volts = (np.interp(fine_s, window.time_s, values - values[0])
                       for values in (window.current_a, window.voltage_v))
        basis = np.fft.irfft(np.fft.rfft(amps, size) * _responses(len(fine_s)), size)
        answer = np.fft.irfft(np.fft.rfft(volts, size) * _responses(len(fine_s))[0], size)
        settled = math.ceil(SETTLING_S / window.step_s)
        points = np.arange(settled, len(window.time_s)) * round(window.step_s / SKEW_STEP_S)
        points = points[points < len(fine_s) - SKEW_MAX_S / SKEW_STEP_S - 1]
        return cls(basis[:, : len(fine_s)], answer[points], points)

    @property
    def swing_a(self) -> float:
        """How far the high-passed amps reach at the points that are fitted."""
        return float(np.ptp(self.responses[0, self.points])) if len(self.points) else 0.0

    def fit(self, skew_s: float) -> tuple[Floats, float]:
        """Resistances of the four responses, not negative [ohm], and the misfit."""
        return not_negative_fit(self.responses[:, self.points - round(skew_s / SKEW_STEP_S)].T,
                                self.volts)


def _padded(count: int) -> int:
    """A power of two that holds a linear convolution: of odd lengths the transform is slow."""
    return 1 << (2 * count - 1).bit_length()


@lru_cache(maxsize=8)
def _responses(count: int) -> NDArray[np.complex128]:
    """Spectra of the high pass, alone and behind each one-pole low pass, shape (4, n)."""
    ratio = HIGH_PASS_S / SKEW_STEP_S
    pole = ratio / (ratio + 1)
    high_pass = -(1 - pole) * pole ** np.arange(count, dtype=float)
    high_pass[0] = pole
    spectrum = np.fft.rfft(high_pass, _padded(count))
    low = [np.fft.rfft(_one_pole_kernel(t, count), _padded(count)) for t in TIME_CONSTANTS_S]
    return np.stack([spectrum, *(spectrum * each for each in low)])


def _one_pole_kernel(time_constant_s: float, count: int) -> Floats:
    """Response of a one-pole low pass to one sample, with straight lines between samples."""
    ratio = time_constant_s / SKEW_STEP_S
    pole = math.exp(-1 / ratio)
    now, before = 1 - ratio * (1 - pole), ratio * (1 - pole) - pole
    kernel = pole ** (np.arange(count, dtype=float) - 1) * (pole * now + before)
    kernel[0] = now
    return kernel


def not_negative_fit(basis: Floats, target: Floats) -> tuple[Floats, float]:
    """Least squares whose weights are not negative: terms that come out negative are left out.

    Solves the normal equations. Returns the weights and the sum of squared residuals.
    """
    gram, moment = basis.T @ basis, basis.T @ target
    used = np.diag(gram) > 0
    weights = np.zeros(len(moment))
    while used.any():
        # Responses that hardly differ make the equations singular; the shortest answer will do.
        found = np.linalg.lstsq(gram[np.ix_(used, used)], moment[used], rcond=None)[0]
        weights[:] = 0.0
        weights[used] = found
        if (found >= 0).all():
            break
        used &= weights > 0
    misfit = target - basis @ weights
    return weights, float(misfit @ misfit)


def _best_skew(windows: list[_Prepared]) -> float:
    """The skew that fits all windows best: on a coarse grid, then on 0.1 s around its best.

    A skew of one grid step cannot be told from none and is taken as none.
    """
    def misfit(skew_s: float) -> float:
        return sum(len(w.volts) * math.log(w.fit(skew_s)[1] + 1e-12) for w in windows)

    coarse = min(np.arange(-SKEW_MAX_S, SKEW_MAX_S + 0.01, 0.5), key=misfit)
    fine = coarse + np.arange(-0.4, 0.41, SKEW_STEP_S)
    skew_s = float(min(fine[np.abs(fine) <= SKEW_MAX_S + 1e-9], key=misfit))
    return round(skew_s, 1) if abs(skew_s) > SKEW_TOLERATED_S else 0.0


def _after(fits: Floats, seconds: float) -> Floats:
    """Milliohms at a time after a step, for each window."""
    grown = [1.0, *(1 - math.exp(-seconds / t) for t in TIME_CONSTANTS_S)]
    milliohms: Floats = fits @ np.array(grown) * 1000
    return milliohms


def _answer(milliohms: Floats, skew_s: float) -> Answer:
    value = float(np.median(milliohms))
    count = len(milliohms)
    if value <= 0:
        return NoEstimate("the volts do not answer the amps", "check that both are of one pack")
    # With few windows their scatter is not known: the 4.5 % seen between real trips stands in.
    scatter = max(float(np.std(milliohms, ddof=1)) if count > 2 else 0.0, 0.045 * value)
    half = STUDENT_T[min(count, len(STUDENT_T)) - 1] * scatter / math.sqrt(count)
    if abs(skew_s) > SKEW_TOLERATED_S:
        half = math.hypot(half, SKEWED_GAIN * value)
    return Estimate(value, max(0.0, value - half), value + half, "mohm")


#: Student's t for 95 %, by the number of windows; the first two stand in for a scatter that is
#: not measured but known.
STUDENT_T: Final = (2.0, 2.0, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365)
