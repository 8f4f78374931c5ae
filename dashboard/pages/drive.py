"""One drive: its strips, a pen to move along them, and what it meant at each moment."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import Any, Final
from urllib.parse import urlencode

import numpy as np
import plotly.graph_objects as go
from dash import ClientsideFunction, Dash, Input, Output, Patch, State, dcc, html, no_update
from dash.development.base_component import Component

from analysis.drive.summary import DriveSummary
from analysis.drive.text import drive_sentence
from analysis.estimate import Verdict
from analysis.finding import Finding
from analysis.timebase import usual_step_s
from collector.errors import PackhandError

from ..drive_way import way_part
from ..elements import aside, facts, section, table, verdict
from ..facts import facts_of
from ..figures.strips import COLUMNS, clock_axis, lanes_of, strips
from ..markup import aria, data
from ..moments import readings
from ..quantities import NBSP, Units, consumption, distance, unbroken
from ..recency import day_words, span_words
from ..recording import Recording
from ..sheet import cell_legend, redraw, sheet
from ..shell import Place
from ..store import Store
from ..wording import capital, ending_in, worded

PATH: Final = "/drives/"
TITLE: Final = "Drive"
GROUP: Final = ""

SPEEDS: Final = (1, 2, 5, 10, 20, 50, 100)
#: The shortest stretch that fills the sheet. [s]
STRETCH_MIN_S: Final = 2.0
#: Moments told are this far apart at least. [s]
STEP_MIN_S: Final = 0.05
#: Gaps listed by name; in a log with more, the longest.
GAPS_MAX: Final = 40


def layout(store: Store, place: Place) -> Component:
    try:
        recording, summary = store.recording(place.rest), store.summary(place.rest)
    except (PackhandError, OSError) as error:
        return html.Div([html.H1("This log cannot be shown."), html.P(str(error)),
                         html.P(["Go back to ", dcc.Link("Drives", href="/drives"), "."])],
                        className="page")
    usual_s = usual_step_s(recording.telemetry.elapsed_s)
    step_s = max(usual_s, STEP_MIN_S) if math.isfinite(usual_s) else 1.0
    return html.Div([
        _heading(recording),
        html.P(opening(summary, store.units), className="opening"),
        _broken_off(recording),
        html.P("", id="moment-sentence", className="sentence moment"),
        _controls(),
        html.Div([_strips(recording), _beside(recording)], className="replay-columns"),
        html.H2("This log", className="facts-title"),
        facts(facts_of(summary, store.units)),
        _hand_on(place.rest),
        way_part(store, place.rest, recording.telemetry),
        _findings(summary.findings, store.units),
        verdict(*ending_in(ending(summary.findings), store.units)),
        dcc.Store(id="drive-view"), dcc.Store(id="drive-attached"),
        dcc.Store(id="drive-stem", data=place.rest),
    ], id="replay", className="page drive", **data(
        stem=place.rest, duration=f"{recording.duration_s:.3f}", step=f"{step_s:.3f}",
        shortest=str(STRETCH_MIN_S),
        gaps=json.dumps([[gap.start_s, gap.end_s] for gap in recording.gaps])))


def opening(summary: DriveSummary, units: Units) -> str:
    """How long, how far, what went out and in."""
    return unbroken(drive_sentence(summary, lambda m: distance(m, units),
                                   lambda wh: consumption(wh, units)))


def _broken_off(recording: Recording) -> Component | None:
    """What came of a recording that nobody closed: this one, or the one before it."""
    told = []
    found = recording.telemetry.meta.get("recovered")
    if isinstance(found, dict):
        lost = [f"{found[key]}{NBSP}{words}" for key, words in (
            ("torn_bytes", "bytes torn off the end"), ("damaged_lines", "damaged lines"))
                if found.get(key)]
        told.append(f"Cut off before it was closed, and brought back: {found.get('rows', 0)}{NBSP}"
                    f"samples; lost: {' and '.join(lost) or 'nothing that was written'}.")
    told += [f"Before this log {event.words}." for event in recording.telemetry.events
             if event.kind == "restarted"]
    return aside(" ".join(told)) if told else None


def _hand_on(stem: str) -> Component:
    """Ways to a paper about this log, and to a copy of it for strangers."""
    asked = urlencode({"log": stem})
    return html.P(["Hand this log on: ", dcc.Link("a paper that draws it", href=f"/papers?{asked}"),
                   ", or ", dcc.Link("a copy for strangers", href=f"/share?{asked}"), "."])


def _findings(found: Sequence[Finding], units: Units) -> Component | None:
    """What stands out, the sure first, as ``ending`` counts on."""
    if not found:
        return None
    return section("What stands out", table(
        "Yes means that this log proves it", ("Sure?", "What", "Next"),
        [(each.verdict, capital(worded(each.words, units)), worded(each.next, units))
         for each in by_verdict(found)]))


def by_verdict(found: Sequence[Finding]) -> list[Finding]:
    """The sure first."""
    return sorted(found, key=lambda each: each.verdict != "yes")


def ending(found: Sequence[Finding]) -> tuple[Verdict, str, str]:
    """Does something stand out in this log, and what to do next?"""
    if not found:
        return "no", "Nothing stands out in this log.", (
            "look under Cells and Seasons for what only many logs can tell")
    first = by_verdict(found)[0]
    if first.verdict == "yes":
        return "yes", "Something stands out in this log.", first.next
    return "cannot tell yet", "Whether what stands out is a fault, this log cannot tell.", (
        first.next)


def register(app: Dash, store: Store) -> None:
    @app.callback(Output("drive-graph", "figure"), Input("drive-view", "data"),
                  State("drive-stem", "data"), prevent_initial_call=True)
    def draw(view: Any, stem: str) -> Patch | Any:
        try:
            start_s, end_s = (float(s) for s in view)
            recording = store.recording(stem)
        except (TypeError, ValueError, PackhandError, OSError):
            return no_update
        if not math.isfinite(start_s) or not math.isfinite(end_s):
            return no_update
        return redraw(picture(recording, *inside(recording, start_s, end_s)), keep_scale=True)

    app.clientside_callback(ClientsideFunction("replay", "attach"),  # type: ignore[no-untyped-call]
                            Output("drive-attached", "data"), Input("drive-graph", "figure"))


def inside(recording: Recording, start_s: float, end_s: float) -> tuple[float, float]:
    """A view that lies within the drive and is not shorter than ``STRETCH_MIN_S``."""
    whole = max(recording.duration_s, STRETCH_MIN_S)
    width = min(max(end_s - start_s, STRETCH_MIN_S), whole)
    start = min(max(start_s, 0.0), whole - width)
    return start, start + width


def picture(recording: Recording, start_s: float, end_s: float) -> go.Figure:
    """The strips of a view."""
    return strips(recording.curves(start_s, end_s, COLUMNS),
                  clock_axis(recording.local(0), start_s, end_s), gaps=recording.gaps,
                  marks=[(mark.elapsed_s, f"mark {n}")
                         for n, mark in enumerate(recording.marks, start=1)])


def _heading(recording: Recording) -> Component:
    start = recording.local(0)
    kind = str(recording.telemetry.meta.get("kind") or "log")
    vehicle = str(recording.telemetry.meta.get("vehicle") or "")
    told = [part for part in (vehicle, kind, span_words(recording.duration_s)) if part]
    return html.Div([
        html.H1(f"{day_words(start)}, {start:%H:%M}", className="page-title"),
        html.P(" · ".join(told), className="under-title"),
        html.P("Invented data.", className="invented") if recording.is_invented else None,
    ], className="heading")


def _controls() -> Component:
    """Play, place and speed; and how much of the drive is shown."""
    return html.Div([_transport(), html.Div([
        html.Button("Closer", id="closer", type="button"),
        html.Button("Further", id="further", type="button"),
        html.Button("Whole drive", id="whole", type="button"),
    ], className="zooms", role="group", **aria(label="How much of the drive is shown"))],
        className="controls")


def _transport() -> Component:
    return html.Div([
        html.Button("Play", id="play", type="button", className="strong"),
        html.Div(id="position", className="position"),
        html.Span("", id="clock", className="clock"),
        html.Div([
            html.Button(f"{speed}×", type="button", **data(speed=str(speed)),
                        **aria(pressed="true" if speed == 10 else "false",
                               label=f"{speed}× the recorded speed"))
            for speed in SPEEDS
        ], className="speeds", role="group", **aria(label="Speed")),
    ], className="transport", role="group", **aria(label="Replay"))


def _strips(recording: Recording) -> Component:
    figure = picture(recording, *inside(recording, 0.0, recording.duration_s))
    lanes = lanes_of(recording.traces)
    first = {lane: values[0] for lane, values in readings(recording, np.zeros(1)).items()}
    caption = (f"{', '.join(lane.name for lane in lanes)} from {recording.local(0):%H:%M:%S} to "
               f"{recording.local(recording.duration_s):%H:%M:%S}. Shaded paper is time without "
               "a record. Space plays; the arrow keys move the pen 5 s, with Shift a minute, Home "
               "and End to the ends. Drag along a strip to look closer.")
    caption = caption[0].upper() + caption[1:]
    return sheet("drive-graph", figure, lanes, recording.units, caption,
                 legend=cell_legend(recording), readings=first)


def _beside(recording: Recording) -> Component:
    cells = [html.H2("Cells at the pen"), html.Div(id="ruler", className="ruler"),
             html.P("", id="cell-sentence")] if recording.telemetry.cells else []
    return html.Aside([*cells, *_moments_list(recording)], className="beside")


def _moments_list(recording: Recording) -> list[Component]:
    """Marks and gaps, each a button that takes the pen there."""
    places = [(mark.elapsed_s, f"mark {n}", mark.words or "without words")
              for n, mark in enumerate(recording.marks, start=1)]
    longest = sorted(recording.gaps, key=lambda gap: -gap.seconds)[:GAPS_MAX]
    places += [(gap.start_s, f"gap of {span_words(gap.seconds)}", gap.cause) for gap in longest]
    shorter = len(recording.gaps) - len(longest)
    note = (f"and {shorter} shorter gaps" if shorter else "") if places else "None in this log."
    return [html.H2("Marks and gaps"), html.P(note), html.Ul([
        html.Li(html.Button([html.Span(f"{recording.local(s):%H:%M:%S} ", className="seek-time"),
                             html.Span(name, className="seek-name"), f" {words}"],
                            type="button", **data(seek=f"{s:.3f}")))
        for s, name, words in sorted(places)], className="seeks")]
