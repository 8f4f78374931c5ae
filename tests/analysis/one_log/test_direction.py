"""The most likely run of directions, against trying every run."""

from __future__ import annotations

from itertools import pairwise, product

import numpy as np
import pytest

from analysis.one_log.direction import _most_likely
from analysis.telemetry import Floats


def cost_of(run: tuple[int, ...], costs: Floats) -> float:
    """What a run of directions (0 is out, 1 is in) costs."""
    return float(sum(costs[k, a, b] for k, (a, b) in enumerate(pairwise(run))))


@pytest.mark.parametrize("points", range(1, 10))
@pytest.mark.parametrize("seed", range(5))
def test_no_run_is_cheaper(points: int, seed: int) -> None:
    """Of all 2^n runs none costs less than the one that is found."""
    costs = np.random.default_rng([seed, points]).exponential(1.0, (points - 1, 2, 2))
    found = tuple((_most_likely(costs) > 0).astype(int).tolist())
    least = min(cost_of(run, costs) for run in product((0, 1), repeat=points))

    assert cost_of(found, costs) == pytest.approx(least)


def test_a_gap_forgets_the_direction() -> None:
    """Where steps cost nothing, the runs before and behind are found each for itself."""
    rng = np.random.default_rng(7)
    before, behind = rng.exponential(1.0, (40, 2, 2)), rng.exponential(1.0, (55, 2, 2))
    joined = _most_likely(np.concatenate([before, np.zeros((1, 2, 2)), behind]))

    assert np.array_equal(joined[:41], _most_likely(before))
    assert np.array_equal(joined[41:], _most_likely(behind))
