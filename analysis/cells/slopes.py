"""Each cell's own resistance and the scatter that is left, from ordinary driving."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..telemetry import Floats
from ..timebase import Observed

#: Slower movement than this is charge and settling, not resistance. [s]
HIGH_PASS_S: Final = 20.0
#: A stretch without gaps must have this many rows.
ROWS_MIN: Final = 30
#: Amps must move by this much (one standard deviation, high-passed). [A]
MOVING_A: Final = 1.0
#: At least so many rows must share in that movement: one lonely step is told by the settling too.
MOVES_MIN: Final = 30.0
_MAD: Final = 1.4826


@dataclass(frozen=True, slots=True)
class CellSlopes:
    """Per cell, shape (cells,); NaN where the amps hardly moved."""

    #: Volts felt for each amp within seconds. [mohm]
    resistance_mohm: Floats
    #: Standard deviation of its difference from the median cell. [mohm]
    sd_mohm: Floats
    #: Scatter of the deviation from the median cell that the amps do not explain. [mV]
    noise_mv: Floats
    #: Correlation of that scatter with the next cell's; 0 for the last.
    noise_with_next: Floats


def median_cell_v(cell_v: Floats) -> Floats:
    """The median cell at each moment; shape (cells, n), no NaN. [V]"""
    ordered = np.sort(cell_v, axis=0)  # a few cells are sorted sooner than their middle is picked
    cells = len(cell_v)
    return np.asarray((ordered[(cells - 1) // 2] + ordered[cells // 2]) / 2)


def cell_slopes(amps: Floats, cell_v: Floats, median_v: Floats, seen: Observed) -> CellSlopes:
    """Regress each cell's volts on the amps, both without their slow movement.

    Parameters
    ----------
    amps, cell_v, median_v
        At the observed rows, shapes (n,), (cells, n) and (n,); amps positive into the pack.

    Notes
    -----
    The median cell gives the common slope; each cell's deviation from it gives its own, so that
    what all cells share (the open-circuit volts, warmth) drops out. The standard deviation
    counts one independent figure in ``HIGH_PASS_S`` / 4.
    """
    step_s = seen.usual_s
    runs = [slice(a, b) for a, b in seen.runs() if b - a >= ROWS_MIN]
    if not runs or not step_s < HIGH_PASS_S:
        return _slow_slopes(amps, cell_v, median_v, seen)
    rows = max(2, round(HIGH_PASS_S / step_s))
    told = np.vstack([amps, median_v, cell_v - median_v])
    quick = np.concatenate([_without_slow(told[:, run], rows) for run in runs], axis=1)
    return _regress(quick[0], quick[1], quick[2:], max(1.0, HIGH_PASS_S / 4 / step_s))


def _without_slow(values: Floats, rows: int) -> Floats:
    """Series, shape (m, n), less their mean over the rows before each row; fewer at the start."""
    total = np.cumsum(values, axis=1)
    slow = total.copy()
    slow[:, rows:] -= total[:, :-rows]
    slow /= np.minimum(np.arange(1, slow.shape[1] + 1), rows)
    return np.asarray(np.subtract(values, slow, out=slow))


def _slow_slopes(amps: Floats, cell_v: Floats, median_v: Floats, seen: Observed) -> CellSlopes:
    """The same from differences between rows, where a row comes less than every 20 s."""
    whole = seen.width_s > 0
    if whole.sum() < ROWS_MIN:
        missing = np.full(len(cell_v), np.nan)
        return CellSlopes(missing, missing, missing, np.zeros(len(cell_v)))
    return _regress(np.diff(amps)[whole], np.diff(median_v)[whole],
                    np.diff(cell_v - median_v)[:, whole], 1.0)


def _regress(x: Floats, common: Floats, own: Floats, related: float) -> CellSlopes:
    x = x - x.mean()
    # Sums, not @: for two long rows that would wake threads which cost more than they save.
    power, answer = float(np.square(x).sum()), float((x * common).sum())
    rest = own - own.mean(axis=1)[:, None]
    shared = power ** 2 / max(float((x ** 4).sum()), 1e-12)
    if power < MOVING_A ** 2 * len(x) or shared < MOVES_MIN or answer <= 0:
        missing = np.full(len(own), np.nan)
        return CellSlopes(missing, missing, *_scatter(rest))
    slope = rest @ x / power
    rest -= np.outer(slope, x)
    sd = rest.std(axis=1) * np.sqrt(related / power)
    return CellSlopes((answer / power + slope) * 1000, sd * 1000, *_scatter(rest))


def _scatter(rest: Floats) -> tuple[Floats, Floats]:
    """Robust scatter, and how it goes with the next cell's: a cell read a moment later than its
    mates is off at each step of the amps, a loose tap all the time."""
    noise = _MAD * np.median(np.abs(rest), axis=1, overwrite_input=True)
    held = np.clip(rest, -3 * noise[:, None], 3 * noise[:, None])
    spread = held.std(axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        joint = (held[1:] * held[:-1]).mean(axis=1) / (spread[1:] * spread[:-1])
    return noise * 1000, np.append(np.nan_to_num(joint), 0.0)
