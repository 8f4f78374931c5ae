"""Frames that go on while the figures stand still."""

from __future__ import annotations

import random
from itertools import islice

import pytest

from collector.record import Sample
from collector.simulator.live import live_day
from collector.simulator.row_faults import Teller
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


def test_figures_that_stand_still_under_a_number_that_moves_are_told() -> None:
    """The frame is made anew, what is in it is not."""
    found = told([{"sequence": float(n), "current_a": -20.0, "voltage_v": 52.0}
                  for n in range(300)])

    assert found == [(120.0, "every figure stands still for 120 s while frames go on")]


def driven(kind: str, seed: int, beats: int = 1500) -> list[tuple[float, str]]:
    """What is said of an invented day on which a fault sets in at 600 s."""
    teller = Teller()
    return told([teller.tell(row, kind if n >= 600 else "")
                 for n, row in enumerate(islice(live_day(seed), beats))])


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize(("kind", "words"), [
    ("stuck-volts", "the volts stand still for"), ("stuck-amps", "the amps stand still for"),
    ("stuck-cell", "cell 5 stands still for")])
def test_one_figure_that_stands_still_is_told(kind: str, seed: int, words: str) -> None:
    """Once, when the others have swung often enough; the pack stands for four of these minutes."""
    [(at_s, said)] = driven(kind, seed)

    assert said.startswith(words)
    assert 600 < at_s < 900


@pytest.mark.parametrize("kind", ["", "late-volts", "late-sign", "turned", "zero", "gain", "order"])
def test_figures_that_move_are_left_alone(kind: str) -> None:
    """Whatever else is wrong with them."""
    assert driven(kind, 1) == []


def test_figures_drift_while_nothing_flows() -> None:
    """Volts that settle behind a charge are no reason for the amps to move, nor does a display that
    is coarse have to answer."""
    pulls: list[dict[str, float | str]] = [
        {"current_a": -60.0 * (n // 8 % 2), "voltage_v": round(52.0 - n // 8 % 2, 1),
         "cell_01_v": 3.30 - 0.06 * (n // 8 % 2), "cell_02_v": 3.3, "cell_03_v": 3.3}
        for n in range(800)]
    rest: list[dict[str, float | str]] = [
        {"current_a": 0.0, "voltage_v": 55.0 - n / 500} for n in range(1000)]

    assert told(pulls + rest) == []


def test_a_coarse_display_need_not_answer_every_swing() -> None:
    """Whole volts answer a third of the swings: standing still through a dozen is usual there."""
    rng = random.Random(3)
    volts, rows = 52.0, []
    for n in range(2000):
        if n % 4 == 0 and rng.random() < 0.3:
            volts = 103.0 - volts
        rows.append({"current_a": -30.0 * (n // 4 % 2), "voltage_v": volts})

    assert told(rows) == []
