"""How many amp-hours one cell is ahead of its mates, from the shape of its volts.

Where the volts of an iron-phosphate cell bend, near full and near empty, a cell that is fuller by
``s`` shows at charge ``q`` what its mates show at ``q + s``:

    U_i(q) = M(q + s_i) + c_i

with ``M`` the median of all cells and ``c_i`` a steady error of that cell's figure (its sense
line, its extra resistance at steady amps). Both are found by least squares. In the flat middle
``M`` says nothing about ``s``; the standard deviation says so, and grows without bound.

Under changing amps all cells also move together with the amps, whatever their charge. Compared a
little aside such movement would fit nowhere but at ``s = 0``: leads would look like none, and
sure. There a smooth curve takes the place of ``M``, in it and in every cell; what it left out
says how far volts stray from one curve.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..telemetry import Floats

#: Curves are compared in this many steps over the stretch.
BINS: Final = 60
#: Shifts are tried up to this share of the stretch either way, in steps of this share.
SHIFT_MAX: Final = 0.6
SHIFT_STEP: Final = 0.005
#: What a cell's figure may be wrong by besides noise, one standard deviation: its sense line and
#: its resistance at steady amps. [V]
STEADY_ERROR_V: Final = 0.005
#: What is left between two good curves (scan skew, warmth, history), and over how many bins it
#: lasts. Chosen here, from the scatter of one pack's curves from day to day.
MISFIT_V: Final = 0.0008
MISFIT_BINS: Final = 6.0
#: Degree of the polynomial that is the smooth curve. Chosen here: higher ones follow the amps.
SMOOTH_DEGREE: Final = 4


@dataclass(frozen=True, slots=True)
class Lead:
    """Charge by which each cell is ahead of the median cell, and its standard deviation; NaN
    where the curves cannot tell. Shape (cells,). [Ah]"""

    ahead_ah: Floats
    sd_ah: Floats
    #: How much further from level it may be, with its sign; 0 where curves pull no lead to zero.
    further_ah: Floats


def cell_lead(charge_ah: Floats, cell_v: Floats, *, is_varying: bool = False) -> Lead:
    """Compare the cells' curves over one stretch near full or near empty.

    Parameters
    ----------
    charge_ah
        Charge counted into the pack, rising or falling, shape (n,). [Ah]
    cell_v
        Volts at steady amps, or with the drop of varying amps taken off, shape (n, cells). NaN
        rows are left out. [V]
    is_varying
        Whether what varying amps leave in the volts of all is to be smoothed out.

    Notes
    -----
    Weighted least squares on a grid of shifts, ``c`` solved at each with a normal prior of
    ``STEADY_ERROR_V``; the best is refined by a parabola, whose curvature gives the standard
    deviation. A best shift at the end of the grid is a NaN.
    """
    axis, curves = _binned(charge_ah, cell_v)
    if len(axis) < BINS // 3:
        return _unknown(cell_v.shape[1])
    median, misfit_v = np.median(curves, axis=1), MISFIT_V
    if is_varying:
        smooth = np.polynomial.Polynomial.fit(axis, median, SMOOTH_DEGREE)(axis)
        astray = median - smooth
        curves, median = curves - astray[:, None], smooth
        misfit_v = float(np.hypot(MISFIT_V, astray.std()))
    span = float(axis[-1] - axis[0])
    shifts = np.arange(-SHIFT_MAX, SHIFT_MAX + SHIFT_STEP / 2, SHIFT_STEP) * span
    return _lowest(shifts, _costs(axis, curves, median, shifts, misfit_v))


def _binned(charge_ah: Floats, cell_v: Floats) -> tuple[Floats, Floats]:
    """Bin centres that hold figures, rising, and the cells' mean volts in them."""
    whole = np.isfinite(charge_ah) & np.isfinite(cell_v).all(axis=1)
    charge_ah, cell_v = charge_ah[whole], cell_v[whole]
    if len(charge_ah) < BINS or np.ptp(charge_ah) <= 0:
        return np.empty(0), np.empty((0, cell_v.shape[1]))
    edges = np.linspace(charge_ah.min(), charge_ah.max(), BINS + 1)
    place = np.clip(np.searchsorted(edges, charge_ah, side="right") - 1, 0, BINS - 1)
    count = np.bincount(place, minlength=BINS)
    sums = np.stack([np.bincount(place, cell_v[:, k], BINS) for k in range(cell_v.shape[1])], 1)
    held = count > 0
    return ((edges[1:] + edges[:-1]) / 2)[held], sums[held] / count[held, None]


def _costs(axis: Floats, curves: Floats, median: Floats, shifts: Floats,
           misfit_v: float) -> Floats:
    """Half the chi-square of each shift and cell, shape (shifts, cells)."""
    weight = 1 / (misfit_v ** 2 * MISFIT_BINS)
    level = float(median.mean())  # taken off, for squares of volts would swamp millivolts
    curves, median = curves - level, median - level
    moved = axis + shifts[:, None]
    inside = ((moved >= axis[0]) & (moved <= axis[-1])).astype(float)
    mates = np.interp(moved, axis, median) * inside
    count = inside.sum(axis=1)[:, None]
    total = inside @ curves - mates.sum(axis=1)[:, None]
    squares = inside @ curves ** 2 - 2 * mates @ curves + (mates ** 2).sum(axis=1)[:, None]
    steady = total * weight / (count * weight + STEADY_ERROR_V ** -2)
    misfit = squares - 2 * steady * total + count * steady ** 2
    cost = (misfit * weight + (steady / STEADY_ERROR_V) ** 2) / 2
    # A shift that leaves fewer bins in common must not win by having less to explain.
    return np.where(count >= len(axis) // 3, cost * len(axis) / np.maximum(count, 1), np.inf)


def _lowest(shifts: Floats, cost: Floats) -> Lead:
    cells = np.arange(cost.shape[1])
    best = np.argmin(cost, axis=0)
    inner = np.clip(best, 1, len(shifts) - 2)
    before, here, after = (cost[inner + k, cells] for k in (-1, 0, 1))
    with np.errstate(invalid="ignore", divide="ignore"):
        bend = before - 2 * here + after
        step = shifts[1] - shifts[0]
        ahead = shifts[inner] + step * np.clip((before - after) / (2 * bend), -1, 1)
        # A poor fit at its best widens the interval as its chi-square says.
        sd = step / np.sqrt(bend) * np.sqrt(np.maximum(1.0, 2 * here / (BINS / MISFIT_BINS)))
    known = (best == inner) & np.isfinite(bend) & (bend > 0)
    return Lead(np.where(known, ahead, np.nan), np.where(known, sd, np.nan), np.zeros(len(cells)))


def _unknown(cells: int) -> Lead:
    return Lead(np.full(cells, np.nan), np.full(cells, np.nan), np.zeros(cells))
