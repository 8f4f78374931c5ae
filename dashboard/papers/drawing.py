"""A chart as lines, areas and words on paper, for any medium: nothing here knows SVG or PDF.

Lengths are points (1/72 inch), x to the right, y down. Colours are roles of ``theme.PRINT``.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
from typing import Final, Literal

from ..theme import PRINT

Points = tuple[tuple[float, float], ...]
Anchor = Literal["start", "middle", "end"]
#: Size of the words on a chart. [pt]
LABEL_PT: Final = 8.0


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line through points."""

    points: Points
    role: str = "ink"
    width: float = 0.8
    is_dashed: bool = False


@dataclass(frozen=True, slots=True)
class Area:
    """A filled outline."""

    points: Points
    role: str


@dataclass(frozen=True, slots=True)
class Dot:
    """A small filled circle."""

    x: float
    y: float
    role: str = "ink"
    radius: float = 2.2


@dataclass(frozen=True, slots=True)
class Label:
    """Words whose foot line begins, is centred or ends at a point."""

    x: float
    y: float
    words: str
    anchor: Anchor = "start"
    role: str = "ink"


Part = Stroke | Area | Dot | Label


@dataclass(frozen=True, slots=True)
class Drawing:
    """A chart with a sentence that says what it shows to whoever cannot see it."""

    width: float
    height: float
    title: str
    description: str
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True)
class Scale:
    """Figures of an axis to places on paper."""

    low: float
    high: float
    #: Place of ``low`` and of ``high``. [pt]
    start: float
    end: float

    def at(self, value: float) -> float:
        """Place of a figure. [pt]"""
        share = (value - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)


def ticks(low: float, high: float, most: int = 6) -> list[float]:
    """Round figures between two ends: steps of 1, 2 or 5 times a power of ten."""
    if not high > low:
        return [low]
    rough = (high - low) / max(most, 1)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(m * power for m in (1, 2, 5, 10) if m * power >= rough * (1 - 1e-9))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [round(n * step, 10) for n in range(first, last + 1)]


def around(low: float, high: float, share: float = 0.08) -> tuple[float, float]:
    """Ends with some room on both sides."""
    room = (high - low) * share or max(abs(low), 1.0) * share
    return low - room, high + room


def as_svg(drawing: Drawing, identity: str) -> str:
    """The chart as one SVG element, with title and description for screen readers."""
    size = f"{_n(drawing.width)} {_n(drawing.height)}"
    return "".join([
        f'<svg viewBox="0 0 {size}" role="img" aria-labelledby="{identity}-t {identity}-d">',
        f'<title id="{identity}-t">{escape(drawing.title)}</title>',
        f'<desc id="{identity}-d">{escape(drawing.description)}</desc>',
        *_svg_parts(drawing.parts), "</svg>"])


def _svg_parts(parts: Iterable[Part]) -> Iterable[str]:
    for part in parts:
        colour = PRINT[part.role]
        if isinstance(part, Stroke):
            dash = ' stroke-dasharray="4 3"' if part.is_dashed else ""
            yield (f'<path d="{_path(part.points)}" fill="none" stroke="{colour}" '
                   f'stroke-width="{_n(part.width)}"{dash}/>')
        elif isinstance(part, Area):
            yield f'<path d="{_path(part.points)}z" fill="{colour}"/>'
        elif isinstance(part, Dot):
            yield (f'<circle cx="{_n(part.x)}" cy="{_n(part.y)}" r="{_n(part.radius)}" '
                   f'fill="{colour}"/>')
        else:
            yield (f'<text x="{_n(part.x)}" y="{_n(part.y)}" text-anchor="{part.anchor}" '
                   f'font-size="{_n(LABEL_PT)}" fill="{colour}">{escape(part.words)}</text>')


def _path(points: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in points)


def _n(value: float) -> str:
    """A tenth of a point is finer than any printer's dot."""
    return f"{round(value, 1) + 0.0:.1f}".removesuffix(".0")  # + 0.0: no minus before zero
