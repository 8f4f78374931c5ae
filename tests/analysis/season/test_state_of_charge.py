"""Charge left from anchors: right, and honest about how far it was counted."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.estimate import Estimate, NoEstimate
from analysis.season.state_of_charge import Reckoning, charge_left, charge_left_at_end, rest_volts
from tests.analysis.made_packs import charged_full, digest, run_empty, steady, telemetry

CAPACITY = Estimate.around(100.0, 2.0, "Ah")


def after(net_ah: float, hours: float) -> Reckoning:
    return Reckoning(1.0, 0.005, net_ah, 3600 * hours)


def test_count_since_full_is_taken_off() -> None:
    """30 Ah out of 100 since full leave 70 %."""
    found = charge_left(after(-30.0, 2.0), CAPACITY, 0.03)

    assert isinstance(found, Estimate)
    assert found.value == pytest.approx(70.0)
    assert found.half_width < 2.0


@given(hours=st.floats(0, 100), more=st.floats(1, 100), net=st.floats(-60, -1))
@settings(derandomize=True, deadline=None)
def test_interval_grows_until_the_next_anchor(hours: float, more: float, net: float) -> None:
    """The longer ago the anchor, the wider the interval; never narrower."""
    sooner = charge_left(after(net, hours), CAPACITY, 0.03)
    late = charge_left(after(net, hours + more), CAPACITY, 0.03)

    assert isinstance(sooner, Estimate)
    assert isinstance(late, Estimate)
    assert late.half_width > sooner.half_width


def test_too_long_ago_is_refused() -> None:
    """A month of unknown zero error leaves nothing to say, but what to do."""
    found = charge_left(after(-30.0, 720.0), CAPACITY, 0.1)

    assert isinstance(found, NoEstimate)
    assert "charge until full" in found.next


@pytest.mark.parametrize("volts", [3.25, 3.30, 3.34, 3.39, 3.45])
def test_mid_range_volts_tell_nothing(volts: float) -> None:
    """Iron phosphate at rest between 3.2 and 3.4 V, and just after a charge, is not read."""
    assert isinstance(rest_volts(volts), NoEstimate)


def test_low_volts_tell_something() -> None:
    """Below the knee the curve is steep: 3.10 V is 4 % left, to about 4 points."""
    found = rest_volts(3.10)

    assert isinstance(found, Estimate)
    assert found.low <= 5.0 <= found.high
    assert found.high < 10


def test_missing_volts_tell_nothing() -> None:
    """Without a cell there is nothing to read."""
    assert isinstance(rest_volts(float("nan")), NoEstimate)


def test_logbook_is_counted_from_its_last_full_charge() -> None:
    """Half an hour at 25 A after a full charge leaves 87.5 %."""
    drive = digest(telemetry(steady(-25.0, 0.5), 1.0, hours=5))

    found = charge_left_at_end([charged_full(), drive], CAPACITY)

    assert isinstance(found, Estimate)
    assert found.value == pytest.approx(87.5, abs=0.3)


def test_a_pack_never_seen_full_is_not_judged() -> None:
    """Without an anchor there is no percent of one's own."""
    drive = digest(telemetry(steady(-25.0, 0.5), 0.8))

    assert isinstance(charge_left_at_end([drive], CAPACITY), NoEstimate)


def test_after_a_test_the_pack_is_empty() -> None:
    """The end of a discharge to empty is an anchor at nothing left."""
    found = charge_left_at_end([charged_full(), run_empty()], CAPACITY)

    assert isinstance(found, Estimate)
    assert found.value == pytest.approx(0.0, abs=0.5)
    assert np.isclose(found.low, 0.0)
