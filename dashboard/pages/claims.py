"""Claims: what a seller or a label promised, and what one's own logs say to it."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any, Final

from dash import Dash, Input, Output, html
from dash.development.base_component import Component

from analysis.ahead.claims import AT_MOST, Claim, Judged, words_of
from analysis.asking.book import Asked, Book
from analysis.asking.questions import ask_claims
from analysis.estimate import Estimate, Verdict

from ..elements import (
    Fact,
    Why,
    answer_fact,
    digits_for,
    facts,
    picture,
    section,
    sentence,
    story,
    teach,
    title,
    verdict,
)
from ..figures.ranges import Ranged, Reference, height_px, ranges
from ..kept_notes import KEPT, kept_notes
from ..lengths import per_way, way
from ..markup import data
from ..quantities import NBSP, Units, number
from ..question_page import Question
from ..recency import date_words
from ..shell import Place
from ..store import Store
from ..wording import ending_in, worded

PATH: Final = "/claims"
TITLE: Final = "Claims"
GROUP: Final = "Ahead"

LOST: Final = "Not kept: the pages do not answer. Is packhand still running?"
TEACH: Final = ("Nothing is claimed yet. Type below what a seller or a label promises, such as "
                "40 miles.")
SOURCE: Final = "own logs; interval by Student's t"


def ask(book: Book, _: Place) -> Asked[tuple[Judged, ...]]:
    return ask_claims(book)


def draw(claims: Sequence[Judged], store: Store, _: Place) -> list[Component]:
    if not claims:
        return [teach(TEACH)]
    units = store.units
    shown = [sentence(opening(claims)), _picture(claims),
             *(_claim(each, units) for each in claims),
             verdict(*ending_in(ending(claims), units))]
    return [part for part in shown if part]


QUESTION: Final = Question("claims", ask, draw)


def layout(store: Store, place: Place) -> Component:
    return html.Div([title(TITLE), QUESTION.block(store, place, _form()),
                     kept_notes()], className="page diary claims")


def register(app: Dash, store: Store) -> None:
    QUESTION.register(app, store)

    @app.callback(Output("claims-wait", "disabled", allow_duplicate=True), Input(KEPT, "data"),
                  prevent_initial_call=True)
    def ask_anew(_: Any) -> bool:
        return False


def opening(claims: Sequence[Judged]) -> str:
    """How many hold, how many do not, of how many nobody can tell."""
    if len(claims) == 1:
        told = {"yes": "holds", "no": "does not hold in your use",
                "cannot tell yet": "cannot be judged yet"}
        return f"“{claims[0].claim.text}” {told[claims[0].verdict]}."
    counts = {word: sum(each.verdict == word for each in claims)
              for word in ("yes", "no", "cannot tell yet")}
    one = {word: count == 1 for word, count in counts.items()}
    told = {"yes": f"hold{'s' if one['yes'] else ''} in your use",
            "no": f"do{'es' if one['no'] else ''} not", "cannot tell yet": "cannot be judged yet"}
    parts = [f"{count} {told[word]}" for word, count in counts.items() if count]
    return f"Of {len(claims)} claims {', '.join(parts)}."


def ending(claims: Sequence[Judged]) -> tuple[Verdict, str, str]:
    """Whether all hold; what would decide the next one."""
    waiting = [each for each in claims if each.verdict == "cannot tell yet"]
    then = next((need.words for each in waiting for need in each.needs if not need.is_met), "")
    if not then and waiting:
        then = "log on as you use it: each drive and each full charge sharpens the figures"
    then = then or "drive and charge as before and look again after a season"
    if any(each.verdict == "no" for each in claims):
        return "no", "Not all that was claimed holds in your use.", then
    if waiting:
        return "cannot tell yet", "Your logs do not decide every claim.", then
    return "yes", "What was claimed holds in your use.", then


def _picture(claims: Sequence[Judged]) -> Component | None:
    """Every finding as a share of what was claimed."""
    rows = []
    for each in claims:
        found = each.found if isinstance(each.found, Estimate) else each.so_far
        if found:
            share = found.scaled(100 / each.claim.value, "%")
            rows.append(Ranged(each.claim.text, share.value, share.low, share.high,
                               is_told=each.verdict == "no"))
    if not rows:
        return None
    fewer = [each.claim.text for each in claims if each.claim.quantity in AT_MOST]
    side = (f" Left of it is better for {', '.join(fewer)}; right of it for the others."
            if fewer else " Right of it is more than was claimed.")
    return picture("claims-shares", ranges(rows, "% of what was claimed", Reference(
        100.0, "as claimed")), "A dot is what your logs say, the line what it may be; diamonds do "
        f"not hold. The dashed line is the claim.{side}", height_px(rows))


def _claim(judged: Judged, units: Units) -> Component:
    quoted = f"“{judged.claim.text}”"
    lacks = "Missing: " if judged.verdict == "cannot tell yet" else "Would sharpen it: "
    return section(
        f"{quoted}: {judged.verdict}",
        story(f"It {worded(telling(judged, units).removeprefix(quoted).lstrip(), units)}"),
        facts(_facts(judged, units)),
        html.Ul([html.Li([html.Strong("There: " if need.is_met else lacks),
                          worded(need.words, units)]) for need in judged.needs],
                className="needs"))


def telling(judged: Judged, units: Units) -> str:
    """The verdict in a sentence, with the figures of the facts below it."""
    def shown(found: Estimate) -> str:
        told = _told(found, judged.claim, units)
        if told.low == told.high:
            return f"{number(told.value, 0)} {told.unit}"
        low, value, high = (number(x, digits_for(told.half_width))
                            for x in (told.low, told.value, told.high))
        return f"{value} {told.unit} ({low} to {high})"

    return words_of(judged, shown)


def promised(claim: Claim, units: Units) -> str:
    """What was promised in the person's unit, no finer than it was said."""
    told = _told(Estimate(claim.value, claim.value, claim.value, claim.unit), claim, units)
    digits = claim.digits if told.unit == claim.typed_unit else max(2, claim.digits)
    places = max(0, digits - 1 - math.floor(math.log10(told.value * (1 + 1e-12))))
    return f"{number(told.value, places)}{NBSP}{told.unit}"


def _facts(judged: Judged, units: Units) -> Iterator[Fact]:
    claim = judged.claim
    most = "at most" if claim.quantity in AT_MOST else "at least"
    day = f", {date_words(claim.date)}" if claim.date else ""
    yield Fact("Promised", promised(claim, units), f"{claim.quantity}, {most}{day}", "claimed")
    yield _finding(judged, units)
    if judged.runs_needed:
        yield Fact("Still needed", f"about {judged.runs_needed}{NBSP}"
                   f"drive{'' if judged.runs_needed == 1 else 's'}",
                   "if the figures stay as they are", "worked out")


def _told(figure: Estimate, claim: Claim, units: Units) -> Estimate:
    """Distances and what they take in the person's units, anything else in the claim's own."""
    if claim.quantity in ("range", "consumption"):
        return per_way(way(figure, units), units)
    return figure.scaled(1 / claim.typed_factor, claim.typed_unit)


def _finding(judged: Judged, units: Units) -> Fact:
    """What the logs say, or the best estimate where they say too little."""
    claim, found = judged.claim, judged.found
    known = found if isinstance(found, Estimate) else judged.so_far
    if known is None:
        return answer_fact("Your logs say", way(found, units))
    figure = _told(known, claim, units)
    if figure.low == figure.high:
        return Fact("Your logs saw", f"{number(figure.value, 0)}{NBSP}{figure.unit}",
                    judged.rests_on, "measured")
    told = Why(f"{claim.quantity} by {judged.rests_on}" if isinstance(found, Estimate) else
               "what a full pack gives ÷ what the few drives took; how drives scatter is supposed "
               "until there are more", (), SOURCE)
    fact = answer_fact("Your logs say" if isinstance(found, Estimate) else
                       "Best estimate so far", figure, told=told)
    return replace(fact, more=f"{fact.more}; from {judged.rests_on}")


def _form() -> Component:
    return html.Section([
        html.H2("Type a claim"),
        html.Form([
            html.Label(["What was promised", html.Span(
                " such as 40 miles, 105 Ah, 200 A peak, full in 5 h, 85 Wh/mi", className="small"),
                html.Textarea(name="value", rows=1, maxLength=200, className="field",
                              required=True)], className="wide"),
            html.Button("Keep it", className="strong"),
            html.P("", className="told", role="status"),
        ], className="reading", **data(notes=json.dumps({"kind": "claim"}), lost=LOST)),
    ], className="writing")
