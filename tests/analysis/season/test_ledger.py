"""The ledger and the efficiency of small invented logbooks."""

from __future__ import annotations

import json
import math

import pytest

from analysis.estimate import Estimate, NoEstimate
from analysis.season.day_use import DAY_S, ToldDay
from analysis.season.efficiency import find_efficiency
from analysis.season.ledger import make_ledger
from tests.analysis.made_packs import charged_full, digest, later, run_empty, steady, telemetry


def test_cycles_are_amp_hours_out_over_the_rating() -> None:
    """One discharge of 100 Ah from a pack rated at 105 Ah is 0.95 of a cycle."""
    ledger = make_ledger([charged_full(), run_empty()], 105.0)

    assert ledger.equivalent_full_cycles == pytest.approx(100 / 105, rel=0.01)
    assert (ledger.charges, ledger.full_charges) == (1, 1)
    assert ledger.peak_out_a == pytest.approx(25.0, abs=0.3)


def test_days_without_a_full_charge_are_flagged() -> None:
    """Fourteen days from one full charge to the next make 13 whole days without one."""
    first = charged_full()
    ledger = make_ledger([first, later(first, 14 * 24)], None)

    (stretch,) = ledger.without_full
    assert stretch.days == 13
    assert math.isnan(ledger.equivalent_full_cycles)


def test_a_week_without_one_is_not() -> None:
    """Seven days are usual."""
    first = charged_full()

    assert make_ledger([first, later(first, 7 * 24)], None).without_full == ()


def told_days(first_s: float, *days: int, high_pct: float = math.nan) -> list[ToldDay]:
    """Days typed so long after a moment, 21 Ah out and 10 km each."""
    midnight_s = first_s // DAY_S * DAY_S
    return [ToldDay(midnight_s + day * DAY_S, 21.0, distance_m=10_000.0, high_pct=high_pct)
            for day in days]


def test_typed_days_count_for_cycles_distance_and_full_charges() -> None:
    """Fourteen typed days that came to 100 %: 14 x 21 Ah of 105 Ah, 140 km, never long without."""
    first = charged_full()
    ledger = make_ledger([first, later(first, 15 * 24)], 105.0,
                         told_days(first.start_s, *range(1, 15), high_pct=100.0))

    assert (ledger.typed_days, ledger.typed_out_ah) == (14, pytest.approx(294.0))
    assert ledger.equivalent_full_cycles == pytest.approx(2.8, abs=0.01)
    assert ledger.distance_m == pytest.approx(140_000)
    assert (ledger.full_charges, ledger.without_full) == (16, ())


def test_typed_days_that_never_came_to_100_percent_are_flagged() -> None:
    """The same days at 90 % at most: two weeks without a full charge."""
    first = charged_full()
    (stretch,) = make_ledger([first, later(first, 15 * 24)], 105.0,
                             told_days(first.start_s, *range(1, 15), high_pct=90.0)).without_full

    assert stretch.days == 14


def test_a_laid_up_pack_needs_no_full_charge() -> None:
    """Five months from the last use to the first fill of spring are no fault; five weeks of daily
    use without one are, winter or not."""
    first = charged_full()
    spring = later(first, 150 * 24)

    assert make_ledger([first, spring], None).without_full == ()
    used = told_days(spring.start_s, *range(1, 36))
    (stretch,) = make_ledger([first, spring, later(spring, 36 * 24)], None, used).without_full
    assert stretch.days == 35


def test_ledger_is_plain_json() -> None:
    """What is not known becomes null, never NaN."""
    text = json.dumps(make_ledger([charged_full()], None).as_json(), allow_nan=False)

    assert json.loads(text)["equivalent_full_cycles"] is None


def test_what_comes_out_of_what_went_in() -> None:
    """Out and in by the same amp-hours are 100 %, in spite of a zero error of 0.35 A."""
    logs = [charged_full(zero_a=0.35)]
    for day in range(1, 5):
        drive = digest(telemetry(steady(-25.0, 2.0), 1.0, hours=24 * day, zero_a=0.35))
        logs += [drive, charged_full(24 * day + 6, zero_a=0.35)]

    found = find_efficiency(logs)

    assert isinstance(found.charge_pct, Estimate)
    assert found.charge_pct.low < 100 <= found.charge_pct.high + 1e-9
    assert found.charge_pct.value == pytest.approx(100, abs=1.0)
    assert isinstance(found.energy_pct, Estimate)
    assert found.energy_pct.value < found.charge_pct.value


def test_one_full_charge_gives_no_efficiency() -> None:
    """Between one full charge and nothing there is no balance."""
    assert isinstance(find_efficiency([charged_full(), run_empty()]).charge_pct, NoEstimate)


def test_what_is_lost_while_nobody_logs_is_no_waste_of_the_pack() -> None:
    """Ten cycles with 10 to 90 h between them, 0.05 A lost all along: still 100 %, and known to
    4 points; a plain quotient would say 95 %."""
    logs, hours = [charged_full()], 10.0
    for pause_h in (10, 20, 90, 30, 60, 15, 75, 40, 25, 50):
        drive = digest(telemetry(steady(-25.0, 2.0), 1.0, hours=hours + pause_h))
        hours += pause_h + 6.0
        logs += [drive, charged_full(hours, left=0.5 - 0.0005 * (pause_h + 4))]
        hours += 6.0

    found = find_efficiency(logs)

    assert isinstance(found.charge_pct, Estimate)
    assert found.charge_pct.value == pytest.approx(100, abs=0.8)
    assert found.charge_pct.half_width < 4


def test_months_without_logs_make_no_cycle() -> None:
    """A pack that was used unlogged for months and filled again tells nothing of its efficiency."""
    first = charged_full()

    assert isinstance(find_efficiency([first, later(first, 90 * 24)]).charge_pct, NoEstimate)
