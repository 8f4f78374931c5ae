"""The small current line of a list row, as a mask that the style sheet paints."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Final
from urllib.parse import quote

import numpy as np

from ..reduce import Floats

#: Units of the picture's height, and the room above and below for the line's width.
HEIGHT: Final = 36
EDGE: Final = 1


def zero_level(columns: Sequence[Sequence[float] | None]) -> float:
    """Where zero amps lie, as a share of the picture's height from the top."""
    low, high = _bounds(columns)
    return (HEIGHT * high / (high - low) + EDGE) / (HEIGHT + 2 * EDGE)


def mask(columns: Sequence[Sequence[float] | None]) -> str:
    """An address of an SVG picture of the columns, to be used as a mask.

    Each stretch without a gap is one outline on a grid of whole units, which keeps the picture of
    a row below a kilobyte.
    """
    low, high = _bounds(columns)
    tops = [_row((high - max(ends[1], 0.0)) / (high - low)) if ends else None for ends in columns]
    feet = [_row((high - min(ends[0], 0.0)) / (high - low)) if ends else None for ends in columns]
    outlines = "".join(_outline(start, top, foot)
                       for start, top, foot in _stretches(tops, feet))
    picture = ("<svg xmlns='http://www.w3.org/2000/svg' preserveAspectRatio='none' "
               f"viewBox='0 -{EDGE} {len(columns)} {HEIGHT + 2 * EDGE}'><path fill-opacity='.3' "
               f"stroke='black' vector-effect='non-scaling-stroke' d='{outlines}'/></svg>")
    return f'url("data:image/svg+xml,{quote(picture, safe=" =:/.-")}")'


def _row(share: float) -> int:
    return round(share * HEIGHT)


def _stretches(tops: list[int | None],
               feet: list[int | None]) -> Iterator[tuple[int, list[int], list[int]]]:
    """First column, tops and feet of each stretch without a gap."""
    place = 0
    for is_there, part in groupby(zip(tops, feet, strict=True), lambda pair: pair[0] is not None):
        pairs = list(part)
        if is_there:
            yield (place, [top for top, _ in pairs if top is not None],
                   [foot for _, foot in pairs if foot is not None])
        place += len(pairs)


def _outline(start: int, tops: list[int], feet: list[int]) -> str:
    """Forth along the tops, back along the feet."""
    forth = _steps(tops, "h")
    back = _steps(feet[::-1], "h-")
    return f"M{start} {tops[0]}{forth}v{feet[-1] - tops[-1]}{back}z"


def _steps(levels: list[int], along: str) -> str:
    """Relative moves along levels, equal ones in one move."""
    moves, before = [], levels[0]
    for level, run in groupby(levels):
        moves.append((f"v{level - before}" if level != before else "")
                     + f"{along}{sum(1 for _ in run)}")
        before = level
    return "".join(moves)


def _bounds(columns: Sequence[Sequence[float] | None]) -> tuple[float, float]:
    ends: Floats = np.array([amps for pair in columns if pair for amps in pair] or [0.0])
    low, high = min(float(ends.min()), 0.0), max(float(ends.max()), 0.0)
    return (low, high) if high > low else (-1.0, 1.0)
