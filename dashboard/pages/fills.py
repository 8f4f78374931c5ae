"""Fills: a report card for each charge: full or not, who stopped it, which cells were on top."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date
from itertools import groupby
from pathlib import PurePath
from typing import Final

from dash import Dash, dcc, html
from dash.development.base_component import Component

from analysis.asking.book import Asked, Book
from analysis.asking.questions import ask_fills
from analysis.estimate import Verdict
from analysis.season.fills import FillCard, Fills
from analysis.season.ledger import FULL_EVERY_DAYS, TOP_FORMULA

from ..elements import (
    Fact,
    Given,
    Why,
    aside,
    caution,
    facts,
    fold,
    picture,
    section,
    sentence,
    table,
    teach,
    title,
    verdict,
)
from ..figures.course import Point, course
from ..markup import aria
from ..quantities import NBSP, number
from ..question_page import Question
from ..recency import date_words, local_time, span_words
from ..shell import Place
from ..store import Store

PATH: Final = "/fills"
TITLE: Final = "Fills"
GROUP: Final = "Pack"

TEACH: Final = ("No fill is logged yet. Leave the recorder on while the pack charges, to the very "
                "end.")
#: With more cards than this, one month is shown at a time.
CARDS_MAX: Final = 40
#: So many cells are named in their order at the top.
CELLS_NAMED: Final = 3
#: So many cards stand open; the rest of a list is folded.
CARDS_OPEN: Final = 10
FULL_WORDS: Final[Mapping[Verdict, str]] = {"yes": "full", "no": "not full",
                                            "cannot tell yet": "cannot tell"}
FROST: Final = ("Charging iron phosphate below freezing harms it for good: keep to the maker's "
                "limits, even where the board would allow it.")


def ask(book: Book, _: Place) -> Asked[Fills]:
    return ask_fills(book)


def draw(fills: Fills, _: Store, place: Place) -> list[Component]:
    if not fills.cards:
        return [teach(TEACH), verdict("cannot tell yet", "No fill was seen.",
                                      "log one fill from beginning to end")]
    months = {month: list(part) for month, part in groupby(fills.cards, _month)}
    chosen = place.query.get("month", "")
    chosen = chosen if chosen in months else next(iter(months))
    shown = fills.cards if len(fills.cards) <= CARDS_MAX else months[chosen]
    ways = None if shown is fills.cards else html.Nav(
        [_way(month, month == chosen) for month in months], className="kinds",
        **aria(label="Months"))
    return [
        sentence(opening(fills.cards[0])),
        facts(_facts(fills)),
        section("Each fill, newest first", ways, *_cards(shown)),
        _apart(fills.cards),
        *([caution(FROST)] if any(c.fill.ending == "cold" for c in fills.cards) else []),
        verdict(*ending(fills)),
    ]


QUESTION: Final = Question("fills", ask, draw)


def layout(store: Store, place: Place) -> Component:
    return html.Div([title(TITLE), QUESTION.block(store, place)], className="page fills")


def register(app: Dash, store: Store) -> None:
    QUESTION.register(app, store)


def opening(card: FillCard) -> str:
    """How the last fill went."""
    told = {"yes": "filled the pack", "no": "did not fill the pack",
            "cannot tell yet": "may or may not have filled the pack"}[card.is_full]
    if card.fill.ending == "first_cell":
        why = f"the board stopped it for cell {card.fill.order[0]}"
    elif card.fill.ending == "tail":
        why = f"its amps fell away for {span_words(card.fill.tail_s)}"
    else:
        why = {"unseen": "nobody saw its end", "cold": "the board stopped it for the cold"}.get(
            card.fill.ending, f"it stopped from {number(card.fill.final_a, 0)}{NBSP}A")
    day = date_words(local_time(card.end_s, card.time_zone))
    return (f"The last fill, on {day}, {told}: "
            f"{number(card.fill.into_ah, 1)}{NBSP}Ah went in and {why}.")


def _facts(fills: Fills) -> list[Fact]:
    cards = fills.cards
    full = sum(card.is_full == "yes" for card in cards)
    top = sum(card.is_at_top for card in cards)
    early = sum(card.fill.ending == "first_cell" for card in cards)
    short = sum(card.fill.ending == "cut_short" for card in cards)
    tail = Why("from the last moment at 95 % of the usual amps until they stop", (
        Given("usual amps", f"{number(cards[0].fill.usual_a, 1)}{NBSP}A", "measured"),
        Given("last amps", f"{number(cards[0].fill.final_a, 1)}{NBSP}A", "measured")),
        "a charge of iron phosphate ends by its tail; common practice, no source")
    return [
        Fact("Ended full", f"{full} of {len(cards)}", "fills", "worked out",
             Why("full = the amps fell away by themselves, or the volts rose steeply at the end; "
                 "one cell at its limit is not a full pack", (),
                 "common practice, no source")),
        Fact("Came to the top", f"{top} of {len(cards)}", "ended full, or with one cell at its "
             "limit", "worked out", Why(TOP_FORMULA, (), "common practice, no source")),
        Fact("Stopped early by a cell", f"{early} of {len(cards)}", "fills", "worked out"),
        Fact("Cut short", f"{short} of {len(cards)}", "by a hand, a clock or the mains",
             "worked out"),
        Fact("Last tail", span_words(cards[0].fill.tail_s), "of the newest fill", "worked out",
             tail),
        _since(fills),
    ]


def _since(fills: Fills) -> Fact:
    """Days since the top, against what is usual."""
    label, days = "Last at the top", fills.since_top_days
    if math.isnan(days):
        return Fact(label, "never seen", "no log shows the pack full", "worked out")
    usual = f"once in {FULL_EVERY_DAYS:.0f}{NBSP}days keeps the cells and the percent together"
    return Fact(label, f"{days:.0f}{NBSP}days", f"before the last log ends; {usual}", "worked out",
                Why("end of the last log − last moment with a cell at its top, or a tail", (),
                    "a warranty clause asks for one every 10 days; common practice"))


def _month(card: FillCard) -> str:
    return f"{local_time(card.start_s, card.time_zone):%Y-%m}"


def _way(month: str, is_chosen: bool) -> Component:
    words = f"{date.fromisoformat(f'{month}-01'):%B %Y}"
    return html.Span(dcc.Link(words, href=f"{PATH}?month={month}"), className="kind",
                     **(aria(current="true") if is_chosen else {}))


def _cards(cards: Sequence[FillCard]) -> list[Component]:
    """The newest open, the others folded."""
    older = cards[CARDS_OPEN:]
    folded = [fold(f"{len(older)} before these", _table(older))] if older else []
    return [_table(cards[:CARDS_OPEN]), *folded]


def _table(cards: Sequence[FillCard]) -> Component:
    return table(
        "What the volts and amps say, whatever the display says; amp-hours until they stopped",
        ("When", "Full?", "Who stopped it", "In the tail", "Went in", "Highest cells",
         "Since the top"),
        [(dcc.Link(_when(card), href=f"/drives/{PurePath(card.log).stem}"),
          FULL_WORDS[card.is_full], card.who, span_words(card.fill.tail_s), _went_in(card),
          top_cells(card), _days(card.since_top_days)) for card in cards])


def _when(card: FillCard) -> str:
    start = local_time(card.start_s, card.time_zone)
    return f"{start:%a} {start.day} {start:%b}, {start:%H:%M}"


def _went_in(card: FillCard) -> str:
    begun, ended = card.fill.percent_start, card.fill.percent_end
    told = (f", {begun:.0f} to {ended:.0f}{NBSP}%"
            if math.isfinite(begun) and math.isfinite(ended) else "")
    return f"{number(card.fill.into_ah, 1)}{NBSP}Ah{told}"


def top_cells(card: FillCard) -> str:
    """The highest cells, and how far the first stands above the middle one."""
    if not card.fill.order:
        return "not told"
    named = ", ".join(map(str, card.fill.order[:CELLS_NAMED]))
    return f"{named}; {number(1000 * card.fill.above_v, 0)}{NBSP}mV above the middle"


def _days(days: float) -> str:
    return "not known" if math.isnan(days) else f"{number(days, 1)}{NBSP}days"


def _apart(cards: Sequence[FillCard]) -> Component:
    """How far one cell was ahead at the end of each fill."""
    leads = [(card, 1000 * card.fill.above_v) for card in cards
             if math.isfinite(card.fill.above_v)]
    points = [Point(card.end_s, lead_mv, lead_mv, lead_mv, card.fill.ending != "tail")
              for card, lead_mv in leads]
    if not points:
        return section("One cell ahead", aside("This monitor tells no single cells."))
    return section("One cell ahead", picture(
        "fills-apart", course(points, "mV above the middle cell"),
        "How far the highest cell stood above the middle one when each fill ended. Full dots "
        "ended by their tail, rings were stopped before. Near full, a lead of a few amp-hours "
        "shows as a hundred millivolts and more; rings that turn into dots are a cell that came "
        "level.", 240))


def ending(fills: Fills) -> tuple[Verdict, str, str]:
    """Is the pack being filled, by how many fills in a row, and what to do next."""
    last, alike = fills.cards[0], fills.alike
    what = "The last fill was" if alike == 1 else f"The last {alike} fills were"
    return last.is_full, f"{what} stopped by {last.who}.", fills.next
