"""Use by calendar day."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime

import pytest

from analysis.season.day_use import DAY_S, ToldDay, day_of, use_by_day, use_by_year
from tests.analysis.made_packs import charged_full, digest, later, run_empty, steady, telemetry


def test_a_day_holds_what_all_its_logs_took_out() -> None:
    """Two discharges of 100 Ah on one day and one on the next; a charge is no use."""
    one = digest(telemetry(steady(-25.0, 1.0), 1.0, hours=0.0))
    days = use_by_day([one, later(one, 3), charged_full(5), later(one, 24)])

    assert [day.out_ah for day in days] == pytest.approx([50.0, 25.0], rel=0.01)
    assert days[1].day_s - days[0].day_s == 86_400.0


def test_a_day_without_distance_says_so() -> None:
    """Not known is not zero: NaN in figures, null in documents."""
    (day,) = use_by_day([run_empty()])

    assert math.isnan(day.distance_m)
    assert json.loads(json.dumps(day.as_json(), allow_nan=False))["distance_m"] is None


def test_a_charge_is_no_use() -> None:
    """The noise of its rests, a few milliamp-hours out, makes no day of use."""
    assert use_by_day([charged_full()]) == ()


def test_a_typed_day_counts_where_no_log_has_use() -> None:
    """Measured goes before typed: the day of the discharge keeps its 100 Ah, the next is typed."""
    log = run_empty()
    day_s = log.start_s // DAY_S * DAY_S
    first, second = use_by_day([log], [ToldDay(day_s, out_ah=7.0),
                                       ToldDay(day_s + DAY_S, 12.0, 620.0, 6500.0)])

    assert (first.out_ah, first.is_typed) == (pytest.approx(100, rel=0.01), False)
    assert (second.out_ah, second.distance_m, second.is_typed) == (12.0, 6500.0, True)
    assert second.as_json()["badge"] == "typed"


def test_a_typed_day_without_use_is_none() -> None:
    """Percent alone tells nothing of use."""
    assert use_by_day([], [ToldDay(0.0, high_pct=100.0)]) == ()


def test_years_add_up_and_energy_by_distance_takes_days_that_tell_both() -> None:
    """Two typed days of 2027 and one of 2028; the one without a distance counts for charge only."""
    days = [ToldDay(1_800_000_000 // DAY_S * DAY_S, 10.0, 500.0, 5000.0),
            ToldDay(1_800_100_000 // DAY_S * DAY_S, 20.0, 1000.0),
            ToldDay(1_835_000_000 // DAY_S * DAY_S, 30.0, 1500.0, 10_000.0)]

    first, last = use_by_year(use_by_day([], days), 105.0)

    assert (first.year, first.days, first.typed_days, first.out_ah) == (2027, 2, 2, 30.0)
    assert (first.wh_per_km, first.distance_m) == (100.0, 5000.0)
    assert math.isnan(first.used_h)
    assert (last.year, last.wh_per_km) == (2028, 150.0)
    assert last.full_cycles == pytest.approx(30 / 105)
    assert json.dumps([year.as_json() for year in (first, last)], allow_nan=False)


def test_an_evening_in_california_is_of_its_own_day() -> None:
    """19:00 on 3 May in Los Angeles is 02:00 UTC of the 4th, and counts for the 3rd."""
    evening_s = datetime(2026, 5, 4, 2, tzinfo=UTC).timestamp()

    assert day_of(evening_s, "America/Los_Angeles") == datetime(2026, 5, 3, tzinfo=UTC).timestamp()
    assert day_of(evening_s, "UTC") == datetime(2026, 5, 4, tzinfo=UTC).timestamp()
