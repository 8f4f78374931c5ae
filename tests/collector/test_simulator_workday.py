"""The season's calendar and its staged events."""

from collections import Counter
from dataclasses import fields
from datetime import date, timedelta

import pytest

from collector.simulator import staged, workday
from collector.simulator.workday import Workday

SEASON = workday.season_days(seed=1)
BY_DATE = {day.date: day for day in SEASON}


def test_working_days_as_told() -> None:
    """2 April to 26 October, 181 working days of 4 to 9 round trips."""
    worked = [day for day in SEASON if day.trips]

    assert (SEASON[0].date, SEASON[-1].date) == (date(2026, 4, 2), date(2026, 10, 26))
    assert len(worked) == 181
    assert {day.trips for day in worked} == {4, 5, 6, 7, 8, 9}


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_about_1100_trips_as_told(seed: int) -> None:
    """Whatever the seed, about 1,100 trips."""
    assert sum(day.trips for day in workday.season_days(seed)) == pytest.approx(1100, abs=60)


def test_a_day_depends_on_its_date_and_seed_only() -> None:
    """The same day comes out of any part of the season."""
    part = workday.season_days(1, date(2026, 6, 1), date(2026, 6, 7))

    assert part == [BY_DATE[day.date] for day in part]
    assert part != workday.season_days(2, date(2026, 6, 1), date(2026, 6, 7))


def test_events_change_what_a_workday_has() -> None:
    """An event that names a field which no day has would do nothing."""
    names = {f.name for f in fields(Workday)}

    assert {key for event in staged.SEASON_ONE for key in event.changes} <= names


def test_thirteen_days_without_a_full_charge_as_told() -> None:
    """In May there are exactly thirteen days in a row on which nobody fills up."""
    without = [day.date for day in SEASON
               if day.date.month == 5 and day.charge in ("partial", "none")]
    in_a_row = [d for d in without if d <= date(2026, 5, 13)]

    assert in_a_row == [date(2026, 5, 1) + timedelta(days=n) for n in range(13)]
    assert BY_DATE[date(2026, 4, 30)].charge == BY_DATE[date(2026, 5, 14)].charge == "full"


@pytest.mark.parametrize(("day", "field", "value"), [
    (date(2026, 5, 10), "zero_error_a", 0.0), (date(2026, 5, 11), "zero_error_a", 0.35),
    (date(2026, 6, 11), "control", "resistor"), (date(2026, 6, 12), "control", "electronic"),
    (date(2026, 8, 13), "is_sensor_off", False), (date(2026, 8, 14), "is_sensor_off", True),
    (date(2026, 8, 25), "setting_ah", 105.0), (date(2026, 8, 27), "setting_ah", 100.0),
    (date(2026, 9, 17), "tap_v", 0.018), (date(2026, 7, 8), "clock_step_s", -259_200.0),
    (date(2026, 8, 6), "parked_a", -0.31), (date(2026, 10, 12), "night_c", 3.0),
    (date(2026, 7, 22), "load_up_kg", 520.0)])
def test_events_lie_on_their_days_as_told(day: date, field: str, value: object) -> None:
    """What is staged begins and ends when it says."""
    assert getattr(BY_DATE[day], field) == value


def test_traps_carry_no_fault() -> None:
    """Head wind, piano and spread fall on days on which nothing is wrong."""
    traps = [event for event in staged.SEASON_ONE if "no fault" in event.truth]
    plain = [BY_DATE[event.first] for event in traps]

    assert Counter(event.kind for event in traps).keys() == {
        "head wind", "heavy piano", "wide spread"}
    assert all(day.drag_n == 0 and not day.stop and not day.tap_v and day.parked_a == -0.018
               for day in plain)


def test_capacities_as_told() -> None:
    """104.2 Ah in April as the pack gives it, 103.1 in July, 101.9 in October."""
    april, july, october = (staged.truth_on(date(2026, *day))
                            for day in ((4, 9), (7, 20), (10, 24)))

    assert april.fresh_capacity_ah == pytest.approx(104.2)
    assert july.level_capacity_ah == pytest.approx(103.1)
    assert october.level_capacity_ah == pytest.approx(101.9)
    assert april.level_capacity_ah / april.mate_capacity_ah == pytest.approx(0.97, abs=0.001)
    assert october.level_capacity_ah / october.mate_capacity_ah == pytest.approx(0.94, abs=0.001)
    assert (april.small_cell_mohm, october.small_cell_mohm) == pytest.approx((0.78, 0.95), abs=0.01)


def test_the_smallest_cell_is_the_small_cell() -> None:
    """No other cell is ever smaller than cell 11, whatever the seed."""
    for seed in range(5):
        for day in (date(2026, 4, 2), date(2026, 10, 24)):
            assert staged.traits_on(day, seed).capacity_ah.argmin() == 10


def test_the_shown_spread_is_what_is_staged() -> None:
    """Highest less lowest error is 14 mV, nothing is shifted as a whole."""
    error = staged.wide_spread_v(0.014)

    assert error.max() - error.min() == pytest.approx(0.014)
    assert error.mean() == pytest.approx(0, abs=1e-12)
