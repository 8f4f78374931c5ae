"""Energy that is left."""

from __future__ import annotations

import pytest

from analysis.ahead.usable_energy import (
    above_reserve,
    capacity_now_ah,
    displayed_percent,
    full_energy_wh,
    percent_now,
    telling_spans,
    usable_wh,
)
from analysis.estimate import Estimate, NoEstimate
from analysis.season.capacity_now import capacity_at_reference
from tests.analysis.made_trips import UP, trip_digest


def test_a_rating_stands_in_for_a_capacity_nobody_measured() -> None:
    """Without anchors the rating counts, a tenth either way; a claim is never judged by it."""
    digests = [trip_digest([(UP, 100.0)])]
    rated = capacity_now_ah(digests, 105.0)

    assert isinstance(rated, Estimate)
    assert (rated.low, rated.high) == pytest.approx((94.5, 115.5))
    assert isinstance(capacity_now_ah(digests, None), NoEstimate)
    assert telling_spans(digests) == ()
    assert isinstance(capacity_at_reference(()), NoEstimate)


def test_a_full_pack_gives_capacity_times_volts_under_load() -> None:
    """105 Ah at 52 V are 5,460 Wh."""
    found = full_energy_wh([trip_digest([(UP, 100.0)])], Estimate.around(105.0, 1.0, "Ah"))

    assert isinstance(found, Estimate)
    assert found.value == pytest.approx(105 * 52)


def test_the_reserve_is_kept() -> None:
    """63 % with 10 kept leave 53; at the reserve nothing is left, and that is said."""
    left = above_reserve(displayed_percent(63.0), 10.0)

    assert isinstance(left, Estimate)
    assert (left.value, left.low, left.high) == (53.0, 50.0, 56.0)
    assert isinstance(above_reserve(displayed_percent(10.0), 10.0), NoEstimate)


def test_usable_energy_joins_both_doubts() -> None:
    """6 % of one and 8 % of the other make 10 %."""
    found = usable_wh(Estimate.around(1000.0, 60.0, "Wh"), Estimate.around(50.0, 4.0, "%"))

    assert isinstance(found, Estimate)
    assert found.value == pytest.approx(500.0)
    assert found.half_width == pytest.approx(50.0)


def test_what_is_missing_is_named() -> None:
    """The reason of the missing part is the reason of the whole."""
    missing = NoEstimate("no percent", "log it")

    assert usable_wh(Estimate.around(1000.0, 60.0, "Wh"), missing) is missing
    assert usable_wh(missing, displayed_percent(50.0)) is missing
    assert isinstance(percent_now([trip_digest([(UP, 100.0)])], missing), NoEstimate)
