"""Display: what the figures on a display mean, and whether they agree."""

from __future__ import annotations

from typing import Final

from dash import Dash, html
from dash.development.base_component import Component

from analysis.drive.explain import Explained, explain_figures
from analysis.estimate import Verdict
from analysis.one_log.agreement import Agreement, Reading

from ..chooser import Chooser, Field, typed_number
from ..elements import (
    Fact,
    Given,
    Why,
    answer_fact,
    aside,
    facts,
    section,
    sentence,
    title,
    verdict,
)
from ..quantities import MINUS, NBSP, unbroken
from ..shell import Place
from ..store import Store
from ..wording import capital

PATH: Final = "/display"
TITLE: Final = "Display"
GROUP: Final = "Drive"

TEACH: Final = "Type what the display shows, as many figures as you have."
CHOOSER: Final = Chooser("figures", (
    Field("amps", "Amps, with their sign", "number"),
    Field("percent", "Percent", "number"),
    Field("hours", "Hours left, such as 3:10"),
    Field("volts", "Volts", "number"),
    Field("capacity", "Amp-hours it is set to, if you know", "number"),
), button="What does it mean?")


def layout(store: Store, place: Place) -> Component:  # noqa: ARG001 - asks no logbook
    return html.Div([title(TITLE), *content(place)], className="page")


def register(app: Dash, store: Store) -> None:  # noqa: ARG001 - asks no logbook
    CHOOSER.register(app)


def content(place: Place) -> list[Component | None]:
    """The sentences, the fields and the verdict, or what to type."""
    reading, form = reading_of(place), CHOOSER.block(place)
    if reading == Reading():
        return [sentence(TEACH), form]
    told = explain_figures(reading)
    agreement = told.agreement
    first, *more = _opening(told).split(". ")
    return [sentence(first.rstrip(".") + "."), aside(unbroken(". ".join(more))) if more else None,
            facts(_facts(reading, agreement)) if agreement else None,
            _behind(agreement) if agreement and agreement.explanations else None,
            section("What the display shows", form), verdict(*_ending(told))]


def reading_of(place: Place) -> Reading:
    """The figures of the address; a true minus sign is one too."""
    typed = Place(query={name: text.replace(MINUS, "-") for name, text in place.query.items()})
    return Reading(typed_number(typed, "amps"), typed_number(typed, "percent"),
                   hours_of(typed.query.get("hours", "")), typed_number(typed, "volts"),
                   typed_number(typed, "capacity"))


def hours_of(text: str) -> float | None:
    """Hours from ``3:10``, ``3 h 10`` or ``3.2``; ``None`` if that is no time."""
    whole, colon, minutes = text.lower().replace("h", ":").replace(" ", "").partition(":")
    try:
        hours = float(whole.replace(",", ".")) + (float(minutes or 0) / 60 if colon else 0.0)
    except ValueError:
        return None
    return hours if 0 <= hours < 10_000 else None


def _opening(told: Explained) -> str:
    return told.sentences[0] if told.sentences else (
        told.agreement.words if told.agreement else TEACH)


def _facts(reading: Reading, agreement: Agreement) -> list[Fact]:
    """What two of the three figures say about the third."""
    given = tuple(Given(name, figure, "typed") for name, figure in (
        ("amps", _shown(reading.current_a, "A")), ("percent", _shown(reading.soc_pct, "%")),
        ("hours left", _shown(reading.hours_left, "h"))) if figure)
    return [answer_fact("A full pack would hold", agreement.implied_capacity_ah,
                        told=Why("amps × hours ÷ (percent ÷ 100)", given, "arithmetic")),
            answer_fact("Amps that the hours left stand for", agreement.implied_current_a,
                        told=Why("percent ÷ 100 × amp-hours ÷ hours", given, "arithmetic"))]


def _shown(value: float | None, unit: str) -> str:
    return "" if value is None else f"{value:g}{NBSP}{unit}".replace("-", MINUS)


def _behind(agreement: Agreement) -> Component:
    return section("What may be behind it, likeliest first", html.Ol([
        html.Li([f"{capital(unbroken(one.words))}.",
                 html.Span(f" To check: {one.check}.", className="small")])
        for one in agreement.explanations], className="plain"))


def _ending(told: Explained) -> tuple[Verdict, str, str]:
    agreement = told.agreement
    if agreement is None:
        return "cannot tell yet", "Nothing stands beside the amps to compare.", "type the others"
    checks = agreement.explanations
    return agreement.verdict, agreement.words, checks[0].check if checks else "nothing"
