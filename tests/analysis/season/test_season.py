"""The invented season: what is staged in it is found, and nothing else is cried out."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from analysis.cells.summary import CellReport, find_cells
from analysis.digest import LogDigest
from analysis.estimate import Estimate, NoEstimate
from analysis.limits import Limits
from analysis.season.day_use import DAY_S
from analysis.season.findings import ChangePoint, SeasonFinding, far_apart
from analysis.season.summary import Season, find_season
from analysis.season.text import season_text
from collector.simulator.later_years import SPRING_FILLS, TESTS
from collector.simulator.staged import truth_on
from tests.analysis.lived_season import SEEDS, lived_season, lived_years
from tests.analysis.made_packs import charged_full, digest, later, run_empty, steady, telemetry

RATED_AH = 105.0
#: Kinds that the season stages; anything else is a false alarm.
STAGED = {"circular_percent", "percent_jump_knee", "no_full_charge", "zero_error", "clock_step",
          "display_setting", "cold_not_old"}
#: Kinds that other modules find in it, and test.
HAPPENINGS = {"early_charge_stop", "parked_drain", "loose_sensor", "dragging"}


def day(moment_s: float) -> str:
    return datetime.fromtimestamp(moment_s, UTC).date().isoformat()


def only(season: Season, kind: str) -> SeasonFinding:
    (found,) = [f for f in season.findings if f.kind == kind]
    return found


def changes(season: Season, kind: str) -> list[ChangePoint]:
    return [change for change in season.change_points if change.kind == kind]


@pytest.mark.slow
@pytest.mark.timeout(600)
@pytest.mark.parametrize("seed", SEEDS)
def test_the_whole_season_reads_as_it_was_staged(seed: int) -> None:
    """Every staged event of the season is found with its date and size, on each seed."""
    logbook = lived_season(seed).digests
    season = find_season(logbook, rated_ah=RATED_AH)
    check_percent(season)
    check_zero(season)
    check_capacity(season)
    check_fade(logbook, season)
    check_setting(season)
    check_cold(season)
    check_ledger(season)
    assert {finding.kind for finding in season.findings} <= STAGED | HAPPENINGS


def check_percent(season: Season) -> None:
    """41 to 12 on 9 April: corrected at the knee, fill fully."""
    knee = only(season, "percent_jump_knee")
    assert day(knee.start_s) == "2026-04-09"
    assert "fill fully" in knee.next
    assert isinstance(knee.size, Estimate)
    assert knee.size.value < -25


def check_zero(season: Season) -> None:
    """+0.35 A from 11 May, 8.4 Ah a day."""
    zero = only(season, "zero_error")
    assert (day(zero.start_s), zero.verdict) == ("2026-05-11", "yes")
    assert isinstance(zero.size, Estimate)
    assert zero.size.low < 0.35 < zero.size.high
    assert zero.size.low * 24 < 8.4 < zero.size.high * 24


def check_capacity(season: Season) -> None:
    """Both tests and what the fill of April tells hold the truth of their day."""
    assert [c.span.method for c in season.capacity] == [
        "low to full", "full test", "refill", "full test", "refill"]
    for capacity in season.capacity:
        truth = truth_on(datetime.fromtimestamp(capacity.span.end_s, UTC).date())
        # Until cell 6 is level in July it stops the charge before the pack is full.
        held_ah = (truth.fresh_capacity_ah if day(capacity.span.end_s) < "2026-07-01"
                   else truth.level_capacity_ah)
        assert isinstance(capacity.ah, Estimate)
        assert capacity.ah.low < held_ah < capacity.ah.high
    first, last = season.capacity[1].ah, season.capacity[3].ah
    assert isinstance(first, Estimate)
    assert isinstance(last, Estimate)
    assert first.value == pytest.approx(103.1, abs=0.4)
    assert last.value == pytest.approx(101.9, abs=0.4)


def check_fade(logbook: list[LogDigest], season: Season) -> None:
    """Not yet distinguishable in July; about -2.3 Ah and probably real in October; no date."""
    july = find_season([d for d in logbook if day(d.end_s) <= "2026-07-20"], rated_ah=RATED_AH)
    assert july.fade.verdict == "cannot tell yet"
    assert "not yet distinguishable" in july.fade.words
    assert isinstance(july.fade.ah_per_year, NoEstimate)
    assert season.fade.verdict == "yes"
    assert "probably real" in season.fade.words
    assert isinstance(season.fade.change_ah, Estimate)
    assert season.fade.change_ah.low < -2.3 < season.fade.change_ah.high
    assert isinstance(season.fade.eighty_percent, NoEstimate)


def check_setting(season: Season) -> None:
    """Capacity setting 105 to 100 on 26 August: ratio 1.05, no amps."""
    (step,) = changes(season, "display_setting")
    assert day(step.moment_s) == "2026-08-26"
    assert (step.before, step.after) == pytest.approx((105.0, 100.0), abs=0.2)
    assert step.before / step.after == pytest.approx(1.05, abs=0.003)
    assert "no amps" in step.words


def check_cold(season: Season) -> None:
    """12 October: resistance about 45 % up, cold and not old; no trend is made of it."""
    october = [f for f in season.findings
               if f.kind == "cold_not_old" and day(f.start_s) > "2026-09"]
    assert [day(f.start_s) for f in october] == ["2026-10-12"]
    assert isinstance(october[0].size, Estimate)
    assert october[0].size.low < 45 < october[0].size.high
    lug = changes(season, "resistance")
    assert [day(c.moment_s) for c in lug] == ["2026-04-27", "2026-05-04"]
    assert lug[0].after > lug[0].before


def check_ledger(season: Season) -> None:
    """13 days without a full charge in May, give or take the first; clock back 3 days kept."""
    gap = only(season, "no_full_charge")
    assert "2026-05-01" <= day(gap.start_s) <= "2026-05-02"
    assert isinstance(gap.size, Estimate)
    assert gap.size.low <= 13 <= gap.size.high
    clock = only(season, "clock_step")
    assert day(clock.start_s) == "2026-07-08"
    assert isinstance(clock.size, Estimate)
    assert clock.size.value == pytest.approx(-3 * 86400, abs=2)
    assert 38 < season.ledger.equivalent_full_cycles < 44


def invented_year(tests: int = 2) -> list[LogDigest]:
    """A full charge and a discharge to empty every few months."""
    logs: list[LogDigest] = []
    for number in range(tests):
        logs += [charged_full(number * 2400), run_empty(number * 2400 + 6)]
    return logs


def test_two_capacities_draw_no_line() -> None:
    """Two tests give a difference, no rate and no date."""
    fade = find_season(invented_year(2), rated_ah=RATED_AH).fade

    assert isinstance(fade.ah_per_year, NoEstimate)
    assert isinstance(fade.change_ah, Estimate)
    assert fade.verdict == "cannot tell yet"
    assert "at the earliest" in fade.words


def test_no_capacity_is_no_verdict() -> None:
    """Drives on the flat of the curve say nothing about capacity, and what would is told."""
    drive = digest(telemetry(steady(-25.0, 1.0), 0.8))
    season = find_season([drive, later(drive, 24)])

    assert isinstance(season.capacity_now, NoEstimate)
    assert "fill fully" in season.capacity_now.next
    assert season.fade.verdict == "cannot tell yet"


def test_document_holds_the_agreed_keys() -> None:
    """The JSON has the keys of the contract, dates in UTC."""
    document = find_season(invented_year(3), rated_ah=RATED_AH).as_json()

    assert document["schema"] == "packhand.season/1"
    assert {"capacity", "fade", "resistance", "change_points", "equivalent_full_cycles",
            "days_since_full", "ledger"} <= set(document)
    assert set(document["capacity"][0]) == {"time", "ah", "method", "log"}
    assert {"ah_per_year", "percent_since_first", "verdict", "words",
            "eighty_percent_date"} <= set(document["fade"])
    assert document["capacity"][0]["time"].endswith("Z")


def test_words_come_first() -> None:
    """The text begins with the pack and what can be said of its fade."""
    lines = season_text(find_season(invented_year(3), rated_ah=RATED_AH)).splitlines()

    assert lines[0].startswith("main, 2 April 2026")
    assert "Fade" in lines[1] or "lost" in lines[1]


def test_what_happened_is_told_by_date_and_in_degrees() -> None:
    """Findings, limits and steps in one order of time; nobody reads kelvins off a thermometer."""
    season = find_season(invented_year(3), rated_ah=RATED_AH)
    one = SeasonFinding("loose_sensor", "yes", 3 * DAY_S, "it used to warm by 24 K in all",
                        NoEstimate("", ""), "fix it")
    step = ChangePoint("sign", DAY_S, -1.0, 1.0, "", "plus is out from here on")
    told = season_text(replace(season, findings=(one,), change_points=(step,)))

    assert told.index("2 January 1970: plus is out") < told.index("4 January 1970: it used to warm")
    assert "by 24 °C in all" in told


@pytest.mark.scenario(15)
def test_a_log_years_from_all_others_is_asked_about() -> None:
    """A wrong clock dates it; a pack that rested a year between two seasons is not asked."""
    logs = invented_year(3)
    stray = later(charged_full(), -26 * 365 * 24.0)
    rested = [*logs, *(later(log, 500 * 24.0) for log in invented_year(3))]

    [found] = far_apart([stray, *logs])
    assert (found.start_s, found.verdict) == (stray.start_s, "cannot tell yet")
    assert "was the computer's clock right" in found.words
    assert "packhand correct clock" in found.next
    assert [f.start_s for f in far_apart([*logs, later(charged_full(), 9000 * 24.0)])]
    assert far_apart(rested) == far_apart(logs) == []


def test_limits_stand_among_the_findings_by_their_date() -> None:
    """Whatever is found comes in order of time."""
    found = find_season(invented_year(3), rated_ah=RATED_AH, limits=Limits(continuous_a=1.0))
    starts = [finding.start_s for finding in found.findings]

    assert len({finding.kind for finding in found.findings}) > 1
    assert starts == sorted(starts)


# Three seasons: one of recorded drives, two of typed days and tests.

@pytest.fixture(scope="module", params=SEEDS, name="seed_of_years")
def the_seed(request: pytest.FixtureRequest) -> int:
    return int(request.param)


@pytest.fixture(scope="module")
def years(seed_of_years: int) -> Season:
    digests, told = lived_years(seed_of_years)
    return find_season(digests, rated_ah=RATED_AH, told=told)


@pytest.fixture(scope="module")
def cells(seed_of_years: int) -> CellReport:
    return find_cells(lived_years(seed_of_years)[0], capacity_ah=RATED_AH)


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_each_test_holds_the_truth_of_its_day(years: Season) -> None:
    """Eight tests in all, the last two autumns 99.8 and 97.9 Ah."""
    tests = {date.fromisoformat(day(c.span.end_s)): c.ah for c in years.capacity
             if c.span.method == "full test"}

    assert set(TESTS) < set(tests)
    assert len(tests) == 8
    for when, found in tests.items():
        assert isinstance(found, Estimate)
        assert found.low < truth_on(when).level_capacity_ah < found.high
    assert tests[TESTS[2]].value == pytest.approx(99.8, abs=0.5)  # type: ignore[union-attr]
    assert tests[TESTS[5]].value == pytest.approx(97.9, abs=0.5)  # type: ignore[union-attr]


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_fade_by_year_and_by_cycle(years: Season) -> None:
    """From 104.2 Ah in April 2026 to 97.9 Ah in October 2028: 6.3 Ah in 2.55 years and about 105
    full cycles between the first and the last test; both rates lie in their intervals."""
    fade = years.fade

    assert fade.verdict == "yes"
    assert isinstance(fade.ah_per_year, Estimate)
    assert fade.ah_per_year.low < -6.3 / 2.55 < fade.ah_per_year.high
    assert fade.ah_per_year.half_width < 1.0
    assert isinstance(fade.ah_per_100_cycles, Estimate)
    assert fade.ah_per_100_cycles.low < -6.3 / 1.05 < fade.ah_per_100_cycles.high


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_no_date_is_forecast_that_the_span_does_not_support(years: Season) -> None:
    """84 Ah are eight years off at this rate, more than twice the two and a half observed."""
    assert isinstance(years.fade.eighty_percent, NoEstimate)
    assert "further ahead than twice" in years.fade.eighty_percent.reason


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_typed_days_count_and_say_so(years: Season) -> None:
    """About 336 typed days, two thirds of all cycles; 92 Wh/km with the new controller."""
    first, *others = years.years

    assert (first.typed_days, [year.year for year in others]) == (0, [2027, 2028])
    assert all(150 < year.typed_days < 175 for year in others)
    assert years.ledger.typed_days == sum(year.typed_days for year in others)
    assert 105 < years.ledger.equivalent_full_cycles < 118
    assert all(88 < year.wh_per_km < 96 for year in others)
    assert "of them typed" in season_text(years)


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_the_zero_error_is_told_with_both_its_days(years: Season) -> None:
    """From 11 May 2026 until it was set anew at the first fill of 2027."""
    (zero,) = [f for f in years.findings if f.kind == "zero_error"]

    assert day(zero.start_s) == "2026-05-11"
    assert "at rest until 3 April 2027" in zero.words
    assert isinstance(zero.size, Estimate)
    assert zero.size.low < 0.35 < zero.size.high


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_lay_up_and_unlogged_months_are_no_fault(years: Season) -> None:
    """After season one nothing new is cried out: no drain, no stretch without a full charge."""
    assert [f.kind for f in years.findings if f.start_s > datetime(
        2026, 10, 27, tzinfo=UTC).timestamp()] == []
    assert isinstance(years.efficiency.charge_pct, Estimate)
    assert years.efficiency.charge_pct.low < 100
    assert years.efficiency.charge_pct.value > 98.5


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_cell_14_leaks_and_has_not_lost_capacity(cells: CellReport) -> None:
    """Two amp-hours low at the first fill of a spring: 0.6 mA, 0.44 Ah a month."""
    (found,) = [f for f in cells.findings if f.cell == 14]

    assert (found.kind, found.verdict) == ("self_leak", "yes")
    assert isinstance(found.size, Estimate)
    assert found.size.low < 0.0006 * 24 * 30.44 < found.size.high
    assert "not lost capacity" in found.words
    assert day(found.last_s) in map(str, SPRING_FILLS)


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_cell_11_goes_on_shrinking(cells: CellReport) -> None:
    """97.9 of 105.4 Ah in the end: 93 % of its mates."""
    (found,) = [f for f in cells.findings if f.cell == 11]

    assert (found.kind, found.is_current) == ("low_capacity", True)
    assert isinstance(found.size, Estimate)
    assert found.size.low < 105.4 - 97.9 < found.size.high
    assert found.figures["share_of_mates_pct"] == pytest.approx(93, abs=1)


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_no_other_cell_is_told(cells: CellReport) -> None:
    """Cells 6 and 3 from season one, 11 and 14: nobody else."""
    assert {(f.cell, f.kind) for f in cells.findings} == {
        (3, "sense_lead"), (6, "charge_offset"), (11, "low_capacity"), (14, "self_leak")}
