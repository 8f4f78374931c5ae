"""A temperature sensor that fell off the pack."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.season.pack_sensor import LogWarmth, find_loose_sensor, warmth_digest
from tests.analysis.made_logs import log

DAY_S = 86_400.0


def logs(rises: list[float], apart: list[float], heat: float = 600.0) -> list[
        tuple[float, LogWarmth]]:
    return [(n * DAY_S / 3, LogWarmth(heat, rise, 15.0 + off, 15.0))
            for n, (rise, off) in enumerate(zip(rises, apart, strict=True))]


USUAL = [1.0, 0.0, 1.0, 2.0, 1.0, 0.0]


def test_heat_and_rise_are_read_off_a_log() -> None:
    """An hour at 30 A is 900 A2h; a jump across a gap is no rise."""
    time_s = np.concatenate([np.arange(1800.0), np.arange(9000.0, 10801.0)])
    celsius = np.where(time_s < 5000, 15.0, np.where(time_s < 10000, 19.0, 20.0))
    digest = warmth_digest(log(time_s, current_a=np.full(len(time_s), -30.0), temp_1_c=celsius,
                               temp_2_c=celsius + 1))

    assert digest.heat_a2h == pytest.approx(900, rel=0.01)
    assert digest.rise_k == pytest.approx(1.0)
    assert (digest.first_c, digest.board_first_c) == (15.0, 16.0)


def test_still_through_load_and_apart_from_the_board_is_loose() -> None:
    """Twelve logs of load without an answer, two kelvin from the board's sensor."""
    (found,) = find_loose_sensor(logs(USUAL * 4 + [0.0] * 12 + USUAL,
                                      [0.0] * 24 + [2.0, -1.0] * 6 + [0.0] * 6))

    assert found.kind == "loose_sensor"
    assert found.start_s == 24 * DAY_S / 3
    assert found.end_s == 35 * DAY_S / 3


def test_short_drives_that_warm_nothing_are_no_fault() -> None:
    """Twelve logs of a tenth of the load would hardly have warmed it."""
    usual, gentle = logs(USUAL * 4, [0.0] * 24), logs([0.0] * 12, [2.0] * 12, heat=60.0)

    assert find_loose_sensor(usual + gentle) == []


def test_a_still_sensor_that_agrees_with_the_board_is_on_the_pack() -> None:
    """A cold evening may hold a pack still; both sensors say the same."""
    assert find_loose_sensor(logs(USUAL * 4 + [0.0] * 12 + USUAL, [0.0] * 42)) == []


def test_no_sensor_no_finding() -> None:
    """A log without temperature tells nothing."""
    assert math.isnan(warmth_digest(log([0.0, 1.0], current_a=np.zeros(2))).rise_k)
