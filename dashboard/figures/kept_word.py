"""Forecasts and what came of them: a band for what was foretold, a mark for what it was."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import plotly.graph_objects as go

from analysis.ahead.range_ahead import Prediction

from ..theme import ANSWER_ROLES, LIGHT, MARGIN, template

#: The last so many are drawn; more would lie upon each other on a phone.
DRAWN_MAX: Final = 120
HEADROOM: Final = 0.06


def kept_word(made: Sequence[Prediction], factor: float, unit: str) -> go.Figure:
    """The last predictions, oldest at the left.

    Parameters
    ----------
    factor
        From the predictions' unit to the one that is shown.
    unit
        What the scale at the left counts.
    """
    drawn = made[-DRAWN_MAX:]
    first = len(made) - len(drawn) + 1
    x = list(range(first, first + len(drawn)))
    low, high = ([factor * getattr(p, end) for p in drawn] for end in ("low", "high"))
    ends = [*low, *high, *(factor * p.actual for p in drawn)] or [0.0, 1.0]
    room = HEADROOM * (max(ends) - min(ends)) or 1.0
    band = go.Scatter(x=x + x[::-1], y=low + high[::-1], uid="band", name="band", mode="lines",
                      fill="toself", fillcolor="rgba(117,134,122,0.28)",
                      line={"color": _colour("band"), "width": 0.8, "shape": "linear"})
    marks = [_marks(name, drawn, x, factor) for name in ("point", "dot-told")]
    return go.Figure([band, *marks], layout={
        "template": template(), "dragmode": False, "margin": MARGIN | {"b": 44},
        "xaxis": {"range": [first - 1, first + len(drawn)], "fixedrange": True, "nticks": 6,
                  "title": {"text": "stretches foretold, the newest at the right", "standoff": 4,
                            "font": {"size": 12}}},
        "yaxis": {"range": [min(ends) - room, max(ends) + room], "fixedrange": True, "nticks": 5,
                  "title": {"text": unit, "standoff": 4, "font": {"size": 12}}}})


def _marks(name: str, drawn: Sequence[Prediction], x: Sequence[int], factor: float) -> go.Scatter:
    """Hits as dots, misses as crosses."""
    is_hit = name == "point"
    kept = [(place, factor * p.actual) for place, p in zip(x, drawn, strict=True)
            if p.is_hit == is_hit]
    return go.Scatter(x=[place for place, _ in kept], y=[value for _, value in kept], uid=name,
                      name=name, mode="markers", marker={
                          "size": 5 if is_hit else 9, "symbol": "circle" if is_hit else "x",
                          "color": _colour(name)})


def _colour(name: str) -> str:
    return LIGHT[ANSWER_ROLES[name]]
