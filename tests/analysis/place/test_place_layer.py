"""A track laid beside a log."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from analysis.place.layer import with_place, with_place_in_every_row
from analysis.timebase import observe
from tests.analysis.made_logs import log

PACK = log(np.arange(0.0, 20, 0.5), current_a=np.full(40, -5.0))


def test_places_are_drawn_between_fixes_and_nowhere_else() -> None:
    """Straight between two fixes; before, behind and in a gap there is none."""
    time_s = np.array([0.0, 1, 2, 3, 10, 11, 12])
    track = log(time_s, latitude_deg=59 + time_s / 100, longitude_deg=np.full(7, 10.0),
                speed_m_s=time_s)
    track = replace(track, start=track.start + timedelta(seconds=2))
    joined = with_place(PACK, track)
    seen = np.isfinite(joined["latitude_deg"])

    assert joined.elapsed_s[seen].tolist() == [*np.arange(2, 5.5, 0.5), *np.arange(12, 14.5, 0.5)]
    assert joined["latitude_deg"][5] == pytest.approx(59.005)
    assert joined["speed_m_s"][5] == pytest.approx(0.5)
    assert joined["current_a"] is PACK["current_a"]


def test_a_packs_own_speed_stays() -> None:
    """The wheels know better than a receiver; only what is wanted is added."""
    pack = PACK.having(speed_m_s=np.full(40, 3.0))
    track = log(np.arange(30.0), latitude_deg=np.arange(30.0), longitude_deg=np.arange(30.0),
                speed_m_s=np.full(30, 9.0))
    joined = with_place(pack, track, ("latitude_deg", "speed_m_s"))

    assert joined["speed_m_s"].tolist() == [3.0] * 40
    assert set(joined.columns) == {"current_a", "speed_m_s", "latitude_deg"}


def test_speed_is_worked_out_and_the_date_line_crossed() -> None:
    """A track without speed brings one; between 179.9 E and 179.9 W lies 180, not 0."""
    time_s = np.arange(21.0)
    east = 179.9995 + time_s * 0.0001
    track = log(time_s, latitude_deg=np.zeros(21), longitude_deg=(east + 180) % 360 - 180)
    joined = with_place(PACK, track)

    assert np.nanmedian(joined["speed_m_s"]) == pytest.approx(11.12, rel=1e-3)
    assert np.abs(joined["longitude_deg"]).min() > 179.99


def test_a_track_of_another_day_changes_nothing() -> None:
    """No moment in common: no place anywhere."""
    track = log(np.arange(30.0), latitude_deg=np.arange(30.0), longitude_deg=np.arange(30.0))
    joined = with_place(PACK, replace(track, start=track.start + timedelta(days=1)))

    assert "latitude_deg" not in joined


def test_two_monitors_in_one_log_meet_in_every_row() -> None:
    """Rows in turn from the pack and the receiver: amps and speed are known together; gaps stay."""
    time_s = np.arange(40.0)
    mine = time_s % 2 == 0
    speed = np.where(mine | ((time_s > 12) & (time_s < 26)), np.nan, time_s)
    shared = log(time_s, current_a=np.where(mine, -5.0, np.nan), speed_m_s=speed)
    met = with_place_in_every_row(shared)

    assert len(observe(shared, "current_a", "speed_m_s").time_s) == 0
    assert observe(met, "current_a", "speed_m_s").time_s.tolist() == [
        *range(2, 12, 2), *range(28, 40, 2)]
    assert met["speed_m_s"][4] == pytest.approx(4.0)
    assert np.isnan(met["speed_m_s"][12:27]).all()
    assert met["current_a"] is shared["current_a"]
