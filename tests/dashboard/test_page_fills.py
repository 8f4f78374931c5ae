"""The page Fills: how the last fill went, a card for each, a month at a time."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from analysis.estimate import Verdict
from analysis.incidents.charge_stop import HEADROOM
from analysis.incidents.fills import Fill, FillEnding
from analysis.season.fills import FillCard, Fills
from dashboard.pages import fills
from dashboard.quantities import NBSP
from dashboard.shell import Place
from dashboard.store import Store
from tests.dashboard.test_pages import text_of

DAY_S = 86_400.0
EARLY_NEXT = ("leave the charger on for hours after it stops, several times, and look whether the "
              "tail comes back")
JULY_S = 1_782_925_200.0  # 1 July 2026, 17:00 UTC


def card(day: float = 0.0, ending: FillEnding = "tail", is_full: Verdict = "yes",
         **more: object) -> FillCard:
    start_s = JULY_S + day * DAY_S
    fill = Fill(ending, 60.0, 3660.0, 24.9, 240.0, 25.4, 4.3, (6, 11, 3, 15), 3.6, 0.167, 80, 100)
    return FillCard("2026-07-01T17-00-00Z.parquet", start_s, start_s + 3600,
                    replace(fill, **more), is_full, 1.0)  # type: ignore[arg-type]


def book(*cards: FillCard) -> Fills:
    return Fills(tuple(sorted(cards, key=lambda one: -one.end_s)), 0.5, JULY_S + 20 * DAY_S)


def page(found: Fills, store: Store, **query: str) -> str:
    return text_of(fills.draw(found, store, Place(query=query)))


@pytest.mark.parametrize(("one", "words"), [
    (card(), f"filled the pack: 24.9{NBSP}Ah went in and its amps fell away for 4 min."),
    (card(ending="first_cell", is_full="no"), "did not fill the pack: 24.9"),
    (card(ending="first_cell", is_full="no"), "the board stopped it for cell 6."),
    (card(ending="cut_short", is_full="no", final_a=25.0), f"it stopped from 25{NBSP}A."),
    (card(ending="unseen", is_full="cannot tell yet"), "nobody saw its end."),
    (card(ending="cold", is_full="no"), "the board stopped it for the cold."),
])
def test_the_sentence_tells_how_the_last_fill_went(one: FillCard, words: str) -> None:
    """Day, full or not, amp-hours, and why it ended."""
    assert fills.opening(one).startswith("The last fill, on 1 July 2026, ")
    assert words in fills.opening(one)


def test_a_card_tells_who_tail_order_and_amp_hours(store: Store) -> None:
    """One row with everything; the way to its log."""
    told = page(book(card(ending="first_cell", is_full="no")), store)

    for words in ("not full", "the board, for cell 6", "4 min", f"24.9{NBSP}Ah",
                  f"80 to 100{NBSP}%", f"6, 11, 3; 167{NBSP}mV above the middle",
                  f"1.0{NBSP}days", "/drives/2026-07-01T17-00-00Z", "Wed 1 Jul, 17:00"):
        assert words in told


def test_fills_in_a_row_make_the_verdict() -> None:
    """Two early stops on one cell, then three tails: yes, by three; and what to do."""
    cards = [card(day, "first_cell", "no") for day in (0, 1)]
    cards += [card(day) for day in (2, 3, 4)]

    assert fills.ending(book(*cards[:2])) == (
        "no", "The last 2 fills were stopped by the board, for cell 6.", EARLY_NEXT)
    assert fills.ending(book(*cards))[:2] == (
        "yes", "The last 3 fills were stopped by the charger, by its tail.")


def test_who_brakes_into_a_full_pack_is_told_one_thing_by_every_page(store: Store) -> None:
    """Fills says what the season says: headroom, and now and then to the tail; an early stop by a
    cell is another matter."""
    for ending in ("tail", "cut_short"):
        assert fills.ending(replace(book(card(ending=ending)), brakes_into_full=True))[2] == (
            HEADROOM)
    early = replace(book(card(ending="first_cell", is_full="no")), brakes_into_full=True)

    assert fills.ending(early)[2] == EARLY_NEXT
    assert "fill to the tail" in HEADROOM


def test_full_and_to_the_top_are_two_counts(store: Store) -> None:
    """A fill that ended with one cell at its limit came to the top and is not full."""
    early = replace(card(1, "first_cell", "no"), is_at_top=True)
    told = page(book(replace(card(), is_at_top=True), early, card(2, "cut_short", "no")), store)

    assert told.index("Ended full") < told.index("1 of 3") < told.index("Came to the top")
    assert "2 of 3" in told
    assert "one cell stood at its limit" in told


def test_a_long_list_shows_a_month_at_a_time(store: Store) -> None:
    """Sixty daily fills: August first, July one step away; a senseless month changes nothing."""
    cards = book(*(card(float(day)) for day in range(60)))
    newest, july = page(cards, store), page(cards, store, month="2026-07")

    assert newest.count("the charger, by its tail") < 40
    assert july.count('"Wed 1 Jul, 17:00"') == 1
    assert newest.count("?month=") == 2
    assert page(cards, store, month="<b>") == newest


def test_a_short_list_is_shown_whole(store: Store) -> None:
    """Nothing to choose where everything fits."""
    assert "?month=" not in page(book(card(), card(40.0)), store)


def test_what_a_log_does_not_tell_is_said(store: Store) -> None:
    """No cells, no percent, no top before: words, not figures made up."""
    one = replace(card(order=(), above_v=math.nan, percent_start=math.nan), since_top_days=math.nan)
    told = page(replace(book(one), since_top_days=math.nan), store)

    for words in ("not told", "not known", "never seen", "tells no single cells"):
        assert words in told
    assert "nan" not in told


def test_frost_carries_its_caution(store: Store) -> None:
    """Where the board stopped for the cold, the page says what frost does."""
    assert "below freezing harms" in page(book(card(ending="cold", is_full="no")), store)
    assert "below freezing harms" not in page(book(card()), store)


def test_no_fill_teaches_the_next_step(store: Store) -> None:
    """An empty page says what to do."""
    told = page(Fills((), math.nan, JULY_S), store)

    assert "Leave the recorder on while the pack charges" in told
    assert "Cannot tell yet" in told


def test_times_are_those_on_the_wall(store: Store) -> None:
    """17:00 UTC on 1 July is 05:00 on 2 July in Auckland."""
    one = replace(card(), time_zone="Pacific/Auckland")

    assert "Thu 2 Jul, 05:00" in page(book(one), store)
    assert "on 2 July 2026" in fills.opening(one)


def test_the_newest_stand_open(store: Store) -> None:
    """Twelve fills: ten in sight, the two before them in a fold."""
    parts = fills._cards(book(*(card(float(day)) for day in range(12))).cards)

    assert text_of(parts[0]).count("the charger, by its tail") == fills.CARDS_OPEN
    assert "2 before these" in text_of(parts[1])
    assert text_of(parts[1]).count("the charger, by its tail") == 2
    assert len(fills._cards(book(card()).cards)) == 1
