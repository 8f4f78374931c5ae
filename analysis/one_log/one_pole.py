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
        ``x``, shape (n,), no NaN.
    pole
        Between 0 and 1.

    Notes
    -----
    In blocks: ``y_k = pole^k (y_before + sum x_j pole^-j)`` over the block's own rows is a running
    sum, and only the ends of the blocks are followed one by one.
    """
    length = min(len(drive), max(1, int(math.log(_FADED) / math.log(pole))))
    if not length:
        return np.empty(0)
    count = -(-len(drive) // length)
    fading = pole ** np.arange(1.0, length + 1)
    filtered = np.zeros(count * length)
    filtered[: len(drive)] = drive
    blocks = filtered.reshape(count, length)
    blocks /= fading
    np.cumsum(blocks, axis=1, out=blocks)
    blocks *= fading
    before, ends = 0.0, np.empty((count, 1))
    for k, end in enumerate(blocks[:, -1].tolist()):
        ends[k] = before
        before = end + before * float(fading[-1])
    blocks += ends * fading
    return filtered[: len(drive)]


def high_pass(values: Floats, time_constant_steps: float) -> Floats:
    """A one-pole high pass, ``y_k = a (y_(k-1) + x_k - x_(k-1))``.

    One shorter than the input, for it works on differences.
    """
    pole = time_constant_steps / (time_constant_steps + 1)
    return one_pole(pole * np.diff(values), pole)
