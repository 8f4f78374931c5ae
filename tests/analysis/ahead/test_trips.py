"""Trips and runs of a log."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.ahead.trips import STOP_S, observe_motion, trips_digest
from analysis.telemetry import Event, Telemetry
from tests.analysis.made_logs import log, real_drive, real_integrals
from tests.analysis.made_trips import DOWN, UP, trip_log


def test_a_stop_ends_a_trip_and_a_crossing_does_not() -> None:
    """Trips are parted by stops of STOP_S and longer."""
    apart = trips_digest(trip_log([(UP, 100.0), (DOWN, 50.0)], pause_s=int(STOP_S) + 5))
    joined = trips_digest(trip_log([(UP, 100.0), (DOWN, 50.0)], pause_s=int(STOP_S) - 5))

    assert [len(apart.trips), len(joined.trips)] == [2, 1]


def test_a_trip_holds_its_way_its_energy_and_its_time() -> None:
    """Distance is the integral of speed, energy that of volts times amps."""
    up = trips_digest(trip_log([(UP, 100.0)])).trips[0]
    way_m = float(np.trapezoid(UP))

    assert up.distance_m == pytest.approx(way_m, rel=0.01)
    assert up.energy_wh == pytest.approx(0.1 * way_m, rel=0.01)
    assert up.seconds == pytest.approx(len(UP), abs=3)


def test_a_run_is_the_whole_log() -> None:
    """The run's energy and distance are the sums of its trips where nothing flows at rest."""
    found = trips_digest(trip_log([(UP, 100.0), (DOWN, 50.0)]))

    assert found.energy_wh == pytest.approx(sum(t.energy_wh for t in found.trips), rel=0.01)
    assert found.distance_m == pytest.approx(sum(t.distance_m for t in found.trips), rel=0.01)


def test_the_shape_tells_ways_apart_and_not_paces() -> None:
    """A shape does not change with the pace; another way has another shape."""
    ways = [(UP, 1.0), (np.repeat(UP, 2) / 2, 1.0), (DOWN, 1.0)]
    up, slow, down = (np.array(trips_digest(trip_log([way])).trips[0].shape) for way in ways)

    assert np.abs(up - slow).max() < 0.05
    assert np.abs(up - down).max() > 0.3


def test_without_speed_trips_are_told_by_watts() -> None:
    """A log of amps and volts alone still has trips; their distance is not known."""
    found = trips_digest(trip_log([(UP, 100.0), (DOWN, 50.0)], with_speed=False))

    assert [t.shape_of for t in found.trips] == ["power", "power"]
    assert all(math.isnan(t.distance_m) for t in found.trips)
    assert math.isnan(found.distance_m)


def test_a_gap_takes_from_energy_and_from_distance() -> None:
    """What nobody saw is neither driven nor used, though the odometer went on."""
    time_s = np.concatenate([np.arange(0.0, 600), np.arange(4000.0, 4600)])
    telemetry = log(time_s, Event(700.0, "silent"), current_a=np.full(1200, -20.0),
                    voltage_v=np.full(1200, 50.0), distance_m=time_s * 3)
    found = trips_digest(telemetry)

    assert found.distance_m == pytest.approx(2 * 599 * 3)
    assert found.energy_wh == pytest.approx(2 * 599 * 1000 / 3600)
    assert len(found.trips) == 2


def test_a_short_gap_ends_no_trip() -> None:
    """A radio that was lost for twenty seconds costs those seconds, not the trip."""
    time_s = np.concatenate([np.arange(0.0, 300), np.arange(320.0, 600)])
    trip, = trips_digest(log(time_s, current_a=np.full(580, -20.0), voltage_v=np.full(580, 50.0),
                             speed_m_s=np.full(580, 3.0))).trips

    assert trip.distance_m == pytest.approx((599 - 21) * 3)
    assert trip.energy_wh == pytest.approx((599 - 21) * 1000 / 3600)


def test_energy_given_back_counts_against_what_went_out() -> None:
    """A trip's energy is net."""
    amps = np.where(np.arange(400) < 200, -30.0, 10.0)
    found = trips_digest(log(np.arange(400.0), current_a=amps, voltage_v=np.full(400, 50.0),
                             speed_m_s=np.full(400, 3.0)))

    assert found.energy_wh == pytest.approx(50 * (200 * 30 - 200 * 10) / 3600, rel=0.02)


def test_percent_used_passes_over_a_glitch_at_the_end() -> None:
    """The ends of the percent are medians of a few readings."""
    percent = np.concatenate([np.full(300, 80.0), np.full(299, 70.0), [0.0]])
    found = trips_digest(log(np.arange(600.0), soc_pct=percent, speed_m_s=np.full(600, 2.0)))

    assert found.percent_used == 10.0


@pytest.mark.parametrize("name", ["A13", "B26"])
def test_real_drives_agree_with_plain_integrals(name: str) -> None:
    """Distance and net energy of two recorded drives (tests/data/real_drives/SOURCE.md)."""
    found, plain = trips_digest(real_drive(name)), real_integrals(name)

    assert found.distance_m == pytest.approx(1000 * plain["distance_km"], rel=0.002)
    assert found.energy_wh == pytest.approx(-1000 * plain["net_kwh"], rel=0.002)


@pytest.mark.parametrize("columns", [{}, {"current_a": -5.0}, {"voltage_v": 50.0},
                                     {"current_a": -5.0, "voltage_v": 50.0}, {"speed_m_s": 3.0}])
def test_any_log_has_a_digest(columns: dict[str, float]) -> None:
    """A log of one row, or without amps, volts or speed, says what it can and never fails."""
    for rows in (1, 2, 200):
        telemetry = log(np.arange(float(rows)), **{n: np.full(rows, v) for n, v in columns.items()})

        assert trips_digest(telemetry).seconds >= 0


@settings(derandomize=True, max_examples=40)
@given(st.lists(st.tuples(st.booleans(), st.floats(20, 200)), min_size=1, max_size=4),
       st.integers(95, 300))
def test_every_way_is_found_whatever_the_order(ways: list[tuple[bool, float]],
                                               pause_s: int) -> None:
    """As many trips as ways driven, in their order, with their energy per km."""
    driven = [(UP if is_up else DOWN, rate) for is_up, rate in ways]
    found = trips_digest(trip_log(driven, pause_s=pause_s)).trips

    rates = [t.energy_wh / t.distance_m * 1000 for t in found]
    assert rates == pytest.approx([rate for _, rate in ways], rel=0.02)


def test_speed_is_taken_from_the_odometer_where_it_alone_is_told() -> None:
    """A distance counter is enough to know what moves."""
    telemetry = Telemetry(trip_log([(UP, 1.0)]).start, np.arange(100.0),
                          {"distance_m": np.arange(100.0) * 2})
    speed = observe_motion(telemetry).speed_m_s

    assert speed is not None
    assert speed == pytest.approx(np.full(100, 2.0))
