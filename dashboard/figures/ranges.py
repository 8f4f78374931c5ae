"""Ranges: a row for each thing, with a dot for its figure and a line for what it may be."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

import plotly.graph_objects as go

from ..theme import ANSWER_ROLES, LIGHT, MARGIN, template

#: Height of a row, and of what stands above and below them all. [px]
ROW_PX: Final = 26
AROUND_PX: Final = 66
#: Room for each letter of a label [px], and letters in a line, so that a phone keeps room for rows.
LETTER_PX: Final = 7.0
LINE_LETTERS: Final = 18
#: The axis begins so far above the first row. [rows]
FIRST: Final = 0.6
#: Room beside the outermost ends, as a share of what is shown.
ROOM: Final = 0.06
#: From this share of the width on, a name at the top is written towards the middle.
INWARDS: Final = 0.7


@dataclass(frozen=True, slots=True)
class Ranged:
    """One row."""

    #: Stands at the left.
    label: str
    #: The figure and the ends of its interval; NaN where nothing is known, which stays blank.
    value: float
    low: float
    high: float
    #: Drawn thicker and as a diamond: what the sentence speaks of.
    is_told: bool = False

    @property
    def is_known(self) -> bool:
        return all(map(math.isfinite, (self.value, self.low, self.high)))


#: Rows with their places from the top.
Rows = Sequence[tuple[int, Ranged]]


@dataclass(frozen=True, slots=True)
class Reference:
    """A figure that the others are held against, and its name."""

    value: float
    words: str


def ranges(rows: Sequence[Ranged], unit: str, reference: Reference | None = None) -> go.Figure:
    """Rows from the top, in the order given.

    Parameters
    ----------
    rows
        A row that is not known keeps its label and stays blank.
    unit
        What the scale below counts: ``mV below the middle cell``.
    reference
        A dashed line from top to bottom, its name above it.
    """
    known = [(place, row) for place, row in enumerate(rows) if row.is_known]
    plain = [(place, row) for place, row in known if not row.is_told]
    told = [(place, row) for place, row in known if row.is_told]
    figure = go.Figure(layout={
        "template": template(), "dragmode": False, "margin": MARGIN | {
            "l": _label_px(rows), "t": 26, "b": AROUND_PX - 26},
        "xaxis": {"range": extent(rows, reference), "fixedrange": True, "nticks": 6,
                  "title": {"text": unit, "standoff": 6, "font": {"size": 12}}},
        "yaxis": {"range": [len(rows) - FIRST, -FIRST], "fixedrange": True, "showgrid": False,
                  "tickvals": list(range(len(rows))),
                  "ticktext": ["<br>".join(_label_lines(row)) for row in rows]}})
    if reference:
        figure.add_traces(_reference(reference, len(rows), extent(rows, reference)))
    figure.add_traces([_lines("range", plain, 1.6), _lines("range-told", told, 3.4),
                       _dots("dot", plain, "circle", 8), _dots("dot-told", told, "diamond", 12)])
    return figure


def height_px(rows: Sequence[Ranged]) -> int:
    """Height of the figure that gives each row its room. [px]"""
    return AROUND_PX + ROW_PX * max(len(rows), 1)


def by_value(rows: Sequence[Ranged], size: Callable[[float], float] = float) -> list[Ranged]:
    """Rows with the largest figure first, those without one last; ``size`` such as ``abs``."""
    return sorted(rows, key=lambda row: -size(row.value) if row.is_known else math.inf)


def extent(rows: Sequence[Ranged], reference: Reference | None) -> list[float]:
    """Ends of the scale: everything that is drawn, with room beside it."""
    ends = [end for row in rows if row.is_known for end in (row.low, row.high)]
    ends += [reference.value] if reference else []
    low, high = (min(ends), max(ends)) if ends else (0.0, 1.0)
    room = ROOM * (high - low) or max(abs(high), 1.0) * ROOM
    return [low - room, high + room]


def _label_px(rows: Sequence[Ranged]) -> int:
    longest = max((len(line) for row in rows for line in textwrap.wrap(row.label, LINE_LETTERS)),
                  default=0)
    return round(max(MARGIN["l"], 14 + LETTER_PX * longest))


def _label_lines(row: Ranged) -> list[str]:
    """A label on two lines at most; plotly reads markup, so what looks like it is taken apart."""
    return [escape(line, quote=False) for line in textwrap.wrap(
        row.label, LINE_LETTERS, max_lines=2, placeholder=" …")]


def _lines(name: str, rows: Rows, width: float) -> go.Scatter:
    x = [end for _, row in rows for end in (row.low, row.high, None)]
    y = [end for place, _ in rows for end in (place, place, None)]
    return go.Scatter(x=x, y=y, uid=name, name=name, mode="lines", connectgaps=False,
                      line={"color": _colour(name), "width": width})


def _dots(name: str, rows: Rows, symbol: str, size: float) -> go.Scatter:
    return go.Scatter(x=[row.value for _, row in rows], y=[place for place, _ in rows], uid=name,
                      name=name, mode="markers",
                      marker={"color": _colour(name), "size": size, "symbol": symbol})


def _reference(reference: Reference, rows: int, scale: Sequence[float]) -> list[go.Scatter]:
    """The line, and its name at its upper end, turned inwards where the paper ends."""
    place = (reference.value - scale[0]) / (scale[1] - scale[0])
    side = "left" if place > INWARDS else "right" if place < 1 - INWARDS else "center"
    return [go.Scatter(x=[reference.value] * 2, y=[-FIRST, rows - FIRST], uid="reference",
                       name="reference", mode="lines",
                       line={"color": _colour("reference"), "width": 1.4, "dash": "dash"}),
            go.Scatter(x=[reference.value], y=[-FIRST], uid="reference-name", mode="text",
                       name="reference-name", text=[escape(reference.words, quote=False)],
                       textposition=f"top {side}", cliponaxis=False)]


def _colour(name: str) -> str:
    return LIGHT[ANSWER_ROLES[name]]
