"""Quantiles of Student's t and of chi-square, without a statistics library."""

from __future__ import annotations

import math
from functools import lru_cache
from statistics import NormalDist
from typing import Final

#: 95 % point of chi-square with one degree of freedom: how far a misfit may rise above its least.
CHI2_95_ONE: Final = 3.841458820694124


@lru_cache(maxsize=512)
def t_quantile(probability: float, freedom: float) -> float:
    """The quantile of Student's t.

    Found by bisection on the distribution function, which is the regularised incomplete beta
    function ``1 - I_x(v/2, 1/2) / 2`` with ``x = v / (v + t^2)`` (NIST Digital Library of
    Mathematical Functions, 8.17; formula from memory, checked against scipy in the tests).

    Raises
    ------
    ValueError
        If there is no freedom, or the probability is not between 0 and 1.
    """
    if not (freedom > 0 and 0 < probability < 1):
        raise ValueError(f"no quantile {probability} of t with {freedom} degrees of freedom")
    if probability < 0.5:
        return -t_quantile(1 - probability, freedom)
    if math.isinf(freedom):
        return NormalDist().inv_cdf(probability)
    low, high = 0.0, 1.0
    while t_below(high, freedom) < probability:
        low, high = high, 2 * high
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if t_below(middle, freedom) < probability else (low, middle)
    return (low + high) / 2


def t_below(value: float, freedom: float) -> float:
    """The chance that Student's t stays below a value."""
    tail = _incomplete_beta(freedom / 2, 0.5, freedom / (freedom + value * value)) / 2
    return 1 - tail if value > 0 else tail


def _incomplete_beta(a: float, b: float, x: float) -> float:
    """Regularised, by the continued fraction (DLMF 8.17.22)."""
    if x <= 0 or x >= 1:
        return float(x >= 1)
    if x > (a + 1) / (a + b + 2):
        return 1 - _incomplete_beta(b, a, 1 - x)
    front = math.exp(math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
                     + a * math.log(x) + b * math.log1p(-x)) / a
    ratio, c, d = 1.0, 1.0, 0.0
    for k in range(300):
        m = k // 2
        if k == 0:
            term = 1.0
        elif k % 2 == 0:
            term = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        else:
            term = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        d = 1 / (1 + term * d)
        c = 1 + term / c
        ratio *= c * d
        if k and abs(1 - c * d) < 1e-15:
            break
    return front * (ratio - 1)
