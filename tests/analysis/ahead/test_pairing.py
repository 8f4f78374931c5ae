"""Days joined in pairs: on noted ways first, then on those that the trips tell."""

from __future__ import annotations

import math

import pytest

from analysis.ahead.compare import Comparison, compare_digests
from analysis.ahead.consumption import Conditions
from analysis.ahead.pairing import DayFigure, PairedOn, pair_days
from analysis.digest import LogDigest
from analysis.estimate import Estimate
from analysis.telemetry import Floats
from tests.analysis.made_trips import DOWN, UP, trip_digest

FLAT = UP * 0 + 3.0
FLAT[0] = FLAT[-1] = 0.0


def side(way: Floats, wh_per_km: float, first: int, count: int) -> list[LogDigest]:
    """Days of one trip, each a little other than the last."""
    return [trip_digest([(way, wh_per_km * (1 + 0.01 * (k % 2)))], first + k)
            for k in range(count)]


def noted(digests: list[LogDigest], way: str) -> dict[str, Conditions]:
    return {digest.log: Conditions(route=way) for digest in digests}


def value(found: Comparison) -> float:
    assert isinstance(found.change_pct, Estimate)
    return found.change_pct.value


def test_days_are_joined_with_those_of_like_temperature() -> None:
    """Each day once, the nearest first."""
    before = {"2026-05-01": DayFigure(1.0, 20.0, 3.0), "2026-05-02": DayFigure(1.0, 10.0, 3.0)}
    after = {"2026-06-01": DayFigure(1.0, 19.0, 3.0), "2026-06-02": DayFigure(1.0, 9.5, 3.0),
             "2026-06-03": DayFigure(1.0, 30.0, 3.0)}

    assert pair_days(before, after) == [("2026-05-01", "2026-06-01"), ("2026-05-02", "2026-06-02")]


def test_a_noted_way_is_one_way_however_it_was_driven() -> None:
    """With new gears nothing of the speeds is as before; the name still tells that the way is."""
    old, new = side(UP, 150.0, 0, 5), side(FLAT, 120.0, 10, 5)
    blind = compare_digests(old, new)
    told = compare_digests(old, new, noted(old, "mill") | noted(new, "mill"))

    assert blind.routes == 0
    assert blind.paired_on == (PairedOn("day", "", 0, 5),)
    assert any("no way is common" in each for each in blind.confounders)
    assert told.paired_on == (PairedOn("name", "mill", 1, 5),)
    assert told.paired_words == "Pairs of days: 5 on “mill”, as noted."
    assert value(told) == pytest.approx(-20, abs=0.1)
    assert told.routes == 1
    assert not any("no way is common" in each for each in told.confounders)


def test_noted_ways_go_first_and_the_days_that_are_left_by_their_trips() -> None:
    """Four days on the hill and three on the shore before; the other way round after: each way is
    held against itself, each day is in one pair, and the answer says how many by what."""
    hill_old, hill_new = side(UP, 200.0, 0, 4), side(UP, 180.0, 20, 3)
    shore_old, shore_new = side(FLAT, 50.0, 10, 3), side(FLAT, 45.0, 30, 4)
    bare_old, bare_new = side(DOWN, 80.0, 40, 4), side(DOWN, 72.0, 50, 3)
    found = compare_digests(
        [*hill_old, *shore_old, *bare_old], [*hill_new, *shore_new, *bare_new],
        noted([*hill_old, *hill_new], "hill") | noted([*shore_old, *shore_new], "shore"))

    assert found.paired_on == (PairedOn("name", "hill", 1, 3), PairedOn("name", "shore", 1, 3),
                               PairedOn("speed", "", 1, 3))
    assert found.paired_words == ("Pairs of days: 3 on “hill”, as noted; 3 on “shore”, as noted; "
                                  "3 on ways known again by their length and speeds.")
    assert value(found) == pytest.approx(-10, abs=0.5)
    assert len({pair.before for pair in found.paired}) == len(found.paired) == found.pairs == 9
    assert found.verdict == "yes"


def test_a_way_noted_on_too_few_days_of_a_side_is_known_by_its_trips() -> None:
    """Two days after are not three: all days are joined as if nobody had noted anything."""
    old, new = side(UP, 150.0, 0, 4), side(UP, 120.0, 10, 4)
    found = compare_digests(old, new, noted(old, "mill") | noted(new[:2], "mill"))

    assert found == compare_digests(old, new)
    assert found.paired_on == (PairedOn("speed", "", 1, 4),)
    assert found.paired_words == "Pairs of days: 4 on ways known again by their length and speeds."


def test_the_mix_of_noted_ways_is_no_change() -> None:
    """A dear way driven more often after makes nothing dearer."""
    dear_old, dear_new = side(UP, 200.0, 0, 3), side(UP, 200.0, 20, 6)
    cheap_old, cheap_new = side(FLAT, 50.0, 10, 6), side(FLAT, 50.0, 30, 3)
    found = compare_digests(
        [*dear_old, *cheap_old], [*dear_new, *cheap_new],
        noted([*dear_old, *dear_new], "dear") | noted([*cheap_old, *cheap_new], "cheap"))

    assert found.pairs == 6
    assert value(found) == pytest.approx(0, abs=1)
    before, after = found.before.consumption, found.after.consumption
    assert isinstance(before, Estimate)
    assert isinstance(after, Estimate)
    assert math.log(after.value / before.value) == pytest.approx(0, abs=0.01)


def test_load_and_wind_as_noted_are_held_against_the_change() -> None:
    """What differs is told, what is alike is not, and only what nobody noted is asked to be so."""
    old, new = side(UP, 150.0, 0, 4), side(UP, 120.0, 10, 4)

    def minds(after: Conditions) -> tuple[str, ...]:
        met = {d.log: Conditions(extra_load_kg=-10.0, wind_m_s=3.0) for d in old}
        met |= {d.log: after for d in new}
        return compare_digests(old, new, met).confounders

    assert minds(Conditions(extra_load_kg=50.0, wind_m_s=3.5)) == (
        "60 kg more on board after, by your notes",)
    assert minds(Conditions(extra_load_kg=-10.0, wind_m_s=0.0)) == (
        "3 m/s less wind after, by your notes",)
    assert minds(Conditions(extra_load_kg=0.0)) == (
        "wind is not in the logs: it should have been the same",)
    assert minds(Conditions()) == (
        "load and wind are not in the logs: they should have been the same",)


def test_a_note_or_two_tell_nothing_of_a_side() -> None:
    """The load of two days of four is not that of the side."""
    old, new = side(UP, 150.0, 0, 4), side(UP, 120.0, 10, 4)
    met = {d.log: Conditions(extra_load_kg=80.0) for d in (*old[:2], *new)}
    found = compare_digests(old, new, met)

    assert math.isnan(found.before.load_kg)
    assert found.after.load_kg == pytest.approx(80.0)
    assert found.as_json()["before"]["load_kg"] is None
    assert any("load and wind are not" in each for each in found.confounders)


def test_trips_without_a_distance_are_not_mixed_in() -> None:
    """A day on which nobody logged the speed has Wh for a trip, not for a kilometre."""
    old, new = side(UP, 150.0, 0, 3), side(UP, 120.0, 10, 3)
    dark = [trip_digest([(UP, 400.0)], 20, with_speed=False),
            trip_digest([(UP, 900.0)], 0, with_speed=False)]
    found = compare_digests([*old, dark[1]], [*new, dark[0]],
                            noted([*old, *new, *dark], "mill"))

    assert found.pairs == 3
    assert value(found) == pytest.approx(-20, abs=0.1)


def test_what_is_told_for_a_trip_is_not_told_for_a_kilometre() -> None:
    """Where only days without speed have a way in common, their Wh are those of a trip, whatever
    else was driven; where nothing is common, days with speed are held against days with speed."""
    dark_old, dark_new = ([trip_digest([(UP, rate)], first + k, with_speed=False)
                           for k in range(3)] for rate, first in ((150.0, 0), (120.0, 10)))
    bright_old, bright_new = side(UP, 150.0, 20, 3), side(FLAT, 140.0, 30, 3)
    dark = compare_digests([*dark_old, *bright_old], [*dark_new, *bright_new])
    nothing = compare_digests([*dark_old[:1], *bright_old], bright_new)

    assert isinstance(dark.before.consumption, Estimate)
    assert dark.before.consumption.unit == "Wh per trip"
    assert dark.paired_on == (PairedOn("power", "", 1, 3),)
    assert isinstance(nothing.before.consumption, Estimate)
    assert nothing.before.consumption.unit == "Wh/km"
    assert (nothing.paired_on, nothing.before.days) == ((PairedOn("day", "", 0, 3),), 3)
