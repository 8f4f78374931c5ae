"""The course of a figure over months: dated points with their intervals, and the line they make.

Paper without points is time without evidence. A line is drawn with its band or not at all, and
dotted where it lies ahead of the last point.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

import plotly.graph_objects as go

from analysis.local_days import local

from ..theme import ANSWER_ROLES, LIGHT, MARGIN, template
from .ranges import Reference
from .strips import Axis, x_axis

DAY_S: Final = 86_400.0
#: Room beside the first and the last point, as a share of the time shown.
ROOM: Final = 0.03
#: Room above and below, as a share of what is shown.
HEADROOM: Final = 0.08
#: A name stands so far above its level, as a share of the scale.
CLEAR: Final = 0.015
#: Labelled months at most; with more, quarters, then years.
LABELS_MAX: Final = 7
_STEPS: Final = (1, 3, 6, 12, 24, 60, 120, 600)
#: With more points than this they are drawn small.
MANY: Final = 40


@dataclass(frozen=True, slots=True)
class Point:
    """A dated figure with its interval."""

    #: Unix time. [s]
    moment_s: float
    value: float
    low: float
    high: float
    #: Drawn hollow: known less directly than the full ones.
    is_open: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """A line with its band; each tuple has one figure a moment."""

    #: Unix time, rising. [s]
    moment_s: tuple[float, ...]
    middle: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    #: Dotted from here on. [Unix s]
    seen_until_s: float


def course(points: Sequence[Point], unit: str, line: Line | None = None,
           reference: Reference | None = None) -> go.Figure:
    """The picture.

    Parameters
    ----------
    points
        In any order; any number.
    unit
        What the scale at the left counts: ``Ah at 20 °C``.
    reference
        A dashed level, named at its right end; it widens the scale as far as itself.
    """
    moments = [p.moment_s for p in points] + list(line.moment_s if line else ())
    axis = month_axis(min(moments, default=0.0), max(moments, default=DAY_S))
    figure = go.Figure(layout={
        "template": template(), "dragmode": False, "margin": MARGIN | {"t": 26},
        "xaxis": x_axis(axis) | {"fixedrange": True},
        "yaxis": {"range": _extent(points, line, reference), "fixedrange": True, "nticks": 6,
                  "title": {"text": unit, "standoff": 4, "font": {"size": 12}}}})
    if line:
        figure.add_traces(_line(line))
    if reference:
        figure.add_traces(_level(reference, axis, _extent(points, line, reference)))
    figure.add_traces([_intervals(points),
                       _dots("open-point", [p for p in points if p.is_open], len(points)),
                       _dots("point", [p for p in points if not p.is_open], len(points))])
    return figure


def month_axis(first_s: float, last_s: float) -> Axis:
    """An axis over Unix time, labelled at the first of months (UTC), with room at both ends."""
    room = max(ROOM * (last_s - first_s), DAY_S)
    start_s, end_s = first_s - room, last_s + room
    firsts = _months(start_s, end_s)
    step = next((s for s in _STEPS if sum((m.month - 1 + 12 * m.year) % s == 0 for m in firsts)
                 <= LABELS_MAX), _STEPS[-1])
    chosen = [m for m in firsts if (m.month - 1 + 12 * m.year) % step == 0]
    return Axis(start_s, end_s, tuple(m.timestamp() for m in chosen),
                tuple(_month_words(m, is_first=k == 0) for k, m in enumerate(chosen)))


def _months(start_s: float, end_s: float) -> list[datetime]:
    """The firsts of months between two moments."""
    start = local(start_s)
    count, found = 12 * start.year + start.month - 1, []
    while (first := datetime(count // 12, count % 12 + 1, 1,
                             tzinfo=start.tzinfo)).timestamp() <= end_s:
        found += [first] if first.timestamp() >= start_s else []
        count += 1
    return found


def _month_words(month: datetime, *, is_first: bool) -> str:
    """``Apr``, with the year where it begins to be another."""
    return f"{month:%b %Y}" if is_first or month.month == 1 else f"{month:%b}"


def _extent(points: Sequence[Point], line: Line | None, reference: Reference | None) -> list[float]:
    ends = [end for p in points for end in (p.low, p.high)]
    ends += [*line.low, *line.high] if line else []
    ends += [reference.value] if reference else []
    low, high = (min(ends), max(ends)) if ends else (0.0, 1.0)
    room = HEADROOM * (high - low) or 1.0
    return [low - room, high + room]


def _line(line: Line) -> list[go.Scatter]:
    """The band, the middle as far as it was seen, and dotted from there."""
    seen = [(s, y) for s, y in zip(line.moment_s, line.middle, strict=True)
            if s <= line.seen_until_s]
    ahead = seen[-1:] + [(s, y) for s, y in zip(line.moment_s, line.middle, strict=True)
                         if s > line.seen_until_s]
    return [
        go.Scatter(x=[*line.moment_s, *reversed(line.moment_s)],
                   y=[*line.low, *reversed(line.high)], uid="band", name="band", mode="lines",
                   fill="toself", fillcolor="rgba(117,134,122,0.28)",
                   line={"color": _colour("band"), "width": 0.8}),
        _stroke("middle", seen, 1.4), _stroke("ahead", ahead, 1.6, dash="dot")]


def _level(reference: Reference, axis: Axis, scale: Sequence[float]) -> list[go.Scatter]:
    """The dashed level, its name clear above it."""
    above = reference.value + CLEAR * (scale[1] - scale[0])
    ends = [(axis.start_s, reference.value), (axis.end_s, reference.value)]
    return [_stroke("reference", ends, 1.4, dash="dash"),
            go.Scatter(x=[axis.end_s], y=[above], uid="reference-name", mode="text",
                       name="reference-name", text=[reference.words], textposition="top left",
                       cliponaxis=False)]


def _stroke(name: str, ends: Sequence[tuple[float, float]], width: float,
            dash: str = "solid") -> go.Scatter:
    return go.Scatter(x=[s for s, _ in ends], y=[y for _, y in ends], uid=name, name=name,
                      mode="lines", line={"color": _colour(name), "width": width, "dash": dash})


def _intervals(points: Sequence[Point]) -> go.Scatter:
    x: list[Any] = [s for p in points for s in (p.moment_s, p.moment_s, None)]
    y: list[Any] = [end for p in points for end in (p.low, p.high, None)]
    width = 1.6 if len(points) <= MANY else 0.5
    return go.Scatter(x=x, y=y, uid="interval", name="interval", mode="lines", connectgaps=False,
                      line={"color": _colour("interval"), "width": width})


def _dots(name: str, points: Sequence[Point], of_all: int) -> go.Scatter:
    colour = _colour(name)
    hollow = name.startswith("open-")
    return go.Scatter(x=[p.moment_s for p in points], y=[p.value for p in points], uid=name,
                      name=name, mode="markers", marker={
                          "size": 9 if of_all <= MANY else 5,
                          "color": LIGHT["paper"] if hollow else colour,
                          "line": {"width": 1.6, "color": colour}})


def _colour(name: str) -> str:
    return LIGHT[ANSWER_ROLES[name]]
