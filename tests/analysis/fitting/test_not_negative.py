"""Least squares without negative weights, against an outside regression and limit cases."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.fitting.not_negative import not_negative_fit
from analysis.telemetry import Floats

#: NIST StRD, Norris: certified slope and intercept of a straight line, 36 points.
NORRIS_X = [.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777, 558.2, .4, .6, 775.5,
            666.9, 338, 447.5, 11.6, 556, 228.1, 995.8, 887.6, 120.2, .3, .3, 556.8, 339.1, 887.2,
            999, 779, 11.1, 118.3, 229.2, 669.1, 448.9, .5]
NORRIS_Y = [.1, 338.8, 118.1, 888, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, .3, .1, 778.1,
            668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998, 888.8, 119.6, .3, .6, 557.6, 339.3, 888,
            998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, .2]


def fitted(basis: Floats, target: Floats) -> Floats:
    """The weights of one set of equations."""
    return not_negative_fit((basis.T @ basis)[None], (basis.T @ target)[None])[0]


def test_the_regression_vs_nist_norris() -> None:
    """The fit gives the certified line; its constant is negative, so its column is turned."""
    basis = np.column_stack([-np.ones(36), NORRIS_X])
    weights = fitted(basis, np.array(NORRIS_Y))
    misfit = float(np.square(NORRIS_Y - basis @ weights).sum())

    assert -weights[0] == pytest.approx(-0.262323073774029, rel=1e-9)
    assert weights[1] == pytest.approx(1.00211681802045, rel=1e-9)
    assert misfit / 34 == pytest.approx(0.884796396144373**2, rel=1e-9)


def test_a_weight_that_would_be_negative_is_left_out() -> None:
    """No part of a resistance is negative; the others are fitted without it."""
    x = np.linspace(-1, 1, 50)
    weights = fitted(np.column_stack([x, x**3]), x - 0.2 * x**3)

    assert weights[1] == 0.0
    assert weights[0] == pytest.approx(float(x @ (x - 0.2 * x**3) / (x @ x)))


def test_responses_that_are_alike_share_their_weight() -> None:
    """A singular set of equations has an answer, and it fits."""
    ramp = np.linspace(0.0, 1.0, 50)

    weights = fitted(np.column_stack([ramp, ramp]), 3 * ramp)

    assert weights == pytest.approx([1.5, 1.5])


def test_many_sets_of_equations_are_solved_each_for_itself() -> None:
    """Solved together or one by one, with other terms left out in each: the same weights."""
    rng = np.random.default_rng(5)
    bases = rng.normal(0, 1, (20, 30, 4))
    target = rng.normal(0, 1, 30)
    together = not_negative_fit(bases.swapaxes(1, 2) @ bases, bases.swapaxes(1, 2) @ target)

    assert (together >= 0).all()
    assert 0.2 < (together == 0).mean() < 0.8
    for basis, weights in zip(bases, together, strict=True):
        assert weights == pytest.approx(fitted(basis, target), rel=1e-9)


def test_volts_that_move_against_the_amps_are_no_resistance_of_nothing() -> None:
    """Where every term comes out negative the weights say so, and no zero is made of them."""
    x = np.linspace(-1, 1, 50)

    assert fitted(np.column_stack([x, x**3]), -x)[0] < 0
