"""Now: the log that is being recorded, as it comes in."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np
import plotly.graph_objects as go
from dash import ClientsideFunction, Dash, Input, Output, Patch, State, dcc, html, no_update
from dash.development.base_component import Component

from analysis.one_log.sign import SignFinding

from ..alarms import CAUTION, Alarm
from ..figures.strips import Lane, ago_axis, lanes_of, strips
from ..live import WINDOW_S, LiveView
from ..markup import aria, data
from ..moments import Reading, readings, rows_at, sentence
from ..quantities import NBSP, NO_RECORD
from ..recency import live_sentence
from ..recording import Recording
from ..reduce import Curve
from ..sheet import cell_legend, heads, redraw, sheet
from ..shell import Place
from ..store import Store

PATH: Final = "/"
TITLE: Final = "Now"
GROUP: Final = "Drive"

#: The page asks this often. [ms]
TICK_MS: Final = 1000
#: The strips are drawn anew this often: of five minutes, five seconds are a hair's breadth. [ms]
DRAW_MS: Final = 5000
#: Columns of a live strip; fewer than in a replay, for it is drawn anew often.
NOW_COLUMNS: Final = 180
#: What a screen reader says by itself, once for each change.
SPOKEN: Final = {"nothing": "Nothing is being recorded.", "recording": "Recording.",
                 "silent": "Nothing new is coming in.", "ended": "The recording has ended."}
#: Where an idle page leads: words, address, look.
WAYS: Final = (("Record on the Bench", "/bench", "press strong"),
               ("Drive with prompts", "/guide", "press"),
               ("Other ways to begin", "/begin", "press"),
               ("Look back at Drives", "/drives", "press"))
COMMAND: Final = f"In a terminal: packhand{NBSP}record."
#: The figures shown largest, and what each is called.
LARGE: Final = {"amps": ("amps", "A"), "volts": ("volts", "V"), "percent": ("percent", "%")}


def layout(store: Store, place: Place) -> Component:  # noqa: ARG001 - the page has one place
    view = store.look()
    return html.Div([
        html.Div(words(view), id="now-words"),
        _deck(),
        html.Div(paper(view), id="now-paper"),
        dcc.Store(id="now-lanes", data=lane_names(view)),
        dcc.Store(id="now-changed"), dcc.Store(id="now-followed"),
        dcc.Store(id="now-each", data={"each": TICK_MS, "page": texts(view)["page"]}),
        dcc.Interval(id="now-draw", interval=DRAW_MS),
    ], className="page now")


def register(app: Dash, store: Store) -> None:
    app.clientside_callback(ClientsideFunction("now", "follow"),  # type: ignore[no-untyped-call]
                            Output("now-followed", "data"), Input("now-each", "data"))

    @app.callback(Output("now-words", "children"), Output("now-paper", "children"),
                  Output("now-lanes", "data"), Input("now-changed", "data"),
                  State("now-lanes", "data"), prevent_initial_call=True)
    def changed(_: object, lanes: list[str]) -> tuple[list[Component], Any, list[str]]:
        view = store.look()
        new = lane_names(view)
        return words(view), no_update if new == lanes else paper(view), new

    @app.callback(Output("now-marked", "children"), Input("now-mark", "n_clicks"),
                  prevent_initial_call=True)
    def mark(_: int) -> str:
        return store.mark()

    @app.callback(Output("now-graph", "figure"), Output("now-graph-heads", "children"),
                  Input("now-draw", "n_intervals"), Input("now-marked", "children"),
                  State("now-lanes", "data"), prevent_initial_call=True)
    def draw(_: object, __: object, lanes: list[str]) -> tuple[Patch | Any, Any]:
        view = store.look()
        if (recording := view.recording) is None or lane_names(view) != lanes:
            return no_update, no_update
        return redraw(picture(recording, view), keep_scale=False), heads(
            _lanes(recording), recording.units, cell_legend(recording), last_readings(view))


def _deck() -> Component:
    """What a thumb in a glove must hit: the mark, the sound."""
    return html.Div([
        html.Button("Mark", id="now-mark", type="button", className="strong"),
        html.P("", id="now-marked", className="told", role="status"),
        html.Button("Sound on", id="sound", type="button", **aria(pressed="false"),
                    title="Beeps once as a trial, then whenever an alarm stands"),
    ], className="deck")


def words(view: LiveView) -> list[Component]:
    """The sentence, the large figures, the marks."""
    recording = view.recording
    invented = recording is not None and recording.is_invented
    told: list[Component] = [
        html.Div([html.H1("Now", className="page-title"),
                  html.P("Invented data.", className="invented") if invented else None],
                 className="heading"),
        _alarms(view.alarms),
        html.P(live_sentence(view), className="sentence", **data(now="sentence")),
        html.P(SPOKEN[view.state], className="unseen", role="status")]
    if view.state in ("nothing", "ended"):
        told += [_ways(), html.P(COMMAND, className="small")]
    if recording is None:
        return told
    is_fresh = view.state == "recording"
    told.append(html.P(_beside(view, recording), className="aside", **data(now="aside")))
    last = last_readings(view)
    told.append(html.Div([_large(name, last.get(name)) for name in LARGE],
                         className="large" + ("" if is_fresh else " is-old")))
    if marks := [f"mark {recording.local(mark.elapsed_s):%H:%M:%S}"
                 + (f", {mark.words}" if mark.words else "") for mark in recording.marks[-3:]]:
        told.append(html.P("; ".join(marks), className="marks"))
    return told


def texts(view: LiveView) -> dict[str, Any]:
    """What changes from second to second, by the mark that the page's parts carry; and under
    ``page`` what the page's build depends on."""
    last = last_readings(view)
    told = {"sentence": live_sentence(view)}
    if view.recording is not None:
        told["aside"] = _beside(view, view.recording)
    for name in LARGE if view.recording is not None else ():
        figure, note = last.get(name) or (NO_RECORD, "")
        told |= {name: figure, f"{name}-note": note}
    marks = len(view.recording.marks) if view.recording is not None else 0
    page = [view.state, *lane_names(view), *(name for name in LARGE if last.get(name)),
            *(alarm.what for alarm in view.alarms), marks]
    return {"page": " ".join(map(str, page)), "texts": told}


def _beside(view: LiveView, recording: Recording) -> str:
    if view.state != "recording":
        return "What stands below is the last that was heard."
    return f"{_meaning(recording)}{_beside_sign(recording.sign)}"


def _beside_sign(sign: SignFinding) -> str:
    """What to do where the sign turned, and what speaks against one that is told."""
    if math.isfinite(sign.turned_s):
        return " Its sign has turned: stop the recording and begin anew."
    return f" But {sign.conflict}." if sign.conflict else ""


def _ways() -> Component:
    """Where to go from an idle page: the pages' own ways first."""
    return html.P([dcc.Link(words, href=path, className=look) for words, path, look in WAYS],
                  className="onward")


def _alarms(alarms: Sequence[Alarm]) -> Component:
    """What is wrong and what to do, in words."""
    told = [html.Li([html.Strong(f"Alarm: {alarm.what}."), f" {alarm.action[:1].upper()}"
                     f"{alarm.action[1:]}." if alarm.action else ""]) for alarm in alarms]
    return html.Div([html.Ul(told), html.P(CAUTION, className="small")] if told else [],
                    className="alarms", role="alert", **data(alarms=str(len(told))))


def _meaning(recording: Recording) -> str:
    """What the last sample means."""
    last_s = recording.duration_s
    return sentence(recording, last_s, rows_at(recording, np.array([last_s]))[0])


def last_readings(view: LiveView) -> dict[str, Reading]:
    """The read-outs of the last sample, by lane."""
    if view.recording is None:
        return {}
    found = readings(view.recording, np.array([view.recording.duration_s]))
    return {lane: values[0] for lane, values in found.items()}


def _large(name: str, reading: Reading) -> Component:
    label, unit = LARGE[name]
    figure, note = reading or (NO_RECORD, "")
    return html.Div([
        html.Span(label, className="large-name"),
        html.Span([html.Span(figure, **data(now=name)),
                   html.Span(unit if reading else "", className="unit")],
                  className="large-figure" + ("" if reading else " is-missing")),
        html.Span(note, className="large-note", **data(now=f"{name}-note")),
    ], className="large-one")


def lane_names(view: LiveView) -> list[str]:
    return [lane.name for lane in _lanes(view.recording)]


def _lanes(recording: Recording | None) -> tuple[Lane, ...]:
    return lanes_of(recording.traces) if recording else ()


def paper(view: LiveView) -> Component | None:
    """The strips of the last minutes, or nothing before the first sample."""
    recording = view.recording
    if recording is None:
        return None
    return sheet("now-graph", picture(recording, view), _lanes(recording), recording.units,
                 "The last five minutes. Shaded or blank paper is time without a record.",
                 legend=cell_legend(recording), readings=last_readings(view))


def picture(recording: Recording, view: LiveView) -> go.Figure:
    """The last ``WINDOW_S`` seconds, counted back from now."""
    now_s = recording.duration_s + min(view.age_s, WINDOW_S)
    drawn = {name: Curve(curve.x - now_s, curve.y)
             for name, curve in recording.curves(now_s - WINDOW_S, now_s, NOW_COLUMNS).items()}
    marks = [(mark.elapsed_s - now_s, f"mark {recording.local(mark.elapsed_s):%H:%M}")
             for mark in recording.marks if mark.elapsed_s > now_s - WINDOW_S]
    gaps = [replace(gap, start_s=gap.start_s - now_s, end_s=gap.end_s - now_s)
            for gap in recording.gaps if gap.end_s > now_s - WINDOW_S]
    return strips(drawn, ago_axis(WINDOW_S), gaps=gaps, marks=marks)
