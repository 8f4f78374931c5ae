"""Fits against certified figures, and against outliers."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.fitting.line_fit import huber_fit, least_squares
from analysis.telemetry import Floats

#: NIST Statistical Reference Datasets, linear regression, "Norris" (36 points).
NORRIS_X = np.array([
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777, 558.2, 0.4, 0.6, 775.5, 666.9,
    338, 447.5, 11.6, 556, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999, 779,
    11.1, 118.3, 229.2, 669.1, 448.9, 0.5])
NORRIS_Y = np.array([
    0.1, 338.8, 118.1, 888, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8,
    339.3, 448.9, 10.8, 557.7, 228.3, 998, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888, 998.5, 778.9,
    10.2, 117.6, 228.9, 668.4, 449.2, 0.2])
#: JCGM 100:2008 (GUM), example H.3: calibration of a thermometer, corrections against readings.
GUM_T = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010,
                  26.511])
GUM_B = -np.array([0.171, 0.169, 0.166, 0.159, 0.164, 0.165, 0.156, 0.157, 0.159, 0.161, 0.160])


def straight(x: Floats) -> Floats:
    return np.column_stack([np.ones(len(x)), x])


def test_norris_is_fitted_as_certified() -> None:
    """Coefficients and their standard deviations agree with NIST's certified ones (StRD Norris)."""
    fit = least_squares(straight(NORRIS_X), NORRIS_Y)

    assert fit.coefficients == pytest.approx([-0.262323073774029, 1.00211681802045], rel=1e-9)
    assert np.sqrt(np.diag(fit.covariance)) == pytest.approx(
        [0.23281823430153, 4.29796848199937e-4], rel=1e-9)
    assert fit.scatter == pytest.approx(0.884796396144373, rel=1e-9)


def test_line_through_the_origin_is_fitted_as_certified() -> None:
    """A fit without intercept agrees with NIST's certified one (StRD NoInt1)."""
    fit = least_squares(np.arange(60.0, 71.0)[:, None], np.arange(130.0, 141.0))

    assert fit.coefficients[0] == pytest.approx(2.07438016528926, rel=1e-12)
    assert math.sqrt(fit.covariance[0, 0]) == pytest.approx(0.0165289256198347, rel=1e-9)
    assert fit.scatter == pytest.approx(3.56753034006338, rel=1e-9)


def test_prediction_keeps_the_covariance() -> None:
    """A prediction beyond the data has the GUM's uncertainty, -0.1494(41) at 30 degC (H.3).

    Forgetting the covariance of intercept and slope would give 0.0073.
    """
    fit = least_squares(straight(GUM_T - 20), GUM_B)

    value, spread = fit.at(1.0, 10.0)

    assert fit.coefficients == pytest.approx([-0.1712, 0.00218], abs=5e-5)
    assert value == pytest.approx(-0.14937681, rel=1e-6)
    assert spread == pytest.approx(0.0041386, rel=1e-4)


def test_known_errors_rule_a_weighted_fit() -> None:
    """With errors known beforehand the covariance is that of the weights, not of the scatter."""
    error = np.array([1.0, 2.0, 1.0, 2.0])

    fit = least_squares(np.ones((4, 1)), np.array([1.0, 9.0, 1.0, 9.0]), error)

    assert fit.coefficients[0] == pytest.approx((2 + 18 / 4) / (2 + 2 / 4))
    assert fit.covariance[0, 0] == pytest.approx(1 / (2 + 2 / 4))
    assert math.isinf(fit.freedom)


def test_an_outlier_hardly_moves_a_resistant_fit() -> None:
    """One wild figure in twenty moves the slope by less than a tenth of what it does plainly."""
    x = np.linspace(0, 1, 20)
    y = 3 - 2 * x + 0.01 * np.random.default_rng(1).normal(size=20)
    wild = y.copy()
    wild[18] += 3.0

    moved = abs(huber_fit(straight(x), wild).coefficients[1] - huber_fit(
        straight(x), y).coefficients[1])
    plainly = abs(least_squares(straight(x), wild).coefficients[1] - least_squares(
        straight(x), y).coefficients[1])

    assert moved < 0.1 * plainly


def test_resistant_interval_covers_on_normal_errors() -> None:
    """On twelve normal figures the 95 % interval of the slope holds the truth in 92 to 98 %."""
    rng = np.random.default_rng(2)
    x = np.linspace(0, 1, 12)
    held = sum(_holds(straight(x), -2 * x + rng.normal(0, 0.5, 12), -2.0) for _ in range(600))

    assert 0.92 <= held / 600 <= 0.98


def _holds(design: Floats, target: Floats, truth: float) -> bool:
    slope = huber_fit(design, target).coefficient(1, "")
    return slope.low <= truth <= slope.high


@pytest.mark.parametrize("fit", [least_squares, huber_fit])
def test_too_few_figures_are_refused(fit: object) -> None:
    """Two figures have no scatter about a line."""
    with pytest.raises(ValueError, match="too few"):
        fit(np.array([[1.0, 0.0], [1.0, 1.0]]), np.array([0.0, 1.0]))  # type: ignore[operator]
