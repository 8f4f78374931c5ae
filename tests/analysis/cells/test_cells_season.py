"""The staged events of cells, charges, brakes, sensors and parking, on five invented seasons."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from analysis.cells.story import CellFinding
from analysis.cells.summary import CellReport, find_cells
from analysis.drive.summary import summarise
from analysis.estimate import Estimate
from analysis.finding import DatedFinding
from analysis.limits import Limits
from analysis.season.happenings import find_happenings
from tests.analysis.lived_season import SEEDS, LivedSeason, lived_season

pytestmark = [pytest.mark.slow, pytest.mark.timeout(900)]
LIMITS = Limits(continuous_a=100, peak_a=200, peak_s=10, cell_high_v=3.6, cell_low_v=2.7,
                charge_min_c=0, breaker_a=50, breaker_v=48)


@pytest.fixture(scope="module", params=SEEDS)
def season(request: pytest.FixtureRequest) -> LivedSeason:
    return lived_season(request.param)


@pytest.fixture(scope="module")
def report(season: LivedSeason) -> CellReport:
    return find_cells(season.digests, capacity_ah=105)


@pytest.fixture(scope="module")
def happenings(season: LivedSeason) -> list[DatedFinding]:
    return find_happenings(season.digests)


def day(unix_s: float) -> date:
    return datetime.fromtimestamp(unix_s, UTC).date()


def cell(report: CellReport, number: int) -> CellFinding:
    return next(f for f in report.findings if f.cell == number)


def happening(happenings: list[DatedFinding], kind: str) -> DatedFinding:
    found = [f for f in happenings if f.kind == kind]
    assert len(found) == 1, found
    return found[0]


def test_only_the_three_staged_cells_are_told(report: CellReport) -> None:
    """Cell 6 out of balance, cell 11 small, the tap between 3 and 4; the leak stays too small."""
    told = {(f.cell, f.kind, f.verdict) for f in report.findings}

    assert told == {(6, "charge_offset", "yes"), (11, "low_capacity", "yes"),
                    (3, "sense_lead", "yes")}


def test_cell_six_was_fuller_and_is_cured(report: CellReport) -> None:
    """2.6 Ah ahead from the first full charge in April until the long fills of early July."""
    found = cell(report, 6)

    assert isinstance(found.size, Estimate)
    assert found.size.value == pytest.approx(2.6, abs=0.3)
    assert found.size.low < 2.6 < found.size.high
    assert not found.is_current
    assert day(found.first_s) <= date(2026, 4, 11)
    assert date(2026, 6, 29) <= day(found.last_s) <= date(2026, 7, 14)
    # 2.6 Ah at 60 mA are 43 h of bleeding.
    assert found.figures["bleeding_h"]["value"] == pytest.approx(43, abs=5)


def test_cell_eleven_is_small(report: CellReport) -> None:
    """In October it holds 101.9 Ah and its mates 108.4: 94 %, first at both ends."""
    found = cell(report, 11)

    assert isinstance(found.size, Estimate)
    assert found.size.low < 108.4 - 101.9 < found.size.high
    assert found.figures["share_of_mates_pct"] == pytest.approx(94, abs=1)
    assert found.is_current
    assert "both ends" in found.words
    assert found.figures["resistance_ratio"] == pytest.approx(0.95 / 0.66, abs=0.12)


def test_the_loose_tap_is_a_mirror_for_its_days_only(report: CellReport) -> None:
    """Cells 3 and 4 part by 18 mV either way from mid-September until it is re-seated."""
    found = cell(report, 3)

    assert isinstance(found.size, Estimate)
    assert found.figures["cells"] == [3, 4]
    assert found.size.low < 18 < found.size.high
    assert (day(found.first_s), day(found.last_s)) == (date(2026, 9, 15), date(2026, 9, 26))
    assert not found.is_current


def test_cut_out_on_the_ramp_is_over_current_and_no_cell(season: LivedSeason) -> None:
    """212 A for 11 s; the words say that a log with a sample a second can miss the cause."""
    logs = season.kept[date(2026, 4, 16), "drive"]
    found = [f for log in logs for f in summarise(log, limits=LIMITS).findings
             if f.kind.startswith("cut_out")]

    assert [(f.kind, f.verdict) for f in found] == [("cut_out_over_current", "yes")]
    assert isinstance(found[0].size, Estimate)
    assert found[0].size.value == pytest.approx(212, abs=1)
    assert "11 s" in found[0].words
    assert "not a cell" in found[0].words
    assert "a sample every 1 s" in found[0].words


def test_the_charge_of_that_day_stopped_on_cell_six(season: LivedSeason) -> None:
    """The finding tells who, how far ahead, and the hours of bleeding."""
    (log,) = season.kept[date(2026, 4, 16), "charge"]
    found = [f for f in summarise(log, limits=LIMITS).findings if f.kind == "early_charge_stop"]

    assert len(found) == 1
    assert "cell 6" in found[0].words
    assert isinstance(found[0].size, Estimate)
    assert found[0].size.low < 2.6 < found[0].size.high
    assert "h of bleeding" in found[0].words


def test_early_stops_end_with_the_long_fills(happenings: list[DatedFinding]) -> None:
    """Cell 6 stops charges from April to July, and none after."""
    found = happening(happenings, "early_charge_stop")

    assert "cell 6" in found.words
    assert day(found.start_s) == date(2026, 4, 9)
    assert date(2026, 6, 20) <= day(found.end_s) <= date(2026, 7, 14)


def test_the_breaker_is_explained_by_rms_and_heat(season: LivedSeason) -> None:
    """Worst four minutes 55 A: a 50 A thermal breaker at 48 °C carries less; 48 V is too low."""
    log = max(season.kept[date(2026, 5, 29), "drive"],
              key=lambda t: float(abs(t["current_a"]).max()))
    found = [f for f in summarise(log, limits=LIMITS, enclosure_c=48).findings
             if f.kind == "breaker_heat"]

    assert [f.verdict for f in found] == ["yes"]
    assert isinstance(found[0].size, Estimate)
    assert found[0].size.value == pytest.approx(55, abs=1.5)
    assert "too small" in found[0].words
    assert "too low in volts" in found[0].words


def test_the_parked_drain_behind_the_zero_error(happenings: list[DatedFinding]) -> None:
    """0.31 A from 3 to 12 August while the display shows 0.0 A; it asks for a clamp reading."""
    found = happening(happenings, "parked_drain")

    assert isinstance(found.size, Estimate)
    assert found.size.value == pytest.approx(0.31, abs=0.03)
    assert found.size.low < 0.31 < found.size.high
    assert "shows 0.0 A" in found.words
    assert "clamp" in found.next
    assert date(2026, 8, 1) <= day(found.start_s) <= date(2026, 8, 3)
    assert day(found.end_s) in (date(2026, 8, 12), date(2026, 8, 13))


def test_the_sensor_that_fell_off(happenings: list[DatedFinding]) -> None:
    """From 14 to 23 August the pack's sensor does not respond to load."""
    found = happening(happenings, "loose_sensor")

    assert date(2026, 8, 13) <= day(found.start_s) <= date(2026, 8, 15)
    assert date(2026, 8, 23) <= day(found.end_s) <= date(2026, 8, 24)
    assert "does not respond to load" in found.words


def test_the_dragging_brake(happenings: list[DatedFinding]) -> None:
    """19 to 21 October: 17 % more energy, shorter coast-down; neither wind nor piano is told."""
    found = happening(happenings, "dragging")

    assert found.verdict == "yes"
    assert (day(found.start_s), day(found.end_s)) == (date(2026, 10, 19), date(2026, 10, 21))
    assert isinstance(found.size, Estimate)
    assert found.size.low < 17 < found.size.high
    assert "not the battery" in found.words


@pytest.mark.parametrize("trap", [date(2026, 7, 22), date(2026, 7, 29), date(2026, 9, 8)])
def test_the_traps_raise_nothing(season: LivedSeason, happenings: list[DatedFinding],
                                 trap: date) -> None:
    """A piano, a day of 14 mV in mid-range and a head wind are no faults."""
    told = [f.kind for log in season.kept[trap, "drive"]
            for f in summarise(log, limits=LIMITS).findings if f.verdict == "yes"
            and f.kind != "breaker_heat"]
    days = [f.kind for f in happenings if day(f.start_s) == trap]

    assert (told, days) == ([], [])
    cells = find_cells([d for d in season.digests if day(d.start_s) == trap], capacity_ah=105)
    assert [f for f in cells.findings if f.verdict == "yes"] == []
