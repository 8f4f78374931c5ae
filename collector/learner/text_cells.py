"""Cells in lines of text: values with consecutive numbers that add up to the pack's volts."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from .adding_up import COUNTS, Miss, Pack, likeliest
from .cells import CELL_V, each_follows, runs
from .codings import Figures
from .columns import TextColumns

#: Volts as they are, or millivolts.
_SCALES: Final = (1.0, 0.001)
_NUMBERED: Final = re.compile(r"(.*?)(\d+)(\D*)")


@dataclass(frozen=True)
class TextCells:
    """Cells in values side by side, or under keys that count."""

    keys: tuple[int | str, ...]
    scale: float
    #: Volts of each cell in each line. [lines, cells]
    values_v: Figures
    #: What the pack's volts have beside their sum.
    miss: Miss
    #: Volts at zero. [V]
    offset: float = 0.0

    @property
    def count(self) -> int:
        return len(self.keys)

    @property
    def bytes(self) -> frozenset[int]:
        """Text takes no bytes of its own."""
        return frozenset()

    @property
    def place(self) -> str:
        """Where they are, in words."""
        return f"{self.keys[0]}..{self.keys[-1]}"

    def tables(self) -> list[dict[str, Any]]:
        """The ``[[field]]`` tables of a description: one where their keys count, else one each."""
        scale = {"scale": self.scale} if self.scale != 1 else {}
        first = self.keys[0]
        if isinstance(first, int):
            return [{"name": "cell_{n}_v", "at": first, "count": self.count, **scale}]
        before, number, behind = _parted(first)
        # Numbers with zeros in front are written otherwise than a description counts.
        if all(key == f"{before}{number + n}{behind}" for n, key in enumerate(self.keys)):
            return [{"name": "cell_{n}_v", "key": f"{before}{{n}}{behind}", "key_first": number,
                     "count": self.count, **scale}]
        return [{"name": f"cell_{n:02d}_v", "key": key, **scale}
                for n, key in enumerate(self.keys, start=1)]


def find_text_cells(columns: TextColumns, voltage_v: Figures, taken: set[int | str],
                    current_a: Figures | None = None) -> list[TextCells]:
    """Groups of cells that add up to the pack; several where neighbours fit as well.

    A whole row of keys that count is one group, if it fits; its parts are none beside it.
    """
    found: list[TextCells] = []
    pack = Pack(voltage_v, current_a)
    for keys in _rows(columns, taken):
        for scale in _SCALES:
            figures = np.stack([columns.trace(None, columns.keys.index(key)) for key in keys],
                               axis=1) * scale
            found += _groups(keys, figures, scale, pack)
    return likeliest(found)


def _groups(keys: list[int | str], cells_v: Figures, scale: float,
            pack: Pack) -> Iterator[TextCells]:
    is_cell = np.all((cells_v > CELL_V[0]) & (cells_v < CELL_V[1]), axis=0)
    whole = pack.miss(cells_v.sum(axis=1)) if is_cell.all() else None
    groups = [(0, len(keys), whole)] if whole is not None else [
        (int(places[first]), count, miss) for places in runs(is_cell, 1)
        for first, count, miss in pack.sums(cells_v[:, places])]
    for first, count, miss in groups:
        own = cells_v[:, first:first + count]
        if each_follows(own, pack.voltage_v, scale):
            yield TextCells(tuple(keys[first:first + count]), scale, own, miss)


def _rows(columns: TextColumns, taken: set[int | str]) -> Iterator[list[int | str]]:
    """Keys, or positions, that count up by one."""
    row: list[int | str] = []
    for key in columns.keys:
        if key in taken or (row and not _follows(row[-1], key)):
            if len(row) >= COUNTS[0]:
                yield row
            row = []
        if key not in taken:
            row.append(key)
    if len(row) >= COUNTS[0]:
        yield row


def _follows(last: int | str, key: int | str) -> bool:
    if isinstance(last, int) and isinstance(key, int):
        return key == last + 1
    one, other = _parted(str(last)), _parted(str(key))
    return one[0] == other[0] and one[2] == other[2] and other[1] == one[1] + 1


def _parted(key: str) -> tuple[str, int, str]:
    """What is before the last number of a key, the number, and what is behind."""
    match = _NUMBERED.fullmatch(key)
    return (match[1], int(match[2]), match[3]) if match else (key, -1, "")
