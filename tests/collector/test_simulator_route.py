"""The way between jetty and yard, and motion along it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.simulator import route
from collector.simulator.route import Stage


def test_lengths_and_heights_as_told() -> None:
    """950 m one way, from 2 m at the jetty to 31 m in the yard."""
    assert route.WAY_M == 950
    assert float(route.elevation_m(np.array(950.0))) == pytest.approx(31.0, abs=0.1)
    assert float(route.elevation_m(np.array(340.0))) == 2.0
    assert route.grade(np.array([10.0, 400.0, 900.0])).tolist() == [0.0, 0.105, 0.032]


@pytest.mark.parametrize("stages", [route.stages_up(), route.stages_down(1.0, 0.16),
                                    route.stages_up(stop_at_m=400, stop_s=30)],
                         ids=["up", "down", "stopped"])
def test_a_leg_covers_the_way(stages: list[Stage]) -> None:
    """Whatever happens on it, a leg ends where it should, and speed is the slope of distance."""
    motion = route.travel(stages, 0.01)

    assert motion.covered_m[-1] == pytest.approx(950, abs=0.6)
    assert np.gradient(motion.covered_m, 0.01) == pytest.approx(motion.speed_m_s, abs=0.02)
    assert motion.speed_m_s.min() >= -1e-9


def test_speeds_up_as_told() -> None:
    """14, 7 and 10 km/h up, after 40 m at 4 km/h."""
    motion = route.travel(route.stages_up(), 0.1)
    at = np.interp([20, 200, 420, 700], motion.covered_m, motion.speed_m_s) * 3.6

    assert at == pytest.approx([4, 14, 7, 10])


def test_speeds_down_as_told() -> None:
    """11, 9 and 14 km/h down, then 40 m at 4 km/h."""
    motion = route.travel(route.stages_down(1.0, 0.16), 0.1)
    at = np.interp([200, 560, 750, 930], motion.covered_m, motion.speed_m_s) * 3.6

    assert at == pytest.approx([11, 9, 14, 4])


def test_a_stop_stands_for_its_time_where_it_should() -> None:
    """The cart stands at 400 m for a minute."""
    motion = route.travel(route.stages_up(stop_at_m=400, stop_s=60), 1.0)
    still = (motion.speed_m_s < 1e-6) & (motion.covered_m > 1)

    assert 59 <= still.sum() <= 61
    assert motion.covered_m[still] == pytest.approx(400, abs=0.01)


@settings(derandomize=True, max_examples=30)
@given(st.floats(0.05, 2.0))
def test_sampling_does_not_change_the_motion(step_s: float) -> None:
    """Samples lie on the same motion, however many there are."""
    fine = route.travel(route.stages_up(), 0.01)
    coarse = route.travel(route.stages_up(), step_s)
    at = np.arange(len(coarse.covered_m)) * step_s

    assert coarse.covered_m == pytest.approx(
        np.interp(at, np.arange(len(fine.covered_m)) * 0.01, fine.covered_m), abs=0.01)
