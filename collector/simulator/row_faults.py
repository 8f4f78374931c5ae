"""What goes wrong in a monitor's figures, whatever voice it speaks with."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from .live import Row

#: How much fuller or emptier the pack is that is plugged in instead. [%]
_OTHER_PACK_PCT: Final = 35.0
#: Volts told in another unit: ten times what they were.
_UNIT: Final = 10.0


def altered(row: Row, kind: str) -> Row:
    """The row as a fault lets the monitor tell it; unchanged by faults of the line."""
    return _ALTERED.get(kind, dict)(row)


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


def _other_unit(row: Row) -> Row:
    volts = row.get("voltage_v")
    return {**row, "voltage_v": volts * _UNIT} if isinstance(volts, float | int) else dict(row)


_ALTERED: Final[Mapping[str, Callable[[Row], Row]]] = {
    "swap": _other_pack, "missing": _without_sensors, "cells": _without_last_cell,
    "unit": _other_unit}
