"""The management board: what it allows, when it opens the path, when it bleeds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from .cell import Floats

Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Limits:
    """What the board protects. Amps as magnitudes."""

    continuous_a: float = 100.0
    peak_a: float = 200.0
    #: Amps above the peak for longer than this open the path. [s]
    peak_s: float = 10.0
    cell_low_v: float = 2.70
    cell_high_v: float = 3.60
    #: No charging below this. [degC]
    charge_min_c: float = 0.0
    #: Bleeding starts above this, while a charger is connected. [V]
    bleed_above_v: float = 3.40
    #: Only cells that stand so far above the lowest are bled. [V]
    bleed_spread_v: float = 0.010
    bleed_a: float = 0.060
    #: No bleeding above these amps: the taps cannot bleed and measure at once. [A]
    bleed_below_a: float = 5.0


LIMITS: Final = Limits()


def bleeding_a(cell_v: Floats, current_a: float) -> Floats:
    """Amps that the board draws from each cell while a charger is connected. [A]

    Parameters
    ----------
    cell_v
        Volts of each cell, shape (cells,). [V]
    current_a
        Pack amps. [A]
    """
    if current_a > LIMITS.bleed_below_a:
        return np.zeros_like(cell_v)
    mark_v = np.maximum(LIMITS.bleed_above_v,
                        cell_v.min() + LIMITS.bleed_spread_v)
    return np.where(cell_v > mark_v, LIMITS.bleed_a, 0.0)


def held_samples(condition: Flags) -> NDArray[np.intp]:
    """For how many samples, the present one included, the condition has held; shape (n,)."""
    index = np.arange(len(condition))
    return index - np.maximum.accumulate(np.where(condition, -1, index))


def over_current_index(current_a: Floats, step_s: float) -> int | None:
    """The last sample before the board opens the path for too many amps, if it does.

    Parameters
    ----------
    current_a
        True pack amps, minus is out, shape (n,). [A]
    """
    return _first(held_samples(current_a < -LIMITS.peak_a) * step_s > LIMITS.peak_s)


def low_cell_index(cell_v: Floats) -> int | None:
    """The last sample before the board opens the path for an empty cell, if it does.

    Parameters
    ----------
    cell_v
        Cell volts, shape (n, cells). [V]
    """
    return _first(cell_v.min(axis=1) < LIMITS.cell_low_v)


def _first(condition: Flags) -> int | None:
    return int(np.argmax(condition)) if condition.any() else None
