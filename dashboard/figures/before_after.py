"""Before and after: pairs of days as slopes, and what driving takes at each speed.

Before is hollow and dashed, after filled and solid, in every picture.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import plotly.graph_objects as go

from ..theme import ANSWER_ROLES, LIGHT, MARGIN, template

HEADROOM: Final = 0.08
#: Slopes are drawn over at least this part of their mean.
SPAN_MIN: Final = 0.3
#: Places of the two columns of slopes; room beside them.
BEFORE_X, AFTER_X, BESIDE = 0.0, 1.0, 0.25


@dataclass(frozen=True, slots=True)
class Pace:
    """What driving takes at one speed."""

    #: Middle of the band, in the person's unit.
    speed: float
    watts: float
    #: The part of it that coils burn at least, if the control is a resistor. [W]
    burnt_w: float


def slopes(pairs: Sequence[tuple[float, float]], unit: str) -> go.Figure:
    """A line from each day before to its day after.

    Parameters
    ----------
    pairs
        Consumption before and after.
    unit
        What the scale at the left counts.
    """
    x = [end for _ in pairs for end in (BEFORE_X, AFTER_X, None)]
    y = [end for pair in pairs for end in (*pair, None)]
    lines = go.Scatter(x=x, y=y, uid="pair", name="pair", mode="lines", connectgaps=False,
                       line={"color": _colour("pair"), "width": 0.9})
    ends = [end for pair in pairs for end in pair]
    middle = sum(ends) / len(ends) if ends else 0.0
    # Days that hardly differ are to look like it.
    ends += [middle * (1 - SPAN_MIN / 2), middle * (1 + SPAN_MIN / 2)]
    figure = _figure([lines, _dots("open-before", [BEFORE_X] * len(pairs), [a for a, _ in pairs]),
                      _dots("after", [AFTER_X] * len(pairs), [b for _, b in pairs])],
                     ends, unit)
    figure.update_xaxes(range=[BEFORE_X - BESIDE, AFTER_X + BESIDE], showgrid=False,
                        tickvals=[BEFORE_X, AFTER_X], ticktext=["before", "after"])
    return figure


def by_speed(before: Sequence[Pace], after: Sequence[Pace], unit: str) -> go.Figure:
    """Watts at each speed; the band below the line before is what coils burn at least.

    Parameters
    ----------
    unit
        Of the speed.
    """
    speeds, watts = [p.speed for p in before], [p.watts for p in before]
    useful = [p.watts - p.burnt_w for p in before]
    band = go.Scatter(x=speeds + speeds[::-1], y=watts + useful[::-1], uid="band", name="band",
                      mode="lines", fill="toself", fillcolor="rgba(117,134,122,0.28)",
                      line={"color": _colour("band"), "width": 0.8})
    ends = [0.0, *watts, *useful, *(p.watts for p in after)]
    figure = _figure([band, _line("before", before, "dash"), _line("after", after, "solid"),
                      _dots("open-before", speeds, watts),
                      _dots("after", [p.speed for p in after], [p.watts for p in after])],
                     ends, "watts while driving")
    figure.update_xaxes(title={"text": unit, "standoff": 4, "font": {"size": 12}}, nticks=8)
    figure.update_layout(margin=MARGIN | {"b": 44})
    return figure


def _figure(traces: Sequence[go.Scatter], ends: Sequence[float], unit: str) -> go.Figure:
    low, high = (min(ends), max(ends)) if ends else (0.0, 1.0)
    room = HEADROOM * (high - low) or 1.0
    return go.Figure(list(traces), layout={
        "template": template(), "dragmode": False, "margin": MARGIN,
        "xaxis": {"fixedrange": True},
        "yaxis": {"range": [low - room, high + room], "fixedrange": True, "nticks": 6,
                  "title": {"text": unit, "standoff": 4, "font": {"size": 12}}}})


def _line(name: str, paces: Sequence[Pace], dash: str) -> go.Scatter:
    return go.Scatter(x=[p.speed for p in paces], y=[p.watts for p in paces], uid=name, name=name,
                      mode="lines", line={"color": _colour(name), "width": 1.8, "dash": dash})


def _dots(name: str, x: Sequence[float], y: Sequence[float]) -> go.Scatter:
    colour = _colour(name)
    marker: dict[str, Any] = {"size": 9, "line": {"width": 1.8, "color": colour},
                              "color": LIGHT["paper"] if name.startswith("open-") else colour}
    return go.Scatter(x=list(x), y=list(y), uid=name, name=name, mode="markers", marker=marker)


def _colour(name: str) -> str:
    return LIGHT[ANSWER_ROLES[name]]
