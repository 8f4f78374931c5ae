"""Quantiles against a general statistics library."""

from __future__ import annotations

import math

import pytest
from scipy import stats

from analysis.fitting.student import CHI2_95_ONE, t_below, t_quantile


@pytest.mark.parametrize("freedom", [1, 2, 3, 5, 10, 40.5, 300])
@pytest.mark.parametrize("probability", [0.05, 0.5, 0.9, 0.975, 0.999])
def test_quantile_is_students(probability: float, freedom: float) -> None:
    """The quantile agrees with scipy's to nine digits."""
    assert t_quantile(probability, freedom) == pytest.approx(
        stats.t.ppf(probability, freedom), rel=1e-9, abs=1e-9)


def test_chance_below_is_the_quantiles_inverse() -> None:
    """What lies below the 97.5 % point is 97.5 %."""
    assert t_below(t_quantile(0.975, 7), 7) == pytest.approx(0.975, abs=1e-12)


def test_known_errors_give_the_normal_quantile() -> None:
    """With unlimited freedom Student's t is the normal distribution."""
    assert t_quantile(0.975, math.inf) == pytest.approx(stats.norm.ppf(0.975), rel=1e-12)


def test_chi_square_point_is_the_published_one() -> None:
    """The 95 % point of chi-square with one degree of freedom is 3.84."""
    assert pytest.approx(stats.chi2.ppf(0.95, 1), rel=1e-12) == CHI2_95_ONE


@pytest.mark.parametrize(("probability", "freedom"), [(0.9, 0), (0.0, 3), (1.0, 3), (0.9, -1)])
def test_impossible_quantiles_are_refused(probability: float, freedom: float) -> None:
    """There is no t without freedom and no quantile at the ends."""
    with pytest.raises(ValueError, match="no quantile"):
        t_quantile(probability, freedom)
