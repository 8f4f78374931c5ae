"""What each quantity can do on a small vehicle, so that a trace that cannot be it is left out.

The limits are wide and chosen here: they tell volts from a counter, not a good pack from a bad
one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..record import quantity_of
from .codings import Figures
from .columns import Habits

#: Decimal steps, then steps a monitor might use, each with what it costs in belief. [log10]
_DECIMAL: Final = {1.0: 0.0, 0.1: 0.0, 0.01: 0.0, 0.001: 0.0}
_ROUND: Final = {0.5: 0.7, 0.05: 0.7, 0.25: 1.2, 0.005: 1.2, 0.2: 2.0, 0.02: 2.0, 0.025: 2.0,
                 0.002: 2.0, 0.0025: 2.5, 0.0001: 1.2}
_BINARY: Final = {2.0 ** -n: 1.7 for n in (3, 4, 5, 6, 7, 8, 9, 10)}
# In hundredths it may as well be the amp-hours left of a pack that holds 100.
_PERCENT: Final = {1.0: 0.0, 0.5: 0.3, 0.1: 0.0, 0.01: 0.3, 0.4: 0.6, 0.25: 1.8, 0.2: 1.8,
                   100 / 255: 0.8, 0.05: 1.0, 0.001: 0.5}
_DEGREES: Final = {1.0: 0.0, 0.1: 0.0, 0.5: 0.6, 0.01: 0.3, 0.001: 1.0, 0.25: 1.0, 0.0625: 1.0}
_CELL: Final = {0.001: 0.0, 0.0001: 0.3, 0.01: 0.5, 0.002: 1.0, 0.005: 1.0, 0.02: 1.0}

#: Scales tried for each quantity.
SCALES: Final[Mapping[str, Mapping[float, float]]] = {
    # Millivolts of one cell times 0.02 are the volts of a pack of twenty.
    "voltage_v": _DECIMAL | _ROUND | _BINARY | {0.02: 3.5},
    "current_a": _DECIMAL | _ROUND | _BINARY,
    "soc_pct": _PERCENT,
    "temp_{n}_c": _DEGREES,
    "cell_{n}_v": _CELL | {1.0: 0.0},
}

#: Zero points tried beside 0, each with what it costs in belief. [degrees C]
#: Common practice, no source: whole steps above a round zero, tenths above absolute zero.
_ROUND_ZEROS: Final = {-40.0: 0.3, -50.0: 0.8, -30.0: 0.8, -100.0: 0.8, -20.0: 1.0, -60.0: 1.0,
                       -128.0: 0.8}
#: Whole tenths cannot hold the last five hundredths.
_ABSOLUTE_ZEROS: Final = {-273.1: 0.3, -273.15: 0.9}
_ABSOLUTE_ZERO_WHOLE: Final = {-273.0: 0.8}
#: A round zero costs so much more where steps are finer than this. [log10, degrees C]
_FINE_COST: Final = 1.0
_COARSE_C: Final = 0.5


def zero_points(name: str, scale: float) -> Mapping[float, float]:
    """Offsets of a quantity in steps of this size, each with what it costs. [log10]"""
    if name != "temp_{n}_c":
        return {0.0: 0.0}
    if scale >= _COARSE_C:
        return {0.0: 0.0, **_ROUND_ZEROS, **_ABSOLUTE_ZERO_WHOLE}
    fine = {zero: cost + _FINE_COST for zero, cost in _ROUND_ZEROS.items()}
    return {0.0: 0.0, **fine, **_ABSOLUTE_ZEROS}


#: A temperature's largest mean step, as a share of its range, and in degrees C.
SLOW: Final = (0.1, 0.5)


@dataclass(frozen=True)
class Band:
    """What the values of a quantity may do, given what was typed."""

    low: float
    high: float
    #: Largest mean step between looked-at frames, as a share of the trace's own range ...
    step_share: float
    #: ... and in the unit of the quantity.
    step: float = float("inf")


def band(column: str, typed: Sequence[float]) -> Band:
    """Limits for a quantity of which these figures were typed."""
    least, most = min(typed), max(typed)
    name = quantity_of(column).name
    if name == "voltage_v":
        return Band(0.55 * least, 1.6 * most, 0.25)
    if name == "current_a":
        reach = max(6 * max(abs(least), abs(most)), 400.0)
        return Band(-reach, reach, 0.25)
    if name == "soc_pct":
        return Band(max(-0.6, least - 60), min(102, most + 60), 0.2, 0.6)
    if name == "cell_{n}_v":
        return Band(0.6 * least, 1.6 * most, 0.25)
    return Band(least - 35, most + 35, *SLOW)


def could_be(limits: Band, habits: Habits, scale: float, offset: float) -> NDArray[np.bool_]:
    """Which columns stay within the band at this scale; one entry a place."""
    ends = habits.low * scale + offset, habits.high * scale + offset
    low, high = np.minimum(*ends), np.maximum(*ends)
    step = habits.step * abs(scale)
    calm = step <= np.minimum(limits.step, np.maximum(limits.step_share * (high - low),
                                                      1.01 * abs(scale) * 0.3))
    return habits.is_alive & (low >= limits.low) & (high <= limits.high) & calm


def is_continuous(values: Figures, full_scale: float) -> bool:
    """False for a trace that leaps by half of what fits, as a number read too narrow does."""
    known = values[np.isfinite(values)]
    leaps = np.abs(np.diff(known)) > 0.5 * full_scale
    return len(known) > 0.98 * len(values) and int(leaps.sum()) <= 1 + len(known) // 400
