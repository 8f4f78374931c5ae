"""The pattern in which resistances of cells come and go together, taken off them.

Cells keep their places in a pack, and with them which are the warm ones. How much warmer they are
differs from day to day, so that ratios of cells part and close in one pattern. What one cell does
beyond that pattern is its own.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from ..telemetry import Floats

#: Fewer cells do not tell their pattern surely enough. Chosen here, on invented packs.
CELLS_MIN: Final = 8


def without_day_pattern(before: Floats, now: Floats) -> tuple[Floats, Floats]:
    """Each cell's figures of two spells, less what its mates tell of the day.

    Parameters
    ----------
    before, now
        One row a log, one column a cell; as many rows in both. A column with NaN, and all columns
        where few are whole, are given back as they are.

    Notes
    -----
    For each cell the pattern of the others is the first right singular vector ``w`` of their
    figures less the means of either spell, those of a cell that moves more than the middle one
    made as small, and ``u = Y w`` says how strong it was in each log of a spell. How much stronger
    it was in one spell than in the other is the slope of the cells' changes on ``w`` with the
    least absolute misfit, so that a few that changed for good do not turn it. The cell's own share
    ``g`` is the least-squares slope on ``u`` within the spells; ``g u`` is taken off.
    """
    table = np.concatenate([before, now])
    whole = np.flatnonzero(np.isfinite(table).all(axis=0))
    if len(whole) >= CELLS_MIN and len(before) > 2:
        table[:, whole] -= _shared(table[:, whole])
    return table[: len(before)], table[len(before):]


def _shared(figures: Floats) -> Floats:
    """What each cell shares in the pattern of the others, shaped as ``figures``."""
    before, now = np.split(figures, 2)
    within = np.concatenate([before - before.mean(axis=0), now - now.mean(axis=0)])
    strength = np.sqrt(np.square(within).mean(axis=0))
    # A loose lead goes its own way by far more than the days make all cells go.
    scale = np.median(strength) / np.maximum(strength, max(np.median(strength), 1e-12))
    change = now.mean(axis=0) - before.mean(axis=0)
    spell = np.repeat([-0.5, 0.5], len(before))
    shared = np.empty_like(figures)
    for cell in range(figures.shape[1]):
        others = np.arange(figures.shape[1]) != cell
        mates = within[:, others] * scale[others]
        pattern = np.linalg.svd(mates, full_matrices=False)[2][0]
        days = mates @ pattern
        power = float(np.square(days).sum())
        share = float((within[:, cell] * days).sum()) / power if power > 0 else 0.0
        shared[:, cell] = share * (days + _slope(pattern, (change * scale)[others]) * spell)
    return shared


def _slope(x: Floats, y: Floats) -> float:
    """The slope through zero with the least sum of absolute misfits: a weighted median."""
    x, y = x[x != 0], y[x != 0]
    order = np.argsort(y / x)
    weight = np.cumsum(np.abs(x[order]))
    return float((y / x)[order[np.searchsorted(weight, weight[-1] / 2)]]) if len(x) else 0.0
