"""Checks: from a vehicle that will not move to a pack in its second spring, card by card."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import Any, Final

from dash import Dash, Input, Output, State, dcc, html
from dash.development.base_component import Component

from analysis.estimate import Verdict
from collector.errors import PackhandError

from ..checks.card import Card, CheckPath, Reading
from ..checks.paths import path_of, paths_of
from ..checks.progress import (
    DONE,
    KIND,
    LEFT_OUT,
    OPEN_AGAIN,
    Noted,
    judged,
    place_of,
    readings_of,
    standing,
)
from ..elements import aside, caution, sentence, teach, title, verdict
from ..kept_notes import KEPT, kept_notes
from ..markup import aria, data
from ..quantities import number
from ..shell import Place
from ..store import Store

PATH: Final = "/checks"
TITLE: Final = "Checks"
GROUP: Final = "Kit"

LOST: Final = "Not kept: the pages do not answer. Is packhand still running?"


def layout(store: Store, place: Place) -> Component:
    return html.Div([
        html.Div(body(store, place), id="checks-body"),
        dcc.Store(id="checks-place", data=place.query), kept_notes(),
    ], className="page checks")


def register(app: Dash, store: Store) -> None:
    @app.callback(Output("checks-body", "children"), Input(KEPT, "data"),
                  State("checks-place", "data"), prevent_initial_call=True)
    def again(_: Any, query: dict[str, str]) -> list[Component]:
        return body(store, Place(query=query))


def body(store: Store, place: Place) -> list[Component]:
    """All paths, or the cards of one."""
    try:
        notes = list(reversed(store.diary.notes()))
    except PackhandError as error:
        return [title(TITLE), teach("The notes cannot be read."), aside(str(error))]
    kind = store.vehicle_kind
    path = path_of(str(place.query.get("path", "")), kind)
    return _overview(paths_of(kind), notes) if path is None else _one_path(path, notes)


def _overview(paths: Sequence[CheckPath], notes: Sequence[Noted]) -> list[Component]:
    done = sum(standing(path, card, notes) == "done" for path in paths for card in path.cards)
    total = sum(len(path.cards) for path in paths)
    return [
        title(TITLE),
        sentence(f"{done} of {total} steps are done. Each may be left out; none is a "
                 "condition for another." if done else
                 f"From “{paths[0].title}” to a proven pack: one step, one card."),
        html.Ol([_way(path, notes) for path in paths], className="paths"),
        verdict(*_ending(paths, notes)),
    ]


def _ending(paths: Sequence[CheckPath], notes: Sequence[Noted]) -> tuple[Verdict, str, str]:
    """What is next: the first path that was begun and not ended, or the first of all."""
    left = [(path, [standing(path, card, notes) for card in path.cards]) for path in paths]
    left = [(path, found) for path, found in left if "open" in found]
    if not left:
        return "yes", "Every step is done or left out.", "the spring check, next year"
    begun = [path for path, found in left if set(found) != {"open"}]
    following = (begun or [path for path, _ in left])[0]
    return ("cannot tell yet", "What was not checked is not known.",
            f"{'go on' if begun else 'begin'} with “{following.title}”")


def _way(path: CheckPath, notes: Sequence[Noted]) -> Component:
    found = [standing(path, card, notes) for card in path.cards]
    left = found.count("left out")
    told = f"{found.count('done')} of {len(found)} done" + (f", {left} left out" if left else "")
    return html.Li(dcc.Link([html.Span(path.title, className="path-title"),
                             html.Span(path.why, className="path-why"),
                             html.Span(told, className="path-count")],
                            href=f"{PATH}?path={path.key}", className="path"))


def _one_path(path: CheckPath, notes: Sequence[Noted]) -> list[Component]:
    return [
        title(TITLE), sentence(f"{path.title}. {path.why}"),
        html.P(dcc.Link("All checks", href=PATH), className="back"),
        html.Ol([_card(path, card, notes) for card in path.cards], className="cards"),
    ]


def _card(path: CheckPath, card: Card, notes: Sequence[Noted]) -> Component:
    stands = standing(path, card, notes)
    found = judged(card, notes)
    return html.Li([
        html.H2([card.question, html.Span(f" {stands}", className="badge")]),
        caution(card.caution) if card.caution else None,
        html.Ul([html.Li(step) for step in card.steps], className="steps"),
        html.P(f"Good: {card.good}") if card.good else None,
        html.Div([_reading(reading, readings_of(card, notes)[reading.label])
                  for reading in card.readings], className="card-readings"),
        verdict(*found) if found else None,
        html.P(["The answer stands on ", dcc.Link(card.see[1], href=card.see[0]), "."])
        if card.see else None,
        _marks(path, card, stands),
    ], className="card", id=f"card-{card.key}")


def _reading(reading: Reading, value: float) -> Component:
    """A field that keeps a note; the last figure stands beside it."""
    fixed = {"kind": reading.kind} | ({"joint": reading.where} if reading.where else {})
    last = "" if math.isnan(value) else f"last: {number(value, 2)}"
    return html.Form([
        html.Label([reading.label, html.Span(f" such as {reading.example}", className="small"),
                    html.Textarea(name="value", rows=1, maxLength=200, className="field")]),
        html.Button("Keep it"),
        html.P(last, className="told", role="status"),
    ], className="card-reading", **data(notes=json.dumps(fixed), lost=LOST))


def _marks(path: CheckPath, card: Card, stands: str) -> Component:
    """Buttons that say what became of the card."""
    words = [(DONE, "Done"), (LEFT_OUT, "Leave it out")] if stands == "open" else [
        (OPEN_AGAIN, "Open it again")]
    return html.Div([_mark(path, card, word, label) for word, label in words],
                    className="card-marks", role="group", **aria(label="What became of this step"))


def _mark(path: CheckPath, card: Card, word: str, label: str) -> Component:
    fixed = {"kind": KIND, "joint": place_of(path, card), "text": word}
    return html.Form([
        html.Button([label, html.Span(f": {card.question}", className="unseen")],
                    className="strong" if word == DONE else ""),
        html.P("", className="unseen", role="status"),
    ], **data(notes=json.dumps(fixed), lost=LOST))
