"""How hard a log loaded board and breaker, out and in apart."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.incidents.loading import loading_digest
from tests.analysis.made_logs import log


def test_each_window_is_the_worst_of_its_length() -> None:
    """Six minutes at 60 A out in an hour at 10 A; then five at 30 A in. Over ten minutes:
    sqrt((6 x 60^2 + 4 x 10^2) / 10) = 46.9 A out, sqrt(5 x 30^2 / 10) = 21.2 A in."""
    time_s = np.arange(3600.0)
    amps = np.where((time_s > 1000) & (time_s < 1360), -60.0, -10.0)
    amps[3000:3300] = 30.0
    found = loading_digest(log(time_s, current_a=amps, voltage_v=np.full(3600, 53.0),
                               temp_1_c=np.full(3600, 21.0), temp_2_c=np.full(3600, np.nan)))

    assert found.out_a == pytest.approx((60.0, 46.9), abs=0.5)
    assert found.into_a == pytest.approx((30.0, 21.2), abs=0.5)
    assert found.both_a == pytest.approx(60, abs=0.5)
    assert (found.warmest_c, found.highest_v) == (21.0, 53.0)


def test_what_a_log_does_not_hold_is_nan() -> None:
    """No amps, no temperature, no volts; ten minutes of a log of one."""
    nothing = loading_digest(log(np.arange(9.0), soc_pct=np.full(9, 50.0)))
    short = loading_digest(log(np.arange(60.0), current_a=np.full(60, -5.0)))

    assert [*nothing.out_a, nothing.both_a, nothing.warmest_c, nothing.highest_v] == pytest.approx(
        [math.nan] * 5, nan_ok=True)
    assert short.out_a == pytest.approx((5.0, math.nan), nan_ok=True)
    assert math.isnan(short.both_a)


def test_nothing_is_carried_across_a_gap() -> None:
    """Two minutes at 60 A on each side of an hour that nobody saw are no four minutes."""
    time_s = np.concatenate([np.arange(120.0), 3600 + np.arange(120.0)])

    assert math.isnan(loading_digest(log(time_s, current_a=np.full(240, -60.0))).both_a)


@settings(derandomize=True, deadline=None, max_examples=30)
@given(st.lists(st.floats(-200, 200), min_size=30, max_size=90))
def test_the_mirror_of_a_log_swaps_out_and_in(levels: list[float]) -> None:
    """With the sign turned round what went out came in, and the breaker is as warm."""
    amps = np.repeat(levels, 10)
    here, there = (loading_digest(log(np.arange(float(len(amps))), current_a=way))
                   for way in (amps, -amps))

    assert here.out_a == pytest.approx(there.into_a, nan_ok=True)
    assert here.into_a == pytest.approx(there.out_a, nan_ok=True)
    assert here.both_a == pytest.approx(there.both_a, nan_ok=True)
