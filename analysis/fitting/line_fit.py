"""Straight fits with their covariance: plain, weighted, and resistant to outliers.

Every fit keeps the covariance of its coefficients, because a prediction without it is wrong: the
errors of intercept and slope lean against each other (JCGM 100:2008, example H.3).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..estimate import Estimate
from ..telemetry import Floats
from .student import t_quantile

#: Residuals beyond this many scales are pulled in (P. J. Huber, *Robust Statistics*, 1981;
#: 95 % efficient on normal errors; from memory).
HUBER_K: Final = 1.345
#: Median absolute deviation to standard deviation of normal errors.
MAD_TO_SD: Final = 1.4826
_ROUNDS: Final = 50


@dataclass(frozen=True)
class LineFit:
    """Coefficients, their covariance, and the scatter about the fit."""

    coefficients: Floats
    covariance: Floats
    #: Standard deviation of one residual; 1 if the errors were known beforehand.
    scatter: float
    #: Degrees of freedom of the scatter; infinite if the errors were known beforehand.
    freedom: float

    def at(self, *row: float) -> tuple[float, float]:
        """Value at a row of the design, and its standard uncertainty, covariance included."""
        x = np.asarray(row)
        return float(x @ self.coefficients), math.sqrt(max(0.0, float(x @ self.covariance @ x)))

    def coefficient(self, number: int, unit: str, coverage: float = 0.95) -> Estimate:
        """A coefficient with its t interval."""
        half = t_quantile((1 + coverage) / 2, self.freedom) * math.sqrt(
            float(self.covariance[number, number]))
        return Estimate.around(float(self.coefficients[number]), half, unit, coverage)


def least_squares(design: Floats, target: Floats, error_sd: Floats | None = None) -> LineFit:
    """Least squares.

    Parameters
    ----------
    design
        One row for each figure, shape (n, p), of full rank.
    target
        Shape (n,); no NaN.
    error_sd
        Standard deviation of each figure if it is known beforehand; the covariance then rests on
        it. By default all are alike and learnt from the scatter, which needs n > p.

    Raises
    ------
    ValueError
        If there are too few figures.
    """
    count, terms = design.shape
    if count < terms + (error_sd is None):
        raise ValueError(f"{count} figures are too few for {terms} coefficients")
    weight = np.ones(count) if error_sd is None else 1 / error_sd
    inverse, found = _solve(design * weight[:, None], target * weight)
    if error_sd is not None:
        return LineFit(found, inverse, 1.0, math.inf)
    residual = target - design @ found
    variance = float(residual @ residual) / (count - terms)
    return LineFit(found, inverse * variance, math.sqrt(variance), float(count - terms))


def huber_fit(design: Floats, target: Floats, least_scatter: float = 0.0) -> LineFit:
    """A fit that a few outliers hardly move.

    Iterated weights on residuals beyond ``HUBER_K`` scales, the scale from their median. The
    covariance is Huber's: ``K^2 [sum psi^2 / (n - p)] / [mean psi']^2 (X'X)^-1``, with ``K`` his
    correction for few figures.

    Parameters
    ----------
    least_scatter
        The figures scatter by this at least, however well they happen to lie.
    """
    count, terms = design.shape
    if count <= terms:
        raise ValueError(f"{count} figures are too few for {terms} coefficients")
    inverse, found = _solve(design, target)
    scale = least_scatter
    for _ in range(_ROUNDS):
        residual = target - design @ found
        spread = MAD_TO_SD * float(np.median(np.abs(residual))) * math.sqrt(count / (count - terms))
        scale = max(spread, least_scatter, 1e-12)
        weight = np.sqrt(np.minimum(1.0, HUBER_K * scale / np.maximum(np.abs(residual), 1e-300)))
        before, (_, found) = found, _solve(design * weight[:, None], target * weight)
        if np.allclose(found, before, rtol=1e-10, atol=1e-12 * max(1.0, float(abs(found).max()))):
            break
    residual = (target - design @ found) / scale
    bent = np.clip(residual, -HUBER_K, HUBER_K)
    inside = float(np.mean(np.abs(residual) < HUBER_K))
    correction = 1 + terms / count * (1 - inside) / max(inside, 0.1)
    variance = (correction * scale) ** 2 * float(bent @ bent) / (count - terms) / inside**2
    variance = max(variance, least_scatter**2)
    return LineFit(found, inverse * variance, math.sqrt(variance), float(count - terms))


def _solve(design: Floats, target: Floats) -> tuple[Floats, Floats]:
    """Inverse of the normal matrix, and the least-squares solution (by orthogonal factors)."""
    q, r = np.linalg.qr(design)
    inner = np.linalg.inv(r)
    return inner @ inner.T, inner @ (q.T @ target)
