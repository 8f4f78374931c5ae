"""Use over months: an upright tick for each day, as high as what was taken out."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from ..theme import ANSWER_ROLES, LIGHT, MARGIN, template
from .course import month_axis
from .strips import x_axis

#: Room above the highest tick, as a share of it.
HEADROOM = 0.08
#: Ticks are so wide, thinner where there are many days. [px]
WIDTH_PX, MANY_PX, MANY = 3.0, 1.2, 200


def day_ticks(days: Sequence[tuple[float, float]], unit: str) -> go.Figure:
    """Each day's figure from zero up.

    Parameters
    ----------
    days
        Midnight [Unix s] and figure, which is 0 or more. Days without one are blank paper.
    """
    moments = [s for s, _ in days] or [0.0]
    axis = month_axis(min(moments), max(moments))
    top = (1 + HEADROOM) * max((figure for _, figure in days), default=0.0) or 1.0
    x = [end for s, _ in days for end in (s, s, None)]
    y = [end for _, figure in days for end in (0.0, figure, None)]
    return go.Figure(
        go.Scatter(x=x, y=y, uid="tick", name="tick", mode="lines", connectgaps=False, line={
            "color": LIGHT[ANSWER_ROLES["tick"]],
            "width": WIDTH_PX if len(days) <= MANY else MANY_PX}),
        layout={"template": template(), "dragmode": False, "margin": MARGIN,
                "xaxis": x_axis(axis) | {"fixedrange": True},
                "yaxis": {"range": [0.0, top], "fixedrange": True, "nticks": 4,
                          "title": {"text": unit, "standoff": 4, "font": {"size": 12}}}})
