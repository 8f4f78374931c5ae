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


def cell_slopes(amps: Floats, cell_v: Floats, seen: Observed) -> CellSlopes:
    """Regress each cell's volts on the amps, both without their slow movement.

    Parameters
    ----------
    amps, cell_v
        At the observed rows, shapes (n,) and (n, cells); amps positive into the pack.

    Notes
    -----
    The median cell gives the common slope; each cell's deviation from it gives its own, so that
    what all cells share (the open-circuit volts, warmth) drops out. The standard deviation
    counts one independent figure in ``HIGH_PASS_S`` / 4.
    """
    step_s = seen.usual_s
    runs = [slice(a, b) for a, b in seen.runs() if b - a >= ROWS_MIN]
    if not runs or not step_s < HIGH_PASS_S:
        return _slow_slopes(amps, cell_v, seen)
    rows = max(2, round(HIGH_PASS_S / step_s))
    median = np.median(cell_v, axis=1)
    told = np.column_stack([amps, median, cell_v - median[:, None]])
    quick = np.concatenate([_without_slow(told[run], rows) for run in runs])
    return _regress(quick[:, 0], quick[:, 1], quick[:, 2:],
                    max(1.0, HIGH_PASS_S / 4 / step_s))


def _without_slow(values: Floats, rows: int) -> Floats:
    """Columns less their mean over the rows before each row; fewer at the start."""
    total = np.concatenate([np.zeros((1, values.shape[1])), np.cumsum(values, axis=0)])
    end = np.arange(1, len(values) + 1)
    start = np.maximum(0, end - rows)
    return np.asarray(values - (total[end] - total[start]) / (end - start)[:, None])


def _slow_slopes(amps: Floats, cell_v: Floats, seen: Observed) -> CellSlopes:
    """The same from differences between rows, where a row comes less than every 20 s."""
    whole = seen.width_s > 0
    if whole.sum() < ROWS_MIN:
        missing = np.full(cell_v.shape[1], np.nan)
        return CellSlopes(missing, missing, missing, np.zeros(cell_v.shape[1]))
    median = np.median(cell_v, axis=1)
    return _regress(np.diff(amps)[whole], np.diff(median)[whole],
                    np.diff(cell_v - median[:, None], axis=0)[whole], 1.0)


def _regress(x: Floats, common: Floats, own: Floats, related: float) -> CellSlopes:
    x = x - x.mean()
    power = float(x @ x)
    cells = own.shape[1]
    own = own - own.mean(axis=0)
    shared = power ** 2 / max(float((x ** 4).sum()), 1e-12)
    if power < MOVING_A ** 2 * len(x) or shared < MOVES_MIN or float(x @ common) <= 0:
        missing = np.full(cells, np.nan)
        return CellSlopes(missing, missing, *_scatter(own))
    slope = x @ own / power
    rest = own - np.outer(x, slope)
    sd = rest.std(axis=0) * np.sqrt(related / power)
    return CellSlopes((float(x @ common) / power + slope) * 1000, sd * 1000, *_scatter(rest))


def _scatter(rest: Floats) -> tuple[Floats, Floats]:
    """Robust scatter, and how it goes with the next cell's: a cell read a moment later than its
    mates is off at each step of the amps, a loose tap all the time."""
    noise = _MAD * np.median(np.abs(rest), axis=0)
    held = np.clip(rest, -3 * noise, 3 * noise)
    spread = held.std(axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        joint = (held[:, 1:] * held[:, :-1]).mean(axis=0) / (spread[1:] * spread[:-1])
    return noise * 1000, np.append(np.nan_to_num(joint), 0.0)
