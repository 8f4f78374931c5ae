"""One-pole filters of evenly spaced figures, in time that grows with the log and no more memory."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from ..telemetry import Floats

#: Within a block a response fades to this share: weights that span more would lose digits.
_FADED: Final = 1e-9


def one_pole(drive: Floats, pole: float) -> Floats:
    """``y_k = pole y_(k-1) + x_k``, from rest.

    Parameters
    ----------
    drive
        ``x``, shape (..., n), no NaN; each row is filtered by itself.
    pole
        Between 0 and 1.

    Notes
    -----
    In blocks: ``y_k = pole^k (y_before + sum x_j pole^-j)`` over the block's own rows is a running
    sum. What comes before the last two blocks has faded to less than a double holds.
    """
    rows = drive.shape[-1]
    if not rows:
        return np.empty(drive.shape)
    length = min(rows, math.ceil(math.log(_FADED) / math.log(pole)))
    count = -(-rows // length)
    fading = pole ** np.arange(1.0, length + 1)
    filtered = np.zeros((*drive.shape[:-1], count * length))
    filtered[..., :rows] = drive
    blocks = filtered.reshape(*drive.shape[:-1], count, length)
    blocks /= fading
    np.cumsum(blocks, axis=-1, out=blocks)
    blocks *= fading
    if count > 1:
        before = blocks[..., :-1, -1:].copy()
        before[..., 1:, :] += fading[-1] * blocks[..., :-2, -1:]
        blocks[..., 1:, :] += before * fading
    return filtered[..., :rows]


def high_pass(values: Floats, time_constant_steps: float) -> Floats:
    """A one-pole high pass, ``y_k = a (y_(k-1) + x_k - x_(k-1))``, row by row.

    One shorter than the input, for it works on differences.
    """
    pole = time_constant_steps / (time_constant_steps + 1)
    return one_pole(pole * np.diff(values), pole)
