"""A monitor against a meter: the zero error and the gain, from pairs of readings.

A clamp meter or voltmeter that a person reads while a log is being recorded gives pairs. A line
through them says what the monitor shows at zero, and how much it shows of what flows. What the
meter itself may be wrong by is part of the interval.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from ..estimate import Estimate, NoEstimate, Verdict
from ..fitting.line_fit import LineFit, least_squares
from ..fitting.student import t_quantile
from ..telemetry import Floats

#: A gain beyond these is no gain but a mistake: another unit, another cable.
GAIN_RANGE: Final = (0.5, 2.0)
#: Pairs that scatter by more than this many ``pair_sd`` were not read at the same moments.
SCATTER_MAX: Final = 5.0
_COVERAGE: Final = 0.95
_NORMAL: Final = 1.959964
_RECTANGULAR: Final = math.sqrt(3)


@dataclass(frozen=True, slots=True)
class Meter:
    """What a meter may be wrong by: half widths, each equally likely within."""

    unit: str
    #: Of the reading.
    gain: float
    #: At zero. [unit]
    zero: float
    #: Smallest step of meter and monitor together, and how far apart in time the two were read
    #: makes the figures differ: the standard deviation of one pair. [unit]
    pair_sd: float


#: Usual hand meters, a clamp zeroed right before the reading (common practice, no source).
CLAMP: Final = Meter("A", 0.02, 0.3, 0.2)
VOLTMETER: Final = Meter("V", 0.005, 0.02, 0.03)


@dataclass(frozen=True, slots=True)
class MeterCheck:
    """What the pairs say about the monitor, and the correction they support."""

    pairs: int
    unit: str
    #: What the monitor shows where the meter shows nothing.
    zero: Estimate
    #: True over shown.
    gain: Estimate
    #: Whether the meter lay the other way round and its sign was turned.
    is_turned: bool
    #: Scatter of the pairs about the line. [unit]
    scatter: float

    @property
    def proposed_zero(self) -> float:
        """The zero error, nothing where the pairs cannot tell it from that."""
        return 0.0 if self.zero.low <= 0 <= self.zero.high else self.zero.value

    @property
    def proposed_gain(self) -> float:
        """The gain, one where the pairs cannot tell it from that."""
        return 1.0 if self.gain.low <= 1 <= self.gain.high else self.gain.value

    @property
    def verdict(self) -> Verdict:
        """Whether there is something to correct."""
        return "yes" if (self.proposed_zero, self.proposed_gain) != (0.0, 1.0) else "no"

    @property
    def words(self) -> str:
        """The finding in a sentence or two."""
        zero, gain, unit = self.zero, self.gain, self.unit
        parts = [f"{self.pairs} pairs: at zero the monitor shows {zero.value:+.2f} "
                 f"(± {zero.half_width:.2f}) {unit}, and true over shown is {gain.value:.3f} "
                 f"(± {gain.half_width:.3f})"]
        if self.is_turned:
            parts.append("the meter lay the other way round; its sign was turned")
        if self.verdict == "no":
            parts.append("that is within what meter and monitor may differ by: "
                         "nothing to correct")
        return "; ".join(parts)

    def as_json(self) -> dict[str, Any]:
        return {"pairs": self.pairs, "verdict": self.verdict, "words": self.words,
                "zero": self.zero.as_json(), "gain": self.gain.as_json(),
                "scatter": self.scatter, "is_turned": self.is_turned,
                "proposed": {"zero": self.proposed_zero, "gain": self.proposed_gain}}


def check_against_meter(shown: Floats, measured: Floats, meter: Meter) -> MeterCheck | NoEstimate:
    """Zero error and gain of a monitor.

    Parameters
    ----------
    shown, measured
        The monitor's figures and the meter's at the same moments, shape (n,), no NaN; the
        monitor's in its own sign, the meter's in either.

    Notes
    -----
    The line ``measured = gain (shown - zero)`` by least squares. Its interval combines the
    scatter of the pairs (Student's t, and not less than ``meter.pair_sd``) with the meter's own
    gain and zero (JCGM 100:2008, 4.3.7 and 5.1.2). The uncertainty of the zero is that of the
    line where it crosses zero, covariance included (JCGM 100:2008, H.3).
    """
    if not len(shown):
        return NoEstimate("no reading by meter was noted while a log was being recorded",
                          "read the meter twice while it records, once at rest, once under load, "
                          "and note each")
    span = float(np.ptp(shown))
    if len(shown) < 2 or span < 10 * meter.pair_sd:
        pairs = "one pair that spans" if len(shown) == 1 else f"{len(shown)} pairs that span"
        return NoEstimate(f"{pairs} {span:.1f} {meter.unit}",
                          f"read the meter again at a reading at least {10 * meter.pair_sd:.1f} "
                          f"{meter.unit} away: once at rest, once under load")
    is_turned = bool(np.polyfit(shown, measured, 1)[0] < 0)
    truth = -measured if is_turned else measured
    fit = _fitted(np.column_stack([np.ones(len(shown)), shown]), truth, meter)
    slope = float(fit.coefficients[1])
    if not GAIN_RANGE[0] <= slope <= GAIN_RANGE[1]:
        return NoEstimate(f"the meter shows {slope:.2f} times what the monitor shows",
                          "look whether both measure the same cable, in the same unit")
    scatter = float(np.std(truth - fit.coefficients[0] - slope * shown))
    if scatter > SCATTER_MAX * meter.pair_sd:
        return NoEstimate(f"the pairs scatter by {scatter:.1f} {meter.unit} about a line",
                          "read the meter while the figures stand still: parked with one load on, "
                          "or on the charger")
    crossing = -float(fit.coefficients[0]) / slope
    zero = _interval(crossing, fit.at(1.0, crossing)[1] / slope, fit.freedom,
                     meter.zero / slope, meter.unit)
    gain = _interval(slope, math.sqrt(float(fit.covariance[1, 1])), fit.freedom,
                     meter.gain * slope, "")
    return MeterCheck(len(shown), meter.unit, zero, gain, is_turned, scatter)


def _fitted(design: Floats, truth: Floats, meter: Meter) -> LineFit:
    """Least squares, the pairs no better than meter and monitor can be read."""
    known = least_squares(design, truth, np.full(len(truth), meter.pair_sd))
    if len(truth) <= design.shape[1]:
        return known
    learnt = least_squares(design, truth)
    return learnt if learnt.scatter > meter.pair_sd else known


def _interval(value: float, sd: float, freedom: float, meter_half: float, unit: str) -> Estimate:
    scatter = t_quantile((1 + _COVERAGE) / 2, freedom) * sd
    return Estimate.around(value, math.hypot(scatter, _NORMAL * meter_half / _RECTANGULAR), unit,
                           _COVERAGE)
