"""Bluetooth LE values as a stream of bytes: standard characteristics, to rows of figures.

A raw capture keeps each value as it came: two bytes of the characteristic's 16-bit UUID, two
bytes of length, the value; all zero where a moment ends. Values that came together are one
moment and make one row. The order of bytes in front of a value is high first; inside it is the
standard's. No I/O and no clock.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from .counts import Counts
from .fields import Row
from .gatt import (
    CHARACTERISTICS,
    ENERGY_STATUS,
    LEVEL_STATUS,
    Facts,
    read_characteristic,
    signed_current_a,
)

#: Ends a moment.
MOMENT_END: Final = bytes(4)
#: No attribute value is longer (Bluetooth Core Specification, vol 3 part F, 3.2.9). [bytes]
VALUE_MAX: Final = 512
_HEAD: Final = 4


def value_octets(uuid: int, value: bytes) -> bytes:
    """One value as the stream carries it."""
    return uuid.to_bytes(2, "big") + len(value).to_bytes(2, "big") + value


def gatt_columns(uuids: Sequence[int]) -> tuple[str, ...]:
    """The quantity columns that these characteristics can fill."""
    return tuple(dict.fromkeys(
        column for uuid in uuids for column in CHARACTERISTICS[uuid].columns))


class GattDecoder:
    """Reads the stream of one peripheral, whose characteristics are named by 16-bit UUIDs.

    A row holds what its moment brought; only the direction of the amps is remembered, because a
    peripheral tells it when it changes.
    """

    def __init__(self, uuids: Sequence[int]) -> None:
        self._uuids = tuple(uuids)
        self._is_directed = not {LEVEL_STATUS, ENERGY_STATUS}.isdisjoint(uuids)
        self._buffer = bytearray()
        self._moment: dict[int, Facts] = {}
        self._charge_state = ""
        self._charge_rate_w = 0.0
        self._heard_bytes = self._rows = self._junk_bytes = self._undecodable = 0
        self._refused = ""

    @property
    def counts(self) -> Counts:
        """The counts at this moment."""
        return Counts(self._heard_bytes, self._rows, 0, self._junk_bytes, self._undecodable)

    def feed(self, data: bytes) -> list[Row]:
        """The rows of the moments these bytes ended; what cannot be read is counted."""
        self._heard_bytes += len(data)
        self._buffer += data
        rows = []
        while len(self._buffer) >= _HEAD:
            uuid, size = (int.from_bytes(self._buffer[at:at + 2], "big") for at in (0, 2))
            if size > VALUE_MAX or (uuid and uuid not in CHARACTERISTICS):
                self._junk_bytes += 1
                del self._buffer[:1]
                continue
            if len(self._buffer) < _HEAD + size:
                break
            value = bytes(self._buffer[_HEAD:_HEAD + size])
            del self._buffer[:_HEAD + size]
            if uuid in self._moment or not uuid:
                rows += self._end_moment()
            if uuid in self._uuids:
                self._take(uuid, value)
        self._rows += len(rows)
        return rows

    def _take(self, uuid: int, value: bytes) -> None:
        try:
            facts = read_characteristic(uuid, value)
        except ValueError as error:
            self._undecodable += 1
            self._refused = f"{CHARACTERISTICS[uuid].title} (0x{uuid:04X}): {error}"
            return
        self._moment[uuid] = facts
        if uuid == LEVEL_STATUS:
            self._charge_state = str(facts.get("charge_state", ""))
        if uuid == ENERGY_STATUS:
            self._charge_rate_w = float(facts.get("charge_rate_w", 0.0))

    def _end_moment(self) -> list[Row]:
        """The row of the moment, if it brought figures; the first described has the word."""
        row: Row = {}
        for uuid in self._uuids:
            facts = self._moment.get(uuid, {})
            told = {column: facts[name] for column, name in CHARACTERISTICS[uuid].columns.items()
                    if facts.get(name, "") != ""}
            row = told | row
        self._moment = {}
        if "time_left_h" in row:
            row["time_left_h"] = float(row["time_left_h"]) / 60
        if "current_a" in row and self._is_directed:
            amps = signed_current_a(float(row.pop("current_a")), self._charge_state,
                                    self._charge_rate_w)
            row |= {} if amps is None else {"current_a": amps}
        return [row] if row else []

    def describe_junk(self) -> str:
        """What was heard, in words, for a person whose monitor gives no figures."""
        if self._refused:
            return f"{self._undecodable} values could not be read, last {self._refused}"
        if not self._heard_bytes:
            return "nothing was heard"
        named = ", ".join(f"0x{uuid:04X}" for uuid in self._uuids)
        return f"{self._heard_bytes} bytes, but no figure from {named}"
