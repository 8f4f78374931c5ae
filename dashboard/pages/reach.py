"""Reach: how far and how long what is left lasts, what if, and how such forecasts have held."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from dash import Dash, dcc, html
from dash.development.base_component import Component

from analysis.ahead.range_ahead import Ahead
from analysis.ahead.range_answer import RangeAnswer
from analysis.ahead.range_text import CAUTION
from analysis.ahead.trust import (
    kept_word,
    kept_words,
    miss_words,
    off_lately,
    off_words,
    reaches,
)
from analysis.asking.book import Asked, Book
from analysis.asking.questions import ask_range
from analysis.estimate import Answer, Estimate, NoEstimate, Verdict
from analysis.phrases import hours_text

from .. import wishing
from ..chooser import Chooser
from ..elements import (
    Fact,
    Given,
    Why,
    answer_fact,
    aside,
    caution,
    digits_for,
    facts,
    picture,
    section,
    sentence,
    title,
    verdict,
)
from ..figures import kept_word as forecasts
from ..figures.ranges import Ranged, height_px, ranges
from ..lengths import per_way, way
from ..markup import aria
from ..quantities import NBSP, Units, number, unbroken
from ..question_page import Question
from ..shell import Place
from ..store import Store
from ..wording import capital, worded

PATH: Final = "/reach"
TITLE: Final = "Reach"
GROUP: Final = "Ahead"

FORECAST: Final = ("own drives, the newer the heavier; interval by how earlier forecasts missed "
                   "(adaptive conformal prediction, I. Gibbs and E. Candès, NeurIPS 2021)")


@dataclass(frozen=True, slots=True)
class Reach:
    """The answer as asked, and as usual where something else was asked."""

    asked: RangeAnswer
    usual: RangeAnswer | None


def ask(book: Book, place: Place) -> Asked[Reach]:
    wish = wishing.wish_of(place)
    found = ask_range(book, wish)
    usual = replace(wish, met=None, climb_m=None, speed_kmh=None, route="")
    return Asked(Reach(found.answer, ask_range(book, usual).answer if usual != wish else None),
                 found.left_out)


def draw(found: Reach, store: Store, place: Place) -> list[Component]:
    units, answer = store.units, found.asked
    fields = wishing.chooser(units, store.vehicle_kind, has_way=has_way(found.usual or answer),
                             ways=answer.ways)
    shown = [
        sentence(opening(answer, units)),
        *([aside(words)] if (words := off_words(leading(answer).backtest)) else []),
        facts(_facts(answer, units)),
        _without_way(found.usual or answer),
        section("What if", fields.block(place), _ways(fields, place, answer), _both(found, units)),
        section("How such forecasts have held", *_held(leading(answer), units)),
        caution(CAUTION),
        verdict(*ending(answer, place, units)),
    ]
    return [part for part in shown if part]


QUESTION: Final = Question("reach", ask, draw, wishing.CHOICES)


def layout(store: Store, place: Place) -> Component:
    return html.Div([title(TITLE), QUESTION.block(store, wishing.in_si(place, store.units))],
                    className="page")


def register(app: Dash, store: Store) -> None:
    QUESTION.register(app, store)
    wishing.chooser(store.units).register(app)


def leading(answer: RangeAnswer) -> Ahead:
    """By distance where that is known, else by time."""
    return answer.km if isinstance(answer.km.rate, Estimate) else answer.hours


def has_way(answer: RangeAnswer) -> bool:
    """Whether distances are worth a row: a boat that logs none is told hours."""
    return isinstance(answer.km.rate, Estimate) or isinstance(answer.hours.rate, NoEstimate)


def _without_way(answer: RangeAnswer) -> Component | None:
    """Once, why no distance is told."""
    rate = answer.km.rate
    if has_way(answer) or isinstance(rate, Estimate):
        return None
    return aside(f"In hours, for no drive tells how far it went. To know distances, {rate.next}.")


def opening(answer: RangeAnswer, units: Units) -> str:
    """What is left, with its interval and what is assumed."""
    left = way(leading(answer).left, units)
    told = wishing.assumed(answer.wish, units)
    over = (f"with {number(answer.wish.reserve_pct, 0)}{NBSP}% kept in reserve"
            + (f", {told}" if told else ""))
    if isinstance(left, NoEstimate):
        return f"How far it goes cannot be told yet: {left.reason}."
    return f"About {_span(left)}, {over}."


def _span(left: Estimate) -> str:
    if left.unit == "h":
        return (f"{hours_text(left.value)} of use left ({hours_text(left.low)} to "
                f"{hours_text(left.high)})")
    digits = 0 if left.value >= 10 else 1
    low, value, high = (number(x, digits) for x in (left.low, left.value, left.high))
    return f"{value}{NBSP}{left.unit} left ({low} to {high})"


def ending(answer: RangeAnswer, place: Place, units: Units) -> tuple[Verdict, str, str]:
    """Whether the way that is wanted fits; else whether such forecasts can be relied on."""
    for name, ahead, unit in (("way_km", answer.km, "km"), ("way_h", answer.hours, "h")):
        wanted = wishing.bounded(place, name)
        if wanted is not None:
            fits = _fits(way(ahead.left, units), Estimate(wanted, wanted, wanted, unit), units)
            newest = off_lately(ahead.backtest)
            doubted = "yes" if newest > 0 else "no" if newest else ""
            return _changed(ahead) if fits[0] == doubted else fits
    left = way(leading(answer).left, units)
    if isinstance(left, NoEstimate):
        return "cannot tell yet", capital(f"{left.reason}."), left.next
    if off_lately(leading(answer).backtest):
        return _changed(leading(answer))
    found = kept_word(leading(answer).backtest)
    told = {"yes": "Such forecasts can be relied on as far as their interval says.",
            "no": "Such forecasts held less often than they should: count on less.",
            "cannot tell yet": "Too few forecasts came due to say how well they hold."}[found]
    return found, told, ("type how far you want to go above" if found == "yes" else
                         "log more drives, and note load, wind and air before them")


def _changed(ahead: Ahead) -> tuple[Verdict, str, str]:
    way_off = "more" if off_lately(ahead.backtest) > 0 else "less"
    return "cannot tell yet", (
        f"The newest stretches took {way_off} than foretold: what is foretold now is in doubt."), (
        "look under Seasons for what has changed, and keep a larger reserve until then")


def _fits(left: Answer, wanted: Estimate, units: Units) -> tuple[Verdict, str, str]:
    told = way(wanted, units)
    found, asked = reaches(left, told.value), f"{told.value:.3g}{NBSP}{told.unit}"
    if isinstance(left, NoEstimate):
        return found, f"Whether {asked} fit is not known: {left.reason}.", left.next
    words = {"yes": f"{asked} fit within the interval, 90{NBSP}% sure.",
             "no": f"{asked} are more than is left, 90{NBSP}% sure.",
             "cannot tell yet": f"{asked} may fit and may not: they lie within the interval."}
    then = {"yes": "look again halfway", "no": "charge first, or go less far",
            "cannot tell yet": "charge first, or turn back when half of the percent above the "
                               "reserve is used"}
    return found, words[found], then[found]


def _facts(answer: RangeAnswer, units: Units) -> Iterator[Fact]:
    is_typed = answer.wish.percent is not None
    rests = (_given("usable energy", answer.usable_wh), _given("rate", per_way(
        answer.km.rate, units)))
    yield answer_fact("Left in the pack", answer.percent, 0,
                      badge="typed" if is_typed else "worked out",
                      told=None if is_typed else Why(
                          "amp-hours counted since the last full charge, ÷ what the pack holds", (),
                          "charge balance; common practice, no source"))
    if has_way(answer):
        yield answer_fact("Distance left", way(answer.km.left, units), told=Why(
            "usable energy ÷ energy for each distance", rests, FORECAST))
    yield answer_fact("Time in use left", way(answer.hours.left, units), told=Why(
        "usable energy ÷ energy for each hour", rests[:1], FORECAST))
    yield answer_fact("Drives like the last ones", way(answer.drives.left, units))
    yield answer_fact("Usable energy", answer.usable_wh, told=Why(
        "what the pack holds × mean volts of the last drives × percent above the reserve",
        (_given("the pack holds", answer.capacity_ah),
         Given("reserve", f"{number(answer.wish.reserve_pct, 0)}{NBSP}%", "typed"))))
    yield answer_fact("The next drive takes", per_way(leading(answer).rate, units))
    yield answer_fact("The pack holds", answer.capacity_ah, badge=answer.capacity_is, told=Why(
        worded("amp-hours counted ÷ share of the scale, at the temperatures that the pack had; "
               "Seasons tells it at 20 °C", units)) if answer.capacity_is == "measured" else None)
    if has_way(answer):
        yield answer_fact("From full to empty", way(answer.full_range_km, units))
    if answer.climb_wh:
        yield answer_fact("The climb takes", answer.climb_wh, told=Why(
            "mass × 9.81 m/s² × height ÷ efficiency of the drive (0.5 to 0.9)", (),
            "work of lifting; efficiency: common practice, no source"))
    if answer.pace:
        yield answer_fact("At that speed it takes, against the usual", _hundred(answer.pace, units))


def _hundred(pace: Answer, units: Units) -> Answer:
    return pace.scaled(100, "%") if isinstance(pace, Estimate) else way(pace, units)


def _given(name: str, answer: Answer) -> Given:
    figure = ("not known" if isinstance(answer, NoEstimate) else
              f"{number(answer.value, digits_for(answer.half_width))}{NBSP}{answer.unit}")
    return Given(name, figure, "worked out")


def _ways(fields: Chooser, place: Place, answer: RangeAnswer) -> Component | None:
    """A press for each noted way, and what else was filled in stays."""
    if not answer.ways:
        return None
    asked = answer.wish.route.casefold()
    return html.P(["Noted ways:", *(
        html.Span(dcc.Link(f"“{name}”", href=fields.href(PATH, place, route=name)),
                  className="kind", **(aria(current="true") if name.casefold() == asked else {}))
        for name in answer.ways)], className="kinds", style={"alignItems": "center"})


def _both(found: Reach, units: Units) -> Component | None:
    """As usual and as asked, one under the other."""
    if found.usual is None:
        return aside("Fill in what will be different; what stays empty is taken as usual.")
    told = [("as usual", way(leading(found.usual).left, units), False),
            ("as asked", way(leading(found.asked).left, units), True)]
    known = [(label, left, is_told) for label, left, is_told in told
             if isinstance(left, Estimate)]
    if len(known) < 2:
        left = way(leading(found.asked).left, units)
        return aside(f"As asked it cannot be told: {left.reason}. Next: {left.next}."
                     if isinstance(left, NoEstimate) else "")
    rows = [Ranged(label, left.value, left.low, left.high, is_told)
            for label, left, is_told in known]
    usual, asked = (left for _, left, _ in known)
    change = 100 * (asked.value / usual.value - 1)
    words = (f"As asked (diamond) it is {number(abs(change), 0)}{NBSP}% "
             f"{'less' if change < 0 else 'more'} than as usual. The lines are the intervals, "
             f"90{NBSP}% sure.")
    return picture("reach-both", ranges(rows, f"{asked.unit} left"), words, height_px(rows))


def _held(ahead: Ahead, units: Units) -> list[Component]:
    backtest = ahead.backtest
    told = [aside(unbroken(kept_words(backtest)))]
    rate = per_way(ahead.rate, units)
    if not backtest.made or isinstance(ahead.rate, NoEstimate) or isinstance(rate, NoEstimate):
        return told
    if rate.unit == "mi/kWh":  # a band of reciprocals would hide that energy is what is foretold
        rate = per_way(ahead.rate, replace(units, consumption="Wh/mi"))
    words = ("The band is what was foretold, dots are what it came to, crosses what fell outside. "
             f"{unbroken(miss_words(backtest))}")
    return [*told, picture("reach-held", forecasts.kept_word(
        backtest.made, rate.value / ahead.rate.value, rate.unit), words, 260)]
