"""Use by calendar day."""

from __future__ import annotations

import json
import math

import pytest

from analysis.season.day_use import use_by_day
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
