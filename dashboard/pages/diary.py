"""Diary: marks and hand readings by day, newest first; a mark is named here."""

from __future__ import annotations

import json
from collections.abc import Sequence
from itertools import groupby
from typing import Any, Final

from dash import Dash, Input, Output, dcc, html
from dash.development.base_component import Component

from collector.errors import PackhandError

from ..diary import Choice, Entry
from ..elements import fold, table
from ..kept_notes import KEPT, kept_notes
from ..markup import aria, data
from ..quantities import NBSP
from ..recency import day_words
from ..shell import Place
from ..store import Store

PATH: Final = "/diary"
TITLE: Final = "Diary"
GROUP: Final = "Drive"

TEACH: Final = ("Nothing is noted yet. Press Mark on Now while it records, or type a reading that "
                "you took by hand below.")
LOST: Final = "Not kept: the pages do not answer. Is packhand still running?"
#: Fields behind a reading: name, label, what to type.
FIELDS: Final = (("value", "Figure or words, as you read it", "119 mV"),
                 ("joint", "Where", "main minus lug"),
                 ("cell", "Cell, if it is one", ""),
                 ("instrument", "Measured with", ""),
                 ("text", "Anything else", ""),
                 ("at", "When, if not now", "14:05"))


def layout(store: Store, place: Place) -> Component:  # noqa: ARG001 - the page has one place
    return html.Div([
        html.H1("Diary", className="page-title"),
        html.Div(listing(store), id="diary-list"),
        _form(store.note_choices(), store.packs()),
        kept_notes(),
    ], className="page diary")


def register(app: Dash, store: Store) -> None:
    @app.callback(Output("diary-list", "children"), Input(KEPT, "data"),
                  prevent_initial_call=True)
    def show(_: Any) -> list[Component]:
        return listing(store)


def listing(store: Store) -> list[Component]:
    """The sentence and the days, or why there are none."""
    try:
        entries = store.entries()
    except PackhandError as error:
        return [html.P("The diary cannot be read.", className="sentence"), html.P(str(error))]
    days = groupby((entry for entry in entries if not entry.is_day),
                   lambda entry: entry.at.date())
    return [html.P(opening(entries), className="sentence"),
            *_typed_days([entry for entry in entries if entry.is_day]),
            *(_day(list(of_day)) for _, of_day in days)]


def opening(entries: Sequence[Entry]) -> str:
    """How much is noted, and when last."""
    if not entries:
        return TEACH
    marks = sum(entry.is_mark for entry in entries)
    days = sum(entry.is_day for entry in entries)
    others = len(entries) - marks - days
    counts = [f"{count}{NBSP}{word}{'' if count == 1 else 's'}" for count, word in (
        (marks, "mark"), (others, "note"), (days, "typed day")) if count]
    last = entries[0].at
    return f"{' and '.join(counts)}, the last on {day_words(last)} at {last:%H:%M}."


def _typed_days(entries: Sequence[Entry]) -> list[Component]:
    """Days read off the display, folded: they would bury the marks."""
    if not entries:
        return []
    rows = [(f"{entry.at:%d %B %Y}".lstrip("0"), entry.text) for entry in entries]
    return [fold("Days typed from the display", table(
        "Newest first, in the words in which they were typed", ("Day", "Read off the display"),
        rows))]


def _day(entries: Sequence[Entry]) -> Component:
    return html.Section([html.H2(day_words(entries[0].at)),
                         html.Ol([_entry(entry) for entry in entries])])


def _entry(entry: Entry) -> Component:
    told = entry.text or ("a mark without a name" if entry.is_mark else "")
    return html.Li([
        html.Span(f"{entry.at:%H:%M:%S}", className="note-time"),
        html.Div([
            html.P("Mark" if entry.is_mark else entry.kind[:1].upper() + entry.kind[1:],
                   className="note-kind"),
            html.P([html.Span(entry.figure, className="fact-figure"), _badge("typed"),
                    html.Span(f" as “{entry.typed}”" if entry.typed else "", className="small")])
            if entry.figure else None,
            html.P(", ".join(part for part in (entry.place, told) if part), className="note-text"),
        ], className="note-what"),
        html.Div(_moment(entry), className="note-moment"),
        _naming(entry) if entry.is_mark else None,
    ], className="note")


def _moment(entry: Entry) -> list[Component]:
    if not entry.moment:
        return [html.Span("no log covers it", className="small")]
    return [html.Span(entry.moment), _badge("measured"),
            dcc.Link("see the log", href=f"/drives/{entry.log}", className="small")]


def _badge(word: str) -> Component:
    return html.Span(f" {word} ", className="badge")


def _naming(entry: Entry) -> Component:
    """A small form that names a mark."""
    label = f"Name of the mark at {entry.at:%H:%M:%S}"
    return html.Details([
        html.Summary("Name it" if not entry.text else "Name it anew"),
        html.Form([html.Textarea(name="text", rows=1, maxLength=200, className="field",
                                 required=True, **aria(label=label)),
                   html.Button("Keep the name", className="strong"), _status()],
                  **data(notes=json.dumps({"named": str(entry.time_ms)}), lost=LOST)),
    ], className="naming")


def _form(kinds: Sequence[Choice], packs: Sequence[str]) -> Component:
    """Everything that can be typed, the rare fields last."""
    options = [html.Option(kind.words, value=kind.name, **data(hint=kind.hint)) for kind in kinds]
    fields = [_field(*field) for field in FIELDS]
    if len(packs) > 1:
        fields.append(_field("pack", "Which pack", packs[0]))
    return html.Section([
        html.H2("Add a reading or a note"),
        html.Form([
            html.Label(["What it is", html.Select(options, name="kind", id="note-kind")],
                       className="wide"),
            html.P(kinds[0].hint, id="note-hint", className="wide hint"),
            *fields,
            html.Button("Keep it", className="strong"), _status(),
        ], className="reading", **data(notes="{}", lost=LOST)),
    ], className="writing")


def _field(name: str, label: str, example: str) -> Component:
    return html.Label([
        label, html.Span(f" such as {example}" if example else "", className="small"),
        html.Textarea(name=name, rows=1, maxLength=500, className="field")])


def _status() -> Component:
    return html.P("", className="told", role="status")
