"""Least squares of many sets at once, whose weights are not negative."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..telemetry import Floats

#: Below this share of the largest, a singular value of the equations is rounding.
SINGULAR: Final = 4 * float(np.finfo(float).eps)


def not_negative_fit(gram: Floats, moment: Floats) -> Floats:
    """Least squares whose weights are not negative: terms that come out negative are left out.

    Solves many sets of normal equations at once, shapes (k, m, m) and (k, m); the weights have
    shape (k, m). Where every term comes out negative they are given so: volts that move against
    the amps are no resistance of 0.
    """
    used = np.diagonal(gram, axis1=1, axis2=2) > 0
    weights = np.empty(moment.shape)
    unfit = np.arange(len(moment))
    while len(unfit):
        weights[unfit] = _shortest_fit(gram[unfit], moment[unfit], used[unfit])
        mixed = (weights[unfit] < 0).any(axis=1) & (weights[unfit] > 0).any(axis=1)
        unfit = unfit[mixed]
        used[unfit] &= weights[unfit] > 0
    return weights


def _shortest_fit(gram: Floats, moment: Floats, used: NDArray[np.bool_]) -> Floats:
    """Least squares by the terms in use; the shortest weights where responses hardly differ."""
    size, ways = np.linalg.eigh(np.where(used[:, :, None] & used[:, None, :], gram, 0.0))
    along = np.divide((np.where(used, moment, 0.0)[:, None] @ ways)[:, 0], size,
                      out=np.zeros_like(size), where=size > SINGULAR * size[:, -1:])
    return np.where(used, (ways @ along[..., None])[..., 0], 0.0)
