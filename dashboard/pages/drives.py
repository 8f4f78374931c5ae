"""Drives: every log of the logbook, newest first."""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence
from datetime import date, datetime
from itertools import groupby
from typing import Any, Final

from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from ..figures.spark import mask, zero_level
from ..markup import aria
from ..quantities import NBSP, Units, consumption, number
from ..question_page import reading_words
from ..recency import span_words
from ..shell import Place
from ..store import Store
from ..summaries import Summary

PATH: Final = "/drives"
TITLE: Final = "Drives"
GROUP: Final = "Drive"

#: While summaries are still being worked out the list looks again this often. [ms]
TICK_MS: Final = 2000
#: With more rows than this, one month is shown at a time.
ROWS_MAX: Final = 80
#: With more rows than this, the days before the newest few are folded, each into a line.
OPEN_ROWS_MAX: Final = 16
OPEN_DAYS: Final = 4
#: Less than this is no line's worth. [Ah]
SHOWN_AH: Final = 0.05
KINDS: Final = {"": "All", "drive": "Drives", "charge": "Charges", "rest": "Rests"}

Row = tuple[str, Summary | None]


def layout(store: Store, place: Place) -> Component:
    rows = rows_of(store)
    chosen = {name: place.query.get(name, "") for name in ("kind", "month")}
    return html.Div([
        html.H1("Drives", className="page-title"),
        html.Div(listing(rows, chosen, store.units), id="drives-list"),
        html.P(reading(store, rows), id="drives-reading", role="status"),
        dcc.Store(id="drives-chosen", data=chosen),
        dcc.Store(id="drives-known", data=known(rows)),
        dcc.Interval(id="drives-tick", interval=TICK_MS, disabled=is_settled(rows)),
    ], className="page drives")


def register(app: Dash, store: Store) -> None:
    @app.callback(Output("drives-list", "children"), Output("drives-known", "data"),
                  Output("drives-tick", "disabled"), Output("drives-reading", "children"),
                  Input("drives-tick", "n_intervals"),
                  State("drives-chosen", "data"), State("drives-known", "data"),
                  prevent_initial_call=True)
    def tick(_: int, chosen: dict[str, str], before: int) -> tuple[Any, int, bool, str]:
        rows = rows_of(store)
        told = no_update if known(rows) == before else listing(rows, chosen, store.units)
        return told, known(rows), is_settled(rows), reading(store, rows)


def rows_of(store: Store) -> list[Row]:
    return [(entry.stem, summary) for entry, summary in store.logs()]


def reading(store: Store, rows: Sequence[Row]) -> str:
    """How far the reading of the logs has come; nothing when all are read."""
    return "" if is_settled(rows) else reading_words(store.reading())


def known(rows: Sequence[Row]) -> int:
    """How many summaries are there."""
    return sum(summary is not None for _, summary in rows)


def is_settled(rows: Sequence[Row]) -> bool:
    return known(rows) == len(rows)


def listing(rows: Sequence[Row], chosen: Mapping[str, str], units: Units) -> list[Component]:
    """The sentence, the ways to kinds and months, the rows."""
    kind = chosen.get("kind", "")
    of_kind = [(stem, summary) for stem, summary in rows
               if not kind or (summary is not None and summary.kind == kind)]
    months: dict[str, list[Row]] = {}
    for row in of_kind:  # a log with a name of its own may stand between those of a month
        months.setdefault(_month(row), []).append(row)
    shown = months
    if len(of_kind) > ROWS_MAX:
        month = chosen.get("month", "")
        month = month if month in months else next(iter(months))
        shown = {month: months[month]}
    is_open = _open_days([row for part in shown.values() for row in part])
    return [
        html.P(opening(rows), className="sentence"),
        html.Nav([_kind_link(name, kind, rows) for name in KINDS],
                 className="kinds", **aria(label="Kinds of log")),
        html.Nav([_month_link(month, kind, month in shown) for month in months],
                 className="kinds months", hidden=shown is months, **aria(label="Months")),
        *(_section(month, part, is_open, units) for month, part in shown.items()),
    ]


def opening(rows: Sequence[Row]) -> str:
    """What the logbook holds, in a sentence."""
    if not rows:
        return ("No drive is recorded yet. Record one on the Bench, "
                "or take one in under Bring a file.")
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


def _month_link(month: str, kind: str, is_shown: bool) -> Component:
    current = aria(current="true") if is_shown else {}
    href = f"{PATH}?kind={kind}&month={month}" if kind else f"{PATH}?month={month}"
    return html.Span(dcc.Link(_month_words(month), href=href), className="kind", **current)


def _open_days(rows: Sequence[Row]) -> set[date]:
    """The days whose logs are listed one by one."""
    days = list(dict.fromkeys(_start(row).date() for row in rows))
    return set(days if len(rows) <= OPEN_ROWS_MAX else days[:OPEN_DAYS])


def _section(month: str, rows: Sequence[Row], is_open: Container[date],
             units: Units) -> Component:
    lines: list[Component] = []
    for day, of_day in groupby(rows, lambda row: _start(row).date()):
        logs = list(of_day)
        listed = [_row(stem, summary, units) for stem, summary in logs]
        known = [summary for _, summary in logs if summary is not None and not summary.problem]
        is_line = day not in is_open and len(known) == len(logs) > 1
        lines += [_day(day, known, listed)] if is_line else listed
    return html.Section([html.H2(_month_words(month)), html.Ol(lines)])


def _day(day: date, logs: Sequence[Summary], listed: Sequence[Component]) -> Component:
    """A day in a line; its logs are behind it."""
    counts = [(kind, sum(log.kind == kind for log in logs)) for kind in KINDS if kind]
    flows = [(sum(log.out_ah or 0.0 for log in logs), "out"),
             (sum(log.in_ah or 0.0 for log in logs), "in")]
    return html.Li(html.Details([
        html.Summary([
            html.Span(f"{day:%a} {day.day} {day:%b}", className="when"),
            html.Span(", ".join(_count(n, kind) for kind, n in counts if n), className="log-kind"),
            html.Span(", ".join(f"{number(ah, 1)}{NBSP}Ah {way}" for ah, way in flows
                                if ah >= SHOWN_AH), className="log-charge")]),
        html.Ol(listed)], className="day"))


def _month(row: Row) -> str:
    """``2026-04``; sorts and travels in an address."""
    start = _start(row)
    return f"{start.year:04d}-{start.month:02d}"


def _month_words(month: str) -> str:
    year, number_of = (int(part) for part in month.split("-"))
    return f"{datetime(year, number_of, 1):%B %Y}" if year > 1 else "No date"  # noqa: DTZ001


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
    return html.Span(className="spark", style={
        "--line": mask(summary.amps), "--zero": f"{zero_level(summary.amps):.1%}"})
