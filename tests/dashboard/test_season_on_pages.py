"""The staged events of the invented season, as the pages of the pack tell them."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from analysis.cells.summary import CellReport, find_cells
from analysis.season.fills import FillCard, Fills, find_fills
from analysis.season.summary import Season, find_season
from dashboard.pages import cells, fills, seasons
from dashboard.quantities import NBSP
from dashboard.shell import Place
from dashboard.store import Store
from tests.analysis.lived_season import LivedSeason, lived_season
from tests.dashboard.test_pages import text_of

pytestmark = [pytest.mark.slow, pytest.mark.timeout(300)]


@pytest.fixture(scope="module")
def lived() -> LivedSeason:
    return lived_season(1)


@pytest.fixture(scope="module")
def season(lived: LivedSeason) -> Season:
    return find_season(lived.digests, rated_ah=105)


@pytest.fixture(scope="module")
def report(lived: LivedSeason) -> CellReport:
    return find_cells(lived.digests, capacity_ah=105, bleed_a=0.06)


@pytest.fixture(scope="module")
def filled(lived: LivedSeason) -> Fills:
    return find_fills(lived.digests)


def until(lived: LivedSeason, month: int, day: int) -> CellReport:
    """The cells as they could be told on that day."""
    end_s = datetime(2026, month, day, tzinfo=UTC).timestamp()
    return find_cells([d for d in lived.digests if d.start_s < end_s], capacity_ah=105,
                      bleed_a=0.06)


def day_of(card: FillCard) -> str:
    return f"{datetime.fromtimestamp(card.start_s, UTC):%m-%d}"


def test_in_october_the_small_cell_is_told_and_the_cured_one_is_history(
        report: CellReport, store: Store) -> None:
    """Cell 11 first at both ends: yes, with evidence; cell 6 and the tap of 3 and 4 are over."""
    told = text_of(cells.draw(report, store, Place()))

    assert "Cell 11 holds" in cells.opening(report)
    assert cells.ending(report)[0] == "yes"
    assert "evidence" in cells.ending(report)[2]
    assert "Cells 3 and 4" in told.split("Over, or not seen any more")[1]
    assert "long full charges have cured it" in told


def test_in_june_cell_six_is_curable_and_its_hours_are_told(lived: LivedSeason,
                                                            store: Store) -> None:
    """2.6 Ah at 60 mA are 43 hours of bleeding."""
    told = text_of(cells.draw(until(lived, 6, 10), store, Place(query={"bleed": "60"})))

    assert "Cell 6: out of balance" in told
    assert "Hours of bleeding needed" in told
    assert any(f"{hours}{NBSP}h" in told for hours in range(39, 51))


def test_the_season_tells_fade_cold_setting_and_brake(season: Season, store: Store) -> None:
    """A small loss, probably real; two cold mornings; each staged step by its day."""
    told = text_of(seasons.draw(season, store, Place()))

    assert seasons.ending(season)[0] == "yes"
    for words in ("probably real", "cold, not old", "from 105 to 100", "it is not the battery",
                  "does not respond to load", "set back by 3.0 days",
                  "though the display shows 0.0", "13 days without a charge to the top",
                  "the display saw the low end", "a joint was mended"):
        assert words in told


def test_early_stops_on_cell_six_end_in_july(filled: Fills) -> None:
    """From April to July the board stopped fills for cell 6, after that the tail came back."""
    early = sorted(day_of(card) for card in filled.cards if card.fill.ending == "first_cell")
    verdict, words, _ = fills.ending(filled)

    assert early[0] < "04-15"
    assert "06-25" < early[-1] < "07-15"
    assert {card.fill.order[0] for card in filled.cards if day_of(card) in early} == {6}
    assert verdict == "yes"
    assert "the charger, by its tail" in words


def test_thirteen_days_of_may_are_not_full(filled: Fills) -> None:
    """Fills of those days were cut short; the longest time since the top is two weeks."""
    may = [card for card in filled.cards if "05-02" <= day_of(card) <= "05-12"]

    assert {card.is_full for card in may} == {"no"}
    assert max(card.since_top_days for card in filled.cards
               if card.since_top_days == card.since_top_days) == pytest.approx(13.5, abs=1.0)


def test_the_traps_raise_nothing(report: CellReport, season: Season) -> None:
    """Head wind, a piano, a day of 14 mV spread: no finding of cells or season tells of them."""
    assert {f.cell for f in report.findings} == {3, 6, 11}
    assert {f.kind for f in season.findings} == {
        "circular_percent", "clock_step", "cold_not_old", "display_setting", "dragging",
        "early_charge_stop", "loose_sensor", "no_full_charge", "parked_drain",
        "percent_jump_knee", "zero_error"}
