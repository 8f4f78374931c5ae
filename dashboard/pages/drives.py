"""Drives: every log of the logbook, newest first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from itertools import groupby
from typing import Any, Final

from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from ..figures.spark import mask, zero_level
from ..markup import aria
from ..quantities import NBSP, Units, consumption, number
from ..recency import span_words
from ..shell import Place
from ..store import Store
from ..summaries import Summary

PATH: Final = "/drives"
TITLE: Final = "Drives"
IN_MENU: Final = True

#: While summaries are still being worked out the list looks again this often. [ms]
TICK_MS: Final = 2000
KINDS: Final = {"": "All", "drive": "Drives", "charge": "Charges", "rest": "Rests"}

Row = tuple[str, Summary | None]


def layout(store: Store, place: Place) -> Component:
    kind = place.query.get("kind", "")
    rows = rows_of(store)
    return html.Div([
        html.H1("Drives", className="page-title"),
        html.Div(listing(rows, kind, store.units), id="drives-list"),
        dcc.Store(id="drives-kind", data=kind),
        dcc.Store(id="drives-known", data=known(rows)),
        dcc.Interval(id="drives-tick", interval=TICK_MS, disabled=is_settled(rows)),
    ], className="page drives")


def register(app: Dash, store: Store) -> None:
    @app.callback(Output("drives-list", "children"), Output("drives-known", "data"),
                  Output("drives-tick", "disabled"), Input("drives-tick", "n_intervals"),
                  State("drives-kind", "data"), State("drives-known", "data"),
                  prevent_initial_call=True)
    def tick(_: int, kind: str, before: int) -> tuple[Any, int, bool]:
        rows = rows_of(store)
        if known(rows) == before:
            return no_update, before, is_settled(rows)
        return listing(rows, kind, store.units), known(rows), is_settled(rows)


def rows_of(store: Store) -> list[Row]:
    return [(entry.stem, summary) for entry, summary in store.logs()]


def known(rows: Sequence[Row]) -> int:
    """How many summaries are there."""
    return sum(summary is not None for _, summary in rows)


def is_settled(rows: Sequence[Row]) -> bool:
    return known(rows) == len(rows)


def listing(rows: Sequence[Row], kind: str, units: Units) -> list[Component]:
    """The sentence, the ways to the kinds, the rows by month."""
    chosen = [(stem, summary) for stem, summary in rows
              if not kind or (summary is not None and summary.kind == kind)]
    return [
        html.P(opening(rows), className="sentence"),
        html.Nav([_kind_link(name, kind, rows) for name in KINDS],
                 className="kinds", **aria(label="Kinds of log")),
        *_months(chosen, units),
    ]


def opening(rows: Sequence[Row]) -> str:
    """What the logbook holds, in a sentence."""
    if not rows:
        return ("No drive is recorded yet. Record one with packhand record, "
                "or bring a table in with packhand import.")
    summaries = [summary for _, summary in rows if summary is not None]
    waiting = len(rows) - len(summaries)
    if not summaries:
        return f"Reading {_count(waiting, 'log')} for the first time."
    counts = {kind: sum(s.kind == kind for s in summaries) for kind in ("drive", "charge")}
    out_ah = sum(s.out_ah or 0.0 for s in summaries)
    kinds = " and ".join(_count(n, kind) for kind, n in counts.items() if n) or "No drive yet"
    told = f"{kinds}, {number(out_ah, 0)}{NBSP}Ah out in all."
    return f"{told} Still reading {_count(waiting, 'log')}." if waiting else told


def _count(number_of: int, noun: str) -> str:
    return f"{number_of}{NBSP}{noun}" + ("" if number_of == 1 else "s")


def _kind_link(name: str, chosen: str, rows: Sequence[Row]) -> Component:
    count = sum(not name or (s is not None and s.kind == name) for _, s in rows)
    current = aria(current="true") if name == chosen else {}
    href = f"{PATH}?kind={name}" if name else PATH
    return html.Span(dcc.Link(f"{KINDS[name]} {count}", href=href), className="kind", **current)


def _months(rows: Iterable[Row], units: Units) -> list[Component]:
    return [html.Section([
        html.H2(month), html.Ol([_row(stem, summary, units) for stem, summary in part])])
        for month, part in ((m, list(p)) for m, p in groupby(rows, _month))]


def _month(row: Row) -> str:
    return f"{_start(row):%B %Y}"


def _start(row: Row) -> datetime:
    stem, summary = row
    if summary is not None and summary.start:
        return datetime.fromisoformat(summary.start)
    try:
        return datetime.strptime(stem[:19], "%Y-%m-%dT%H-%M-%S")  # noqa: DTZ007 - shown alone
    except ValueError:
        return datetime.min  # noqa: DTZ901 - a log with a name of its own comes last


def _row(stem: str, summary: Summary | None, units: Units) -> Component:
    start = _start((stem, summary))
    day = f"{start:%a} {start.day} {start:%b}" if start.year > 1 else stem
    if summary is None:
        return html.Li(html.Span([html.Span(day, className="when"), "being read"],
                                 className="log-row"))
    when = f"{day}, {start:%H:%M}"
    if summary.problem:
        return html.Li(html.Span([html.Span(when, className="when"),
                                  html.Span(summary.problem, className="problem")],
                                 className="log-row"))
    return html.Li(dcc.Link([
        html.Span(when, className="when"),
        html.Span(summary.kind, className="log-kind"),
        html.Span(span_words(summary.duration_s), className="log-span"),
        html.Span(_charge(summary), className="log-charge"),
        html.Span(consumption(summary.wh_per_km, units) if summary.wh_per_km else "",
                  className="log-use"),
        _small_line(summary),
    ], href=f"{PATH}/{stem}", className="log-row"))


def _charge(summary: Summary) -> str:
    """The larger of what went out and what came in."""
    out, back = summary.out_ah or 0.0, summary.in_ah or 0.0
    if summary.out_ah is None and summary.in_ah is None:
        return ""
    size, way = (out, "out") if out >= back else (back, "in")
    return f"{number(size, 1)}{NBSP}Ah {way}"


def _small_line(summary: Summary) -> Component:
    if not summary.amps:
        return html.Span(className="spark")
    picture = mask(summary.amps)
    return html.Span(className="spark", style={
        "maskImage": picture, "WebkitMaskImage": picture,
        "--zero": f"{zero_level(summary.amps):.1%}"})
