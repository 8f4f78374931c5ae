"""The way on the map: as long as it is covered, as high as the route says."""

from __future__ import annotations

import numpy as np
import pytest

from collector.simulator.island import places
from collector.simulator.live import live_day
from collector.simulator.route import WAY_M

EARTH_M = 6_371_008.8


def steps_m(latitude: np.ndarray, longitude: np.ndarray) -> np.ndarray:
    """Distances between neighbours by the haversine formula."""
    lat, lon = np.radians(latitude), np.radians(longitude)
    half = np.sin(np.diff(lat) / 2)**2 + (
        np.cos(lat[1:]) * np.cos(lat[:-1]) * np.sin(np.diff(lon) / 2)**2)
    return 2 * EARTH_M * np.arcsin(np.sqrt(half))


def test_places_lie_as_far_apart_as_the_cart_drove() -> None:
    """Up and down again: each metre is a metre, within a thousandth; a corner cuts a little."""
    covered = np.arange(0, 2 * WAY_M + 1, 5.0)
    told = places(covered, 0.0)
    step = steps_m(told["latitude_deg"], told["longitude_deg"])

    assert np.median(step) == pytest.approx(5.0, rel=1e-3)
    assert step.max() < 5.01
    assert (step < 4.9).sum() <= 5
    assert told["elevation_m"][0] == told["elevation_m"][-1] == 2.0
    assert told["elevation_m"].max() == 31.0


def test_the_live_day_tells_where_it_is() -> None:
    """Standing at the jetty first; the way moves on as the speed says."""
    rows = [row for row, _ in zip(live_day(1), range(400), strict=False)]
    latitude, longitude, speed = (np.array([float(row[name]) for row in rows]) for name in (
        "latitude_deg", "longitude_deg", "speed_m_s"))

    assert rows[0]["latitude_deg"] == 47.0
    assert steps_m(latitude, longitude).sum() == pytest.approx(speed.sum(), rel=0.02)
