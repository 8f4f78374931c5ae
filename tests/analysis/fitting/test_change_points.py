"""Steps are found where they are, and nowhere else."""

from __future__ import annotations

import numpy as np

from analysis.fitting.change_points import find_steps


def test_a_step_is_found_where_it_is() -> None:
    """A step of five scatters is dated to the figure and sized."""
    values = np.concatenate([np.full(20, 105.0), np.full(15, 100.0)])
    values += np.random.default_rng(1).normal(0, 1.0, 35)

    (step,) = find_steps(values)

    assert abs(step.first - 20) <= 1
    assert abs(step.change + 5) < 1


def test_a_step_and_its_return_are_two() -> None:
    """A level that comes back makes two steps of opposite sign."""
    values = np.concatenate([np.full(20, 0.0), np.full(8, 1.0), np.full(20, 0.0)])

    up, down = find_steps(values, least_scatter=0.1)

    assert (up.first, down.first) == (20, 28)
    assert up.change > 0 > down.change


def test_scatter_alone_makes_no_step() -> None:
    """In 24 figures without a step fewer than 1 % show one if the scatter is known, else 4 %."""
    rng = np.random.default_rng(2)
    series = [rng.normal(0, 1, 24) for _ in range(1000)]

    assert sum(bool(find_steps(values, 1.0)) for values in series) < 10
    assert sum(bool(find_steps(values)) for values in series) < 40


def test_two_percent_in_24_tests_is_seen() -> None:
    """A step of two scatters mid-way in 24 figures is seen nine times in ten."""
    rng = np.random.default_rng(3)
    truth = np.repeat([0.0, -2.0], 12)

    seen = sum(bool(find_steps(truth + rng.normal(0, 1, 24))) for _ in range(300))

    assert seen > 270


def test_few_figures_make_no_step() -> None:
    """Five figures are too few for two levels."""
    assert find_steps(np.array([0.0, 0, 0, 9, 9])) == ()
