"""The strips: one sheet of paper, a lane for each quantity, one time axis for all."""

from __future__ import annotations

import base64
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final, Protocol

import numpy as np
import plotly.graph_objects as go

from ..reduce import Curve
from ..theme import LIGHT, TRACE_ROLES, template

#: Columns of pixels that a strip is reduced to; each gives at most two points.
COLUMNS: Final = 500
#: Steps between labelled times. [s]
_TICK_STEPS_S: Final = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400,
                        21600, 43200, 86400, 172800, 604800)
_TICKS_MAX: Final = 5


@dataclass(frozen=True, slots=True)
class Lane:
    """One strip of the sheet."""

    name: str
    #: The column whose label, unit and help the lane carries.
    column: str
    #: Traces drawn in it, back to front.
    traces: tuple[str, ...]
    #: Height, as a share of the sheet.
    share: float
    #: The lane shows at least this span, in shown units, so that noise stays small.
    span_min: float


LANES: Final = (
    Lane("amps", "current_a", ("out-area", "in-area", "out", "in"), 1.5, 10.0),
    Lane("volts", "voltage_v", ("volts",), 1.1, 1.0),
    Lane("percent", "soc_pct", ("percent",), 0.8, 10.0),
    Lane("cells", "cell_min_v", ("ribbon", "lowest"), 1.3, 0.05),
    Lane("temperature", "temp_1_c", ("temperature",), 0.8, 5.0),
    Lane("speed", "speed_m_s", ("speed",), 0.9, 10.0),
)
#: Space above each lane as a share of the sheet; on a phone the lane's label stands in it.
LANE_GAP: Final = 0.036
#: Room that the name of a mark takes, as a share of a phone's sheet.
NAME_SHARE: Final = 0.22


class Stretch(Protocol):
    """A gap: time that nobody saw."""

    @property
    def start_s(self) -> float: ...
    @property
    def end_s(self) -> float: ...


@dataclass(frozen=True, slots=True)
class Axis:
    """The time axis of a view: its ends and its labelled moments."""

    start_s: float
    end_s: float
    ticks_s: tuple[float, ...]
    labels: tuple[str, ...]


def lanes_of(traces: Sequence[str]) -> tuple[Lane, ...]:
    """The lanes that have something to show."""
    return tuple(lane for lane in LANES if set(lane.traces) & set(traces))


def domains(lanes: Sequence[Lane]) -> list[tuple[float, float]]:
    """Bottom and top of each lane on a sheet of height 1, top lane first."""
    free = 1.0 - LANE_GAP * len(lanes)
    total = sum(lane.share for lane in lanes)
    top, found = 1.0, []
    for lane in lanes:
        top -= LANE_GAP
        bottom = top - free * lane.share / total
        found.append((round(max(bottom, 0.0), 6), round(top, 6)))
        top = bottom
    return found


def clock_axis(first: datetime, start_s: float, end_s: float) -> Axis:
    """A view's axis labelled with local clock time.

    Parameters
    ----------
    first
        Local time at 0 s.
    """
    step = next((s for s in _TICK_STEPS_S if (end_s - start_s) / s <= _TICKS_MAX),
                _TICK_STEPS_S[-1])
    midnight = first.replace(hour=0, minute=0, second=0, microsecond=0)
    origin = (first - midnight).total_seconds()
    count = range(math.ceil((origin + start_s) / step), math.floor((origin + end_s) / step) + 1)
    form = "%H:%M" if step % 60 == 0 else "%H:%M:%S"
    form = "%d %b" if step >= 86400 else form
    ticks = tuple(k * step - origin for k in count)
    return Axis(start_s, end_s, ticks,
                tuple((first + timedelta(seconds=s)).strftime(form) for s in ticks))


def ago_axis(span_s: float) -> Axis:
    """An axis that ends now: minutes ago."""
    minutes = range(-int(span_s // 60), 1)
    return Axis(-span_s, 0.0, tuple(60.0 * m for m in minutes),
                tuple("now" if m == 0 else f"{-m} min ago" if -m == len(minutes) - 1
                      else f"{-m}" for m in minutes))


def span_of(lane: Lane, curves: Mapping[str, Curve]) -> tuple[float, float]:
    """Lowest and highest value to show in a lane, with room around the line."""
    values = [curves[trace].y for trace in lane.traces if trace in curves]
    finite = np.concatenate(values) if values else np.empty(0, np.float32)
    finite = finite[np.isfinite(finite)]
    low, high = (float(finite.min()), float(finite.max())) if len(finite) else (0.0, 0.0)
    if lane.name == "percent":
        return (-3.0, 103.0) if high - low > 40 else _padded(low, high, lane.span_min)
    return _padded(low, high, lane.span_min)


def _padded(low: float, high: float, span_min: float) -> tuple[float, float]:
    """Room around the line, in steps, so that a live strip's scale does not shiver."""
    short = max(span_min - (high - low), 0.0) / 2
    room = 0.06 * max(high - low, span_min)
    step = span_min / 4
    return (math.floor((low - short - room) / step) * step,
            math.ceil((high + short + room) / step) * step)


def strips(curves: Mapping[str, Curve], axis: Axis, *, gaps: Sequence[Stretch] = (),
           marks: Sequence[tuple[float, str]] = ()) -> go.Figure:
    """The sheet: a lane for each quantity that has figures, gaps shaded, marks named.

    Parameters
    ----------
    curves
        By trace name, see ``theme.TRACE_ROLES``; y in shown units.
    axis
        The view; its ticks carry the labels.
    gaps
        Shaded where they are wide enough to be seen.
    marks
        Moment [s] and name of each.
    """
    lanes = lanes_of(list(curves))
    figure = go.Figure(layout={"template": template(), "xaxis": x_axis(axis) | {
        "anchor": axis_name(len(lanes) - 1, "y"), "domain": [0, 1]}})
    for place, (lane, domain) in enumerate(zip(lanes, domains(lanes), strict=True)):
        figure.add_traces([_trace(name, curves[name], axis_name(place, "y"))
                           for name in lane.traces if name in curves])
        figure.layout[axis_name(place, "yaxis")] = {
            "domain": domain, "range": span_of(lane, curves), "nticks": 5, "anchor": "x"}
    figure.layout.shapes = [*_shades(_seen(gaps, axis)), *_flags(marks)]
    figure.layout.annotations = _names(marks, axis)
    return figure


def axis_name(place: int, prefix: str) -> str:
    """``y``, ``y2``, ... or ``yaxis``, ``yaxis2``, ... of the lane at a place from 0."""
    return prefix if place == 0 else f"{prefix}{place + 1}"


def x_axis(axis: Axis) -> dict[str, Any]:
    """Range and labels of a view, as the figure's x axis takes them."""
    return {"range": [axis.start_s, axis.end_s], "tickmode": "array", "tickangle": 0,
            "tickvals": list(axis.ticks_s), "ticktext": list(axis.labels)}


def packed(values: np.ndarray) -> dict[str, str]:
    """An array as plotly reads it from base64; a third of the work of a list of numbers."""
    kind = "f8" if values.dtype == np.float64 else "f4"
    little = np.ascontiguousarray(values, dtype=f"<{kind}")
    return {"dtype": kind, "bdata": base64.b64encode(little.tobytes()).decode("ascii")}


def config() -> dict[str, Any]:
    """The configuration of every graph: nothing of plotly's that could send data away."""
    return {"displayModeBar": False, "showSendToCloud": False, "plotlyServerURL": "",
            "displaylogo": False, "showTips": False, "doubleClick": False, "scrollZoom": False,
            "responsive": True}


def _trace(name: str, curve: Curve, y_axis: str) -> go.Scatter:
    colour = LIGHT[TRACE_ROLES[name]]
    style: dict[str, Any] = {"line": {"color": colour, "width": 1.2}}
    if name.endswith("-area"):
        style = {"line": {"width": 0}, "fill": "toself", "fillcolor": _veil(colour, 0.22)}
    elif name == "ribbon":
        style |= {"fill": "toself", "fillcolor": _veil(colour, 0.45)}
        style["line"]["width"] = 0.8
    elif name == "lowest":
        style["line"]["width"] = 1.6
    return go.Scatter(x=curve.x, y=curve.y, uid=name, name=name, yaxis=y_axis, mode="lines",
                      connectgaps=False, **style)


def _veil(colour: str, opacity: float) -> str:
    red, green, blue = (int(colour[i:i + 2], 16) for i in (1, 3, 5))
    return f"rgba({red},{green},{blue},{opacity})"


def _seen(gaps: Sequence[Stretch], axis: Axis) -> list[Stretch]:
    """Gaps in the view that are at least a column wide; thousands of others cost, and show nil."""
    narrowest_s = (axis.end_s - axis.start_s) / COLUMNS
    return [gap for gap in gaps if gap.end_s - gap.start_s >= narrowest_s
            and gap.end_s > axis.start_s and gap.start_s < axis.end_s]


def _shades(gaps: Sequence[Stretch]) -> list[dict[str, Any]]:
    return [{"type": "rect", "yref": "paper", "y0": 0, "y1": 1, "x0": gap.start_s,
             "x1": gap.end_s, "layer": "below", "fillcolor": LIGHT["gap"], "name": "gap",
             "line": {"width": 1, "color": LIGHT["frame"], "dash": "dot"}} for gap in gaps]


def _flags(marks: Sequence[tuple[float, str]]) -> list[dict[str, Any]]:
    return [{"type": "line", "yref": "paper", "y0": 0, "y1": 1, "x0": s, "x1": s,
             "name": "mark", "line": {"width": 1.4, "color": LIGHT["mark"], "dash": "dash"}}
            for s, _ in marks]


def _names(marks: Sequence[tuple[float, str]], axis: Axis) -> list[dict[str, Any]]:
    """A name over each mark that leaves room for it; every mark keeps its line."""
    span_s = axis.end_s - axis.start_s
    named: list[tuple[float, str]] = []
    for s, name in sorted(marks, reverse=True):
        if axis.start_s <= s <= axis.end_s and (
                not named or named[-1][0] - s >= NAME_SHARE * span_s):
            named.append((s, name))
    return [{"x": s, "y": 1, "yref": "paper", "yanchor": "bottom", "showarrow": False,
             "xanchor": _side((s - axis.start_s) / span_s), "text": name,
             "font": {"size": 12, "color": LIGHT["mark"]}} for s, name in named]


def _side(place: float) -> str:
    """Where a name begins, so that it ends within the sheet; ``place`` from 0 to 1."""
    if place > 1 - NAME_SHARE / 2:
        return "right"
    return "left" if place < NAME_SHARE / 2 else "center"
