"""One iron-phosphate cell: open-circuit volts, resistance with temperature, polarisation.

The open-circuit curve is the difference of two published electrode functions:

    U(s) = U_c(y) - U_a(x),   x = 0.0085 + 0.7715 s,   y = 0.916 - 0.871 s

with ``s`` the state of charge from 0 to 1. Outside that range, where the functions no longer
hold, the curve goes on as a straight line of 0.4 V per percent: a cell's volts run away steeply
at both ends (common practice, no source for the slope).

References
----------
.. [1] M. Safari, C. Delacourt, "Modeling of a commercial graphite/LiFePO4 cell",
   J. Electrochem. Soc. 158 (2011) A562: the electrode functions.
.. [2] M. Schimpe et al., "Comprehensive modeling of temperature-dependent degradation mechanisms
   in lithium iron phosphate batteries", J. Electrochem. Soc. 165 (2018) A181: the windows.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: Temperature at which resistance and capacity are stated. [degC]
REFERENCE_C: Final = 20.0
#: Slope of the open-circuit curve outside 0..1. [V per unit of state of charge]
WALL_V: Final = 40.0
#: Arrhenius temperature of a cell's resistance; with leads that stay as they are, it makes the
#: pack 45 % stiffer at 3 degC than at 20 degC. [K]
ARRHENIUS_K: Final = 2554.0
#: Capacity lost for each kelvin below the reference: 7 % at 3 degC.
COLD_LOSS_PER_K: Final = 0.07 / 17
_ZERO_C_K: Final = 273.15
#: Exponents that ``one_pole`` handles in one go without overflow.
_BLOCK_EXPONENT: Final = 200.0


@dataclass(frozen=True, slots=True)
class Polarisation:
    """One relaxation of a cell: it adds ``resistance_mohm`` at steady amps after ``time_s``.

    Values chosen here: a 100 Ah cell that sags about half as much again within a minute and
    once more within ten.
    """

    resistance_mohm: float
    time_s: float


FAST: Final = Polarisation(0.25, 15.0)
SLOW: Final = Polarisation(0.60, 300.0)
#: Half the gap between the charge and the discharge branch at rest, and the charge that
#: carries a cell from one to the other. Chosen here: a few millivolts.
HYSTERESIS_V: Final = 0.004
HYSTERESIS_AH: Final = 2.0


def anode_v(x: Floats | float) -> Floats:
    """Graphite volts at lithium content ``x`` (Safari and Delacourt 2011). [V]"""
    x = np.asarray(x, dtype=float)
    return np.asarray(
        0.6379 + 0.5416 * np.exp(-305.5309 * x) + 0.044 * np.tanh(-(x - 0.1958) / 0.1088)
        - 0.1978 * np.tanh((x - 1.0571) / 0.0854) - 0.6875 * np.tanh((x + 0.0117) / 0.0529)
        - 0.0175 * np.tanh((x - 0.5692) / 0.0875))


def cathode_v(y: Floats | float) -> Floats:
    """Iron-phosphate volts at lithium content ``y`` (Safari and Delacourt 2011). [V]"""
    vacant = 1 - np.asarray(y, dtype=float)
    return np.asarray(
        3.4323 - 0.8428 * np.exp(-80.2493 * vacant ** 1.3198)
        - 3.2474e-6 * np.exp(20.2645 * vacant ** 3.8003)
        + 3.2482e-6 * np.exp(20.2646 * vacant ** 3.7995))


def _curve() -> tuple[Floats, Floats]:
    """Knots of the open-circuit curve, denser where it bends, with a wall at each end."""
    soc = np.unique(np.concatenate([np.linspace(0, 1, 1001), np.linspace(0, 0.05, 501),
                                    np.linspace(0.95, 1, 501)]))
    volts = cathode_v(0.916 - 0.871 * soc) - anode_v(0.0085 + 0.7715 * soc)
    soc = np.concatenate([[-0.05], soc, [1.05]])
    return soc, np.concatenate([[volts[0] - 0.05 * WALL_V], volts, [volts[-1] + 0.05 * WALL_V]])


_SOC, _VOLTS = _curve()


def open_circuit_v(soc: Floats | float) -> Floats:
    """Volts of a rested cell at a state of charge of 0..1 (a little outside too). [V]"""
    return np.asarray(np.interp(soc, _SOC, _VOLTS))


def open_circuit_slope_v(soc: Floats | float) -> Floats:
    """Slope of the open-circuit curve. [V per unit of state of charge]"""
    step = 5e-4
    return (open_circuit_v(np.asarray(soc) + step) - open_circuit_v(np.asarray(soc) - step)) / (
        2 * step)


def stiffness(temperature_c: Floats | float) -> Floats:
    """How many times a cell's resistance is that at 20 degC (Arrhenius)."""
    kelvin = np.asarray(temperature_c) + _ZERO_C_K
    return np.asarray(np.exp(ARRHENIUS_K * (1 / kelvin - 1 / (REFERENCE_C + _ZERO_C_K))))


def capacity_share(temperature_c: Floats | float) -> Floats:
    """Share of the capacity at 20 degC that a cell gives; colder gives less, warmer no more."""
    return np.asarray(1 - COLD_LOSS_PER_K * np.maximum(0, REFERENCE_C - np.asarray(temperature_c)))


def one_pole(target: Floats, exponent: Floats, start: float) -> Floats:
    """Follow ``target`` with exponential decay, over the whole array at once.

    ``y[k] = y[k-1] e^-d[k] + target[k] (1 - e^-d[k])``, ``y[-1] = start``: an exact
    relaxation under steps of ``d = dt / tau``.

    Parameters
    ----------
    target
        What is followed during each step.
    exponent
        ``d`` of each step, not negative.
    start
        The value before the first step.
    """
    exponent = np.minimum(exponent, _BLOCK_EXPONENT)
    total = np.cumsum(exponent)
    result = np.empty_like(target)
    value, first = start, 0
    while first < len(target):
        base = total[first] - exponent[first]
        end = max(first + 1, int(np.searchsorted(total, base + _BLOCK_EXPONENT, "right")))
        grown = total[first:end] - base
        gain = np.exp(grown) * -np.expm1(-exponent[first:end])
        result[first:end] = np.exp(-grown) * (value + np.cumsum(gain * target[first:end]))
        value, first = float(result[end - 1]), end
    return result
