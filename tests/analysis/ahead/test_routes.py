"""Ways driven again and again."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from analysis.ahead.routes import common_routes, day_of, is_same_way, route_trips
from analysis.ahead.trips import LogTrips
from tests.analysis.made_trips import DOWN, UP, trip_digest


def test_places_apart_are_other_ways() -> None:
    """Ways alike in length and speed are two if they begin far from each other."""
    trip = trip_digest([(UP, 100.0)]).of(LogTrips).trips[0]
    here, near, there = (replace(trip, places_deg=(50.0 + north, 5.0, 50.01, 5.0))
                         for north in (0.0, 0.0005, 0.005))

    assert is_same_way(here, near)
    assert not is_same_way(here, there)
    assert is_same_way(trip, here)


def test_a_day_is_that_of_the_place() -> None:
    """Eleven in the morning UTC is past midnight fourteen hours east."""
    digest = trip_digest([(UP, 100.0)])
    east = replace(digest, head=replace(digest.head, time_zone="Pacific/Kiritimati"))
    late = replace(east, head=replace(east.head, start_s=digest.start_s + 3 * 3600))

    assert day_of(digest) == day_of(east) == date(2026, 5, 4)
    assert day_of(late) == date(2026, 5, 5)


def test_there_and_back_are_two_routes_on_every_day() -> None:
    """Up and down keep their numbers from day to day, and share the way by its length."""
    days = [trip_digest([(UP, 100.0), (DOWN, 50.0)], k) for k in range(4)]
    routed = route_trips([(day, 0.0) for day in days])
    shares = common_routes(*([t for log in part for t in log] for part in (routed[:2],
                                                                           routed[2:])))

    assert [[trip.route for trip in log] for log in routed] == [[0, 1]] * 4
    up_km, down_km = (trip.extent for trip in routed[0])
    assert shares == pytest.approx({0: up_km / (up_km + down_km), 1: down_km / (up_km + down_km)})


def test_a_way_of_a_single_day_is_common_to_neither_side() -> None:
    """What was driven once in four days does not count."""
    old = [trip_digest([(UP, 100.0)], k) for k in range(4)]
    new = [trip_digest([(UP, 100.0), *([(DOWN, 50.0)] if k == 4 else [])], k)
           for k in range(4, 8)]
    routed = route_trips([(day, 0.0) for day in [*old, *new]])

    assert list(common_routes(*([t for log in part for t in log]
                                for part in (routed[:4], routed[4:])))) == [0]
