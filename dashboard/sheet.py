"""The paper on a page: the strips, the label and read-out of each lane, a sentence for whoever
cannot see them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, cast

import plotly.graph_objects as go
from dash import Patch, dcc, html
from dash.development.base_component import Component

from .figures.strips import Lane, config, domains, packed
from .markup import data
from .moments import Reading
from .quantities import NO_RECORD, Shown, Units, shown
from .recording import Recording

#: Label, unit and help of the lanes that show something else than their column.
_LANE_WORDS = {
    "cells": ("Cells", "mV apart", "Grey runs from the lowest to the highest cell. A wide grey "
              "band means that the cells have drifted apart."),
    "temperature": ("Temperature", "", "The warmest sensor of the pack."),
}


def graph(identity: str, figure: go.Figure) -> Component:
    """A graph; every one is made here, so that none can send its data away."""
    return dcc.Graph(id=identity, figure=figure, config=cast(Any, config()), className="strips",
                     style={"height": "100%"}, clear_on_unhover=False)


def sheet(identity: str, figure: go.Figure, lanes: Sequence[Lane], units: Units, caption: str, *,
          legend: str = "", readings: Mapping[str, Reading] | None = None) -> html.Figure:
    """The strips with a head for each lane.

    Parameters
    ----------
    identity
        Id of the graph; the pen and the heads are found within the figure around it.
    caption
        What the picture shows, in a sentence.
    legend
        Which line is which in the cells' lane.
    readings
        What the heads show at first, by lane.
    """
    return html.Figure([
        html.Div([html.Div(heads(lanes, units, legend, readings or {}), id=f"{identity}-heads",
                           className="heads"), graph(identity, figure),
                  html.Div(html.Span(className="pen-time"), className="pen", hidden=True)],
                 className="paper-in", style={"--lanes": len(lanes)}),
        html.Figcaption(caption, className="caption"),
    ], className="paper")


def heads(lanes: Sequence[Lane], units: Units, legend: str,
          readings: Mapping[str, Reading]) -> list[Component]:
    """Label and read-out of each lane."""
    return [_head(lane, place, units, legend, readings.get(lane.name))
            for lane, place in zip(lanes, domains(lanes), strict=True)]


def _head(lane: Lane, domain: tuple[float, float], units: Units, legend: str,
          reading: Reading) -> Component:
    label, unit, words = _words_of(lane, shown(lane.column, units))
    figure, note = reading or (NO_RECORD, "")
    return html.Div([
        html.Span([label, html.Span(" measured", className="badge")], className="lane-name",
                  title=words),
        html.Span([
            html.Span(figure, className="figure", **data(reading=lane.name)),
            html.Span(unit, className="unit"),
        ], className="lane-reading", **data(missing=NO_RECORD)),
        html.Span(note, className="lane-note", **data(note=lane.name)),
        html.Span(legend if lane.name == "cells" else "", className="lane-legend"),
    ], className="lane-head" + ("" if reading else " is-missing"), id=f"lane-{lane.name}",
        style={"--top": round(1 - domain[1], 5), "--size": round(domain[1] - domain[0], 5)})


def _words_of(lane: Lane, entry: Shown) -> tuple[str, str, str]:
    label, unit, words = _LANE_WORDS.get(lane.name, ("", "", ""))
    return label or entry.label, unit or entry.unit, words or entry.help


def cell_legend(recording: Recording) -> str:
    """Which cell the single line in the cells' lane is."""
    cell = recording.lowest_cell
    return f"cell {cell}, lowest most often" if cell else ""


def redraw(figure: go.Figure, *, keep_scale: bool) -> Patch:
    """The change that turns a drawn sheet with the same lanes into this one.

    Only traces, the time axis and the flags travel; arrays go as base64.

    Parameters
    ----------
    keep_scale
        Leave the lanes' scales as they are.
    """
    patch = Patch()
    for place, trace in enumerate(figure.data):
        patch["data"][place]["x"] = packed(trace.x)
        patch["data"][place]["y"] = packed(trace.y)
    axis = figure.layout.xaxis
    for name in ("range", "tickvals", "ticktext"):
        patch["layout"]["xaxis"][name] = list(axis[name])
    if not keep_scale:
        for name in figure.layout:
            if name.startswith("yaxis"):
                patch["layout"][name]["range"] = list(figure.layout[name].range)
    for name in ("shapes", "annotations"):
        patch["layout"][name] = [part.to_plotly_json() for part in figure.layout[name]]
    return patch
