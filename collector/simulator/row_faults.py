"""What goes wrong in a monitor's figures, whatever voice it speaks with."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Final

from ..record import QUANTITIES, cell_columns

if TYPE_CHECKING:
    from .live import Row

#: How much fuller or emptier the pack is that is plugged in instead. [%]
_OTHER_PACK_PCT: Final = 35.0
#: Volts told in another unit, and of a wrong scale: so many times what they are.
_UNIT: Final = 10.0
_SCALE: Final = 1.05
#: What is wrong with the amps: too many always, and times what they are; never told beyond. [A]
_ZERO_A: Final = 2.0
_GAIN: Final = 1.1
_MOST_A: Final = 60.0
#: What 15 bits of millivolts hold: volts beyond begin anew at nothing. [V]
_ROUND_V: Final = 32.768
#: What a cell without a sense lead reads; all demo monitors can say it. [V]
_DEAD_V: Final = 1.7
#: The cell whose own figure goes wrong, and the one whose place it takes. Counted from 0.
_CELL, _NEIGHBOUR = 4, 5


class Teller:
    """Tells the rows of one monitor, one after the other, as its faults will have them."""

    def __init__(self) -> None:
        self._true: Row = {}
        self._told: Row = {}
        self._is_swapped = False

    def tell(self, row: Row, kind: str) -> Row:
        """The row as a fault lets it be told; another pack stays for good."""
        self._is_swapped = self._is_swapped or kind == "swap"
        mine = altered(row, "swap") if self._is_swapped else dict(row)
        told = mine if kind == "swap" else altered(mine, kind)
        if kind in _STANDING:
            told |= _those(self._told, [_STANDING[kind]])
        elif kind == "frozen":
            told |= _those(self._told, [name for name in mine if name != "sequence"])
        elif kind == "late-volts":
            told |= _those(self._true, _volts(mine))
        elif kind == "late-sign":
            told |= _in_the_way_of(self._true, mine)
        self._true, self._told = mine, told
        return told


def altered(row: Row, kind: str) -> Row:
    """The row as a fault lets the monitor tell it, as far as no row before counts; unchanged by
    faults of the line."""
    return _ALTERED.get(kind, dict)(row)


def _those(row: Row, names: list[str]) -> Row:
    return {name: row[name] for name in names if name in row}


def _volts(row: Row) -> list[str]:
    return [name for name in row if name == "voltage_v" or name.startswith("cell_")]


def _in_the_way_of(before: Row, row: Row) -> Row:
    """Amps of this size, and of the direction before."""
    was, now = before.get("current_a"), row.get("current_a")
    if isinstance(was, float | int) and isinstance(now, float | int):
        return {"current_a": math.copysign(now, was)}
    return {}


def _other_pack(row: Row) -> Row:
    percent = row.get("soc_pct")
    if not isinstance(percent, float | int):
        return dict(row)
    way = -1 if percent > 50 else 1
    return {**row, "soc_pct": percent + way * _OTHER_PACK_PCT}


def _without_sensors(row: Row) -> Row:
    return {name: value for name, value in row.items()
            if name not in ("soc_pct", "time_left_h") and not name.startswith("temp_")}


def _without_last_cell(row: Row) -> Row:
    last = max((name for name in row if name.startswith("cell_")), default="")
    return {name: value for name, value in row.items() if name != last}


def _cell_told(row: Row, volts: float | None = None) -> Row:
    """One cell told as so many volts, or as its neighbour."""
    cells = cell_columns(list(row))
    if len(cells) <= _NEIGHBOUR:
        return dict(row)
    return {**row, cells[_CELL]: row[cells[_NEIGHBOUR]] if volts is None else volts}


def _reversed_cells(row: Row) -> Row:
    cells = cell_columns(list(row))
    return row | dict(zip(cells, [row[name] for name in reversed(cells)], strict=True))


def _figure(name: str, changed: Callable[[float], float]) -> Callable[[Row], Row]:
    """One figure made another, where it is told."""
    def change(row: Row) -> Row:
        value = row.get(name)
        return {**row, name: changed(value)} if isinstance(value, float | int) else dict(row)

    return change


def _in_whole_numbers(row: Row) -> Row:
    whole = row
    for name in ("current_a", "voltage_v"):
        whole = _figure(name, lambda value: float(round(value)))(whole)
    return whole


#: Faults in which a figure stands still, and which.
_STANDING: Final[Mapping[str, str]] = {
    "stuck-volts": "voltage_v", "stuck-amps": "current_a",
    "stuck-cell": QUANTITIES["cell_{n}_v"].column(_CELL + 1)}
_ALTERED: Final[Mapping[str, Callable[[Row], Row]]] = {
    "swap": _other_pack, "missing": _without_sensors, "cells": _without_last_cell,
    "unit": _figure("voltage_v", lambda volts: volts * _UNIT),
    "scale": _figure("voltage_v", lambda volts: volts * _SCALE),
    "wrap": _figure("voltage_v", lambda volts: volts % _ROUND_V),
    "zero": _figure("current_a", lambda amps: amps + _ZERO_A),
    "gain": _figure("current_a", lambda amps: amps * _GAIN),
    "turned": _figure("current_a", lambda amps: -amps),
    "clipped": _figure("current_a", lambda amps: max(-_MOST_A, min(amps, _MOST_A))),
    "coarse": _in_whole_numbers,
    "order": _reversed_cells,
    "dead-cell": lambda row: _cell_told(row, _DEAD_V),
    "twin-cell": _cell_told,
}
