"""A line through scattered points that a few bad ones cannot bend."""

from __future__ import annotations

from typing import Final

import numpy as np

from ..telemetry import Floats

#: Median absolute deviation to standard deviation, for normal scatter.
_MAD: Final = 1.4826
#: Pairs looked at at most.
_POINTS_MAX: Final = 300


def robust_slope(x: Floats, y: Floats) -> tuple[float, float]:
    """Median of the slopes of all pairs of points, and its standard deviation.

    Parameters
    ----------
    x, y
        At least three points, not all at one ``x``; no NaN. Of more than 300, evenly spread ones.

    Notes
    -----
    Theil's estimator. The standard deviation is that of least squares with the scatter taken from
    the median absolute residual, widened by 1.05 for the estimator's efficiency of about 0.91.

    References
    ----------
    .. [1] H. Theil, "A rank-invariant method of linear and polynomial regression analysis",
       Proc. Kon. Ned. Akad. Wetensch. A 53 (1950) (from memory).
    """
    if len(x) > _POINTS_MAX:
        picks = np.linspace(0, len(x) - 1, _POINTS_MAX).astype(int)
        x, y = x[picks], y[picks]
    first, second = np.triu_indices(len(x), 1)
    apart = x[second] != x[first]
    slope = float(np.median((y[second] - y[first])[apart] / (x[second] - x[first])[apart]))
    rest = y - slope * x
    scatter = _MAD * float(np.median(np.abs(rest - np.median(rest))))
    scatter *= np.sqrt(len(x) / max(len(x) - 2, 1))
    return slope, 1.05 * scatter / float(np.sqrt(np.square(x - x.mean()).sum()))
