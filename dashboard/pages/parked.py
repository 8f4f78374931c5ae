"""Parked: what the pack loses while it stands, and the day a laid-up pack runs low."""

from __future__ import annotations

from typing import Final

from dash import Dash, html
from dash.development.base_component import Component

from analysis.asking.book import Asked, Book
from analysis.asking.questions import ParkedPack, ask_parked
from analysis.estimate import Answer, Estimate, NoEstimate, Verdict
from analysis.season.parked import CAUTION, lay_up

from ..chooser import Chooser, Field, typed_number
from ..elements import (
    Fact,
    Given,
    Why,
    answer_fact,
    aside,
    caution,
    facts,
    section,
    sentence,
    story,
    table,
    title,
    verdict,
)
from ..quantities import NBSP, Units, number
from ..question_page import Question
from ..recency import date_words, local_time
from ..shell import Place
from ..store import Store
from ..wording import capital, worded

PATH: Final = "/parked"
TITLE: Final = "Parked"
GROUP: Final = "Pack"

CHOOSER: Final = Chooser("lay-up", (Field("percent", "Percent when it is laid up", "number"),))
CLAMP: Final = "clamp one reading with the key off, in milliamps, and note it in the Diary"


def ask(book: Book, _: Place) -> Asked[ParkedPack]:
    return ask_parked(book)


def draw(found: ParkedPack, store: Store, place: Place) -> list[Component]:
    usual = found.parked.usual_a
    return [
        sentence(opening(usual)),
        facts(_facts(found)),
        *(story(told) for told in [apart(usual, found.parked.by_percent_a)] if told),
        section("When it lost more", _episodes(found, store.units),
                caution(CAUTION) if found.parked.episodes else None),
        section("Laying it up", CHOOSER.block(place), _laid_up(found, place)),
        verdict(*_ending(usual)),
    ]


QUESTION: Final = Question("parked", ask, draw)


def layout(store: Store, place: Place) -> Component:
    return html.Div([title(TITLE), QUESTION.block(store, place)], className="page")


def register(app: Dash, store: Store) -> None:
    QUESTION.register(app, store)
    CHOOSER.register(app)


def opening(usual: Answer) -> str:
    """What a parked pack usually loses."""
    if isinstance(usual, NoEstimate):
        return "What the pack loses while it stands cannot be told yet."
    if usual.low <= 0:
        return (f"Parked, the pack usually loses less than {1000 * usual.high:.0f}{NBSP}mA: too "
                "little to be told by counting.")
    return (f"Parked, the pack usually loses about {1000 * usual.value:.0f}{NBSP}mA, or "
            f"{number(24 * usual.value, 1)}{NBSP}Ah a day.")


def apart(usual: Answer, by_percent: Answer) -> str:
    """Why the two figures differ, where they do; empty otherwise."""
    if (isinstance(usual, Estimate) and isinstance(by_percent, Estimate)
            and by_percent.high < usual.low):
        return ("The display's percent tells less: it does not count small amps. What was charged "
                "back tells the drain.")
    return ""


def _pairs(count: int) -> str:
    return f"{count} pair" + ("" if count == 1 else "s")


def _facts(found: ParkedPack) -> list[Fact]:
    why = Why("drain = (charge in × efficiency − charge out) ÷ hours nobody saw",
              (Given("full charges compared", _pairs(len(found.parked.intervals)), "measured"),
               Given("the pack holds", f"{found.capacity_ah:.0f}{NBSP}Ah", "typed")),
              "charge balance between two full charges; common practice, no source")
    return [answer_fact("Usual drain", _milliamps(found.parked.usual_a), told=why),
            answer_fact("As the display's percent tells it", _milliamps(
                found.parked.by_percent_a), told=Why(
                "percent lost between two logs × amp-hours of a full pack ÷ hours; the middle one",
                (Given("the pack holds", f"{found.capacity_ah:.0f}{NBSP}Ah", "typed"),),
                "a display's dead band hides a small drain; common practice, no source"))]


def _milliamps(answer: Answer) -> Answer:
    return answer.scaled(1000, "mA") if isinstance(answer, Estimate) else answer


def _episodes(found: ParkedPack, units: Units) -> Component:
    if not found.parked.episodes:
        return aside("Never, as far as these logs tell.")

    def day(unix_s: float) -> str:
        return date_words(local_time(unix_s, found.time_zone))

    return table("Stretches in which more was lost than usual; yes means that the logs prove it",
                 ("From", "Until", "What", "Sure?", "Next"), [
        (day(e.start_s), day(e.end_s), capital(worded(e.words, units)), e.verdict,
         worded(e.next, units)) for e in found.parked.episodes])


def _laid_up(found: ParkedPack, place: Place) -> Component | None:
    percent, usual = typed_number(place, "percent"), found.parked.usual_a
    if percent is None or not 0 <= percent <= 100:
        return None
    known = usual if isinstance(usual, Estimate) else Estimate(0.0, 0.0, 0.0, "A")
    return aside(lay_up(percent, known, found.capacity_ah,
                        local_time(found.last_s, found.time_zone)).words)


def _ending(usual: Answer) -> tuple[Verdict, str, str]:
    if isinstance(usual, NoEstimate):
        return "cannot tell yet", f"{usual.reason}.", usual.next
    if usual.low <= 0:
        return "cannot tell yet", "The drain is smaller than what counting can tell.", CLAMP
    return "yes", (f"It is known what parking costs: {1000 * usual.low:.0f} to "
                   f"{1000 * usual.high:.0f}{NBSP}mA, {100 * usual.coverage:.0f}{NBSP}% sure."
                   ), f"to be surer, {CLAMP}"
