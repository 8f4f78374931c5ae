"""Frames that go on while the figures stand still."""

from __future__ import annotations

import pytest

from collector.record import Sample
from collector.standstill import Standstill


def told(rows: list[dict[str, float | str]], step_s: float = 1.0) -> list[tuple[float, str]]:
    watch = Standstill()
    return [(n * step_s, words) for n, row in enumerate(rows)
            if (words := watch.words(Sample(0, n * step_s, row)))]


def numbered(*numbers: int) -> list[dict[str, float | str]]:
    return [{"sequence": float(number), "current_a": -20.0} for number in numbers]


def test_a_number_that_stops_is_told_once() -> None:
    """After five of its steps and three seconds."""
    found = told(numbered(1, 2, 3, *[4] * 20))

    assert found == [(8.0, "the running number, 4, stands still for 5 s while frames go on")]


def test_a_number_that_stops_again_is_told_again() -> None:
    """Between them it moved."""
    assert len(told(numbered(1, 2, *[3] * 9, 4, 5, *[6] * 9))) == 2


@pytest.mark.parametrize("rows", [
    numbered(*[7] * 60), numbered(*[n // 10 for n in range(90)]),
    [{"current_a": -20.0, "voltage_v": 52.0}] * 100, [{"current_a": 0.0, "voltage_v": 52.0}] * 900])
def test_what_may_stand_still_is_left_alone(rows: list[dict[str, float | str]]) -> None:
    """A number that never moved, one that is slow, two minutes of even amps, a night at rest."""
    assert told(rows) == []


def test_every_figure_at_once_under_load_is_told() -> None:
    """A monitor without a running number."""
    found = told([{"current_a": -20.0, "voltage_v": 52.0, "state": "drive"}] * 300)

    assert found == [(120.0, "every figure stands still for 120 s while frames go on")]
