"""The displayed percent against the counted charge."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.estimate import Estimate, NoEstimate
from analysis.one_log.percent import compare_percent
from analysis.telemetry import Event
from tests.analysis.made_logs import log, real_drive


def display(capacity_ah: float, amps: np.ndarray, start: float = 95.0) -> np.ndarray:
    """Whole percent of a display that counts on this capacity."""
    return np.floor(start + np.cumsum(amps) / 3600 / capacity_ah * 100)


TIME_S = np.arange(7200.0)
AMPS = np.where(TIME_S % 60 < 40, -45.0, -5.0)


def test_the_capacity_that_the_display_reckons_with() -> None:
    """A display that counts on 105 Ah implies 105 Ah, to better than its whole percents."""
    found = compare_percent(log(TIME_S, current_a=AMPS, soc_pct=display(105, AMPS)))

    assert found is not None
    assert isinstance(found.implied_capacity_ah, Estimate)
    assert found.implied_capacity_ah.value == pytest.approx(105, rel=0.02)
    assert found.implied_capacity_ah.low < 105 < found.implied_capacity_ah.high
    assert (found.is_whole_numbers, found.jumps) == (True, ())


def test_a_jump_without_charge_is_found_and_left_out() -> None:
    """41 to 12 within a minute, and the capacity is still that of the rest."""
    percent = display(105, AMPS)
    percent[4000:] -= 29
    found = compare_percent(log(TIME_S, current_a=AMPS, soc_pct=percent))

    assert found is not None
    assert len(found.jumps) == 1
    jump = found.jumps[0]
    assert jump.from_pct - jump.to_pct == pytest.approx(29, abs=1)
    assert (jump.start_s, jump.end_s) == (3999.0, 4000.0)
    assert isinstance(found.implied_capacity_ah, Estimate)
    assert found.implied_capacity_ah.value == pytest.approx(105, rel=0.05)


def test_a_jump_spread_over_half_a_minute_is_one_jump() -> None:
    """Some displays walk to the corrected figure."""
    percent = display(105, AMPS) - np.clip((TIME_S - 4000) // 1, 0, 29)
    found = compare_percent(log(TIME_S, current_a=AMPS, soc_pct=percent))

    assert found is not None
    assert len(found.jumps) == 1
    assert found.jumps[0].from_pct - found.jumps[0].to_pct >= 26


def test_a_jump_while_nothing_was_heard_says_so() -> None:
    """A charge that was not logged is a jump across a gap."""
    percent = display(105, AMPS)
    percent[4000:] += 20
    later = TIME_S + np.where(TIME_S >= 4000, 3600.0, 0.0)
    telemetry = log(later, Event(4100.0, "silent"), current_a=AMPS, soc_pct=percent)
    found = compare_percent(telemetry)

    assert found is not None
    assert [j.in_gap for j in found.jumps] == [True]
    assert "nothing was heard" in found.jumps[0].words


def test_what_the_percent_did_in_gaps_is_no_capacity() -> None:
    """Two points lost unheard, too few for a jump, do not count against the charge that was."""
    percent = display(105, AMPS)
    later = TIME_S.copy()
    for row in (2000, 3000, 4000, 5000):
        percent[row:] -= 2
        later[row:] += 600
    found = compare_percent(log(later, current_a=AMPS, soc_pct=percent))

    assert found is not None
    assert isinstance(found.implied_capacity_ah, Estimate)
    assert found.implied_capacity_ah.value == pytest.approx(105, rel=0.03)


def test_a_jump_before_the_percent_ever_counted_is_no_charge() -> None:
    """The setting is changed half a minute after the start, and all that counts comes later."""
    amps = np.where(TIME_S < 60, 0.0, AMPS)
    percent = display(100, amps, 97.9)
    percent[:30] = 92
    found = compare_percent(log(TIME_S, current_a=amps, soc_pct=percent))

    assert found is not None
    assert [(j.from_pct, j.to_pct) for j in found.jumps] == [(92.0, 97.0)]
    assert "hardly any amps flowed" in found.jumps[0].words
    assert isinstance(found.implied_capacity_ah, Estimate)
    assert found.implied_capacity_ah.value == pytest.approx(100, rel=0.01)


@pytest.mark.parametrize("points", [-2, 2])
def test_a_jump_too_small_to_tell_is_no_charge_either(points: int) -> None:
    """A percent that skips a step was put there; what it counts before and after is the same."""
    percent = display(105, AMPS)
    percent[3000:] += points
    found = compare_percent(log(TIME_S, current_a=AMPS, soc_pct=percent))

    assert found is not None
    assert found.jumps == ()
    assert isinstance(found.implied_capacity_ah, Estimate)
    assert found.implied_capacity_ah.value == pytest.approx(105, rel=0.005)


def test_out_and_in_tell_the_same_capacity() -> None:
    """A way out, a jump to full and a way in: each stretch tells, and neither undoes the other."""
    amps = np.where(TIME_S < 3600, -45.0, 45.0)
    percent = display(105, amps, 80.0)
    percent[3600:] += 15
    found = compare_percent(log(TIME_S, current_a=amps, soc_pct=percent))

    assert found is not None
    assert isinstance(found.implied_capacity_ah, Estimate)
    assert found.implied_capacity_ah.value == pytest.approx(105, rel=0.005)


def test_a_small_change_gives_no_capacity() -> None:
    """Two points of percent say nothing about a hundred."""
    found = compare_percent(log(TIME_S[:300], current_a=AMPS[:300],
                                soc_pct=display(105, AMPS)[:300]))

    assert found is not None
    assert isinstance(found.implied_capacity_ah, NoEstimate)


def test_a_log_without_percent_is_not_compared() -> None:
    """There is nothing to compare."""
    assert compare_percent(log(TIME_S, current_a=AMPS)) is None


def test_a_real_drive_implies_the_capacity_of_its_set() -> None:
    """The internal percent of the 25 drives stands for 61.76 Ah (sd 0.26 over the set)."""
    found = compare_percent(real_drive("B26"))

    assert found is not None
    assert isinstance(found.implied_capacity_ah, Estimate)
    assert found.implied_capacity_ah.value == pytest.approx(61.76, abs=3 * 0.26)
    assert found.jumps == ()
