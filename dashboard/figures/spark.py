"""The small current line of a list row, as a mask that the style sheet paints."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Final
from urllib.parse import quote

import numpy as np

from ..reduce import Channel, Floats

#: Columns of a small line.
COLUMNS: Final = 144
WIDTH: Final = 144
HEIGHT: Final = 36


def small_line(amps: Channel, start_s: float, end_s: float) -> list[list[float] | None]:
    """Lowest and highest amps of each column of equal time, ``None`` where nothing was heard.

    Returns
    -------
    list
        ``COLUMNS`` entries, amps rounded to 0.1 A.
    """
    edges = np.searchsorted(amps.axis.elapsed_s, np.linspace(start_s, end_s, COLUMNS + 1))
    edges[-1] = len(amps.values)
    found: list[list[float] | None] = []
    for first, last in pairwise(edges):
        part = amps.values[first:last]
        found.append([round(float(part.min()), 1), round(float(part.max()), 1)] if len(part)
                     else None)
    return found


def zero_level(columns: Sequence[Sequence[float] | None]) -> float:
    """Where zero amps lie, as a share of the height from the top."""
    low, high = _bounds(columns)
    return high / (high - low)


def mask(columns: Sequence[Sequence[float] | None]) -> str:
    """An address of an SVG picture of the columns as bars, to be used as a mask."""
    low, high = _bounds(columns)
    width = WIDTH / max(len(columns), 1)
    bars = []
    for place, ends in enumerate(columns):
        if ends is not None:
            top, bottom = ((high - amps) / (high - low) * HEIGHT
                           for amps in (max(ends[1], 0.0), min(ends[0], 0.0)))
            bars.append(f"M{place * width:.1f} {top - 0.4:.1f}h{width:.1f}"
                        f"V{bottom + 0.4:.1f}h-{width:.1f}z")
    picture = (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" '
               f'preserveAspectRatio="none"><path d="{"".join(bars)}"/></svg>')
    return f"url(\"data:image/svg+xml,{quote(picture)}\")"


def _bounds(columns: Sequence[Sequence[float] | None]) -> tuple[float, float]:
    ends: Floats = np.array([amps for pair in columns if pair for amps in pair] or [0.0])
    low, high = min(float(ends.min()), 0.0), max(float(ends.max()), 0.0)
    return (low, high) if high > low else (-1.0, 1.0)
