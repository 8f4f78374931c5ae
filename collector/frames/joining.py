"""One figure from several of a kind: strings side by side, modules one behind the other.

A sum or a mean of which a part is missing is missing; lowest and highest are those of what is told.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Final, Literal, get_args

from .fields import Field, Row, Values

Join = Literal["first", "sum", "mean", "lowest", "highest", "in-turn"]
JOINS: Final = get_args(Join)

_WHOLE: Final[Mapping[Join, Callable[[list[float]], float]]] = {
    "sum": sum, "mean": lambda told: sum(told) / len(told)}
_EXTREMES: Final[Mapping[Join, Callable[[list[float]], float]]] = {"lowest": min, "highest": max}


def joined(field: Field, join: Join, frames: Sequence[bytes], sizes: Sequence[int]) -> Row:
    """What a field says of all frames together.

    Parameters
    ----------
    sizes
        How many members of a group each frame has room for, for ``in-turn``: those of the second
        frame then follow those of the first.
    """
    rows = [_read(field, frame) for frame in frames]
    if join == "in-turn":
        return _in_turn(field.columns, rows, sizes)
    column = field.columns[0]
    told = [row[column] for row in rows if column in row]
    figures = [float(value) for value in told if not isinstance(value, str)]
    if join in _WHOLE and figures and len(figures) == len(frames):
        return {column: round(_WHOLE[join](figures), 9)}
    if join in _EXTREMES and figures:
        return {column: _EXTREMES[join](figures)}
    return rows[0] if join == "first" and rows else {}


def _read(field: Field, frame: bytes) -> Row:
    row: Row = {}
    if len(field.columns) > 1:
        # A module may have fewer cells than described: all ones are "not implemented".
        frame = frame.ljust(field.reach, b"\xff")
    if field.reach <= len(frame):
        field.read_into(row, frame)
    return row


def _in_turn(columns: Sequence[str], rows: Sequence[Values], sizes: Sequence[int]) -> Row:
    turned: Row = {}
    behind = 0
    for row, size in zip(rows, sizes, strict=True):
        turned |= {columns[behind + n]: row[column] for n, column in enumerate(columns[:size])
                   if column in row and behind + n < len(columns)}
        behind += size
    return turned
