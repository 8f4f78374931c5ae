"""The offset between two clocks: real drives set apart, invented ones, and what is refused."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from analysis.estimate import Estimate, NoEstimate
from analysis.place.clock_offset import clock_offset_s
from analysis.telemetry import Telemetry
from tests.analysis.made_logs import log, real_drive


def set_apart(drive: Telemetry, offset_s: float, stride: int = 1,
              late: int = 0) -> tuple[Telemetry, Telemetry]:
    """Amps of a drive, and its speed by a clock that is ``offset_s`` slow and started late."""
    place = replace(drive, start=drive.start + timedelta(
        seconds=float(drive.elapsed_s[late]) - offset_s),
        elapsed_s=drive.elapsed_s[late::stride] - drive.elapsed_s[late],
        columns={"speed_m_s": drive["speed_m_s"][late::stride]})
    return replace(drive, columns={"current_a": drive["current_a"]}), place


def stop_and_go(stops: int, seed: int = 1, period: bool = False) -> Telemetry:
    """An invented drive at 1 Hz: amps half a second before the wheels turn."""
    rng = np.random.default_rng(seed)
    parts = []
    for _ in range(stops):
        stand, go = (40, 60) if period else rng.integers(10, 90, 2)
        parts += [np.zeros(stand), np.full(go, 1.0)]
    moving = np.concatenate([*parts, np.zeros(40)])
    amps = -0.3 - 30 * moving + rng.normal(0, 0.1, len(moving))
    return log(np.arange(len(moving), dtype=float), current_a=amps, speed_m_s=4.0 * moving)


@pytest.mark.parametrize("offset_s", [0.0, 37.0, -412.0, 1500.0, -7163.0])
def test_a_real_drive_is_put_together_again(offset_s: float) -> None:
    """Amps at 10 Hz and wheel speed at 1 Hz, a minute of it missing: the interval holds,
    also where a clock stands in another zone."""
    answer = clock_offset_s(*set_apart(real_drive("A13"), offset_s, stride=10, late=600))

    assert isinstance(answer, Estimate)
    assert answer.low <= offset_s <= answer.high
    assert answer.half_width < 6
    assert answer.unit == "s"


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("offset_s", [0.0, -61.0, 240.0])
def test_stops_of_uneven_length_tell_the_offset(seed: int, offset_s: float) -> None:
    """Ten stops are plenty; amps in the other sign tell the same."""
    amps, speed = set_apart(stop_and_go(10, seed), offset_s)
    answer = clock_offset_s(amps, speed)

    assert isinstance(answer, Estimate)
    assert answer.low <= offset_s <= answer.high
    assert clock_offset_s(amps.having(current_a=-amps["current_a"]), speed) == answer


def test_a_drive_that_repeats_itself_is_refused() -> None:
    """Stops of one length, one after the other, fit in many places."""
    answer = clock_offset_s(*set_apart(stop_and_go(12, period=True), 100.0))

    assert isinstance(answer, NoEstimate)
    assert "100 s apart" in answer.reason


@pytest.mark.parametrize("stops", [1, 2])
def test_too_few_stops_are_refused(stops: int) -> None:
    """The reason counts them, and says what to do."""
    answer = clock_offset_s(*set_apart(stop_and_go(stops), 0.0))

    assert isinstance(answer, NoEstimate)
    assert f"only {stops} times" in answer.reason
    assert "--offset" in answer.next


def test_another_drives_stops_are_refused() -> None:
    """The speed of one real drive does not fit the amps of another."""
    amps, _ = set_apart(real_drive("A13"), 0.0)
    _, speed = set_apart(real_drive("B26"), 0.0, stride=10)

    assert isinstance(clock_offset_s(amps, speed), NoEstimate)


def test_without_amps_or_movement_there_is_nothing_to_compare() -> None:
    """A log of volts alone, and a vehicle that never moved."""
    drive = stop_and_go(5)
    amps, speed = set_apart(drive, 0.0)
    still = speed.having(speed_m_s=np.zeros(len(speed)))

    assert isinstance(clock_offset_s(speed, amps), NoEstimate)
    assert isinstance(clock_offset_s(amps, still), NoEstimate)
