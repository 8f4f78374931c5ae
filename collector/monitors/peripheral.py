"""From ``[ble]`` to a Bluetooth LE peripheral.

What a person writes; ``*`` marks what is needed. UUIDs have 4 or 32 hexadecimal digits::

    [transport]  kind*              "ble" for frames of its own, which are then described as on
                                    any other line, or "gatt" for the standard characteristics
    [ble]        service*           a service that it advertises: how it is found
                 name               the name it advertises, if only that one is meant
      ble        notify*            the characteristic whose notifications bring the bytes
                 write              the one that the request of [ask] is written to; a person has
                                    to allow that
      gatt       characteristics*   16-bit UUIDs, the most exact first: where two tell the same
                                    quantity, the one listed first has the word
                 every_s = 1.0      from one reading to the next, of what is not notified
"""

from __future__ import annotations

import re

from ..frames.gatt import CHARACTERISTICS
from .schema import Peripheral
from .table import Table

_UUID = re.compile(r"[0-9a-f]{4}|[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")


def peripheral(top: Table, kind: str) -> Peripheral:
    """The peripheral of a description whose transport is ``ble`` or ``gatt``.

    Raises
    ------
    DescriptionError
        If a key is missing, unknown, of the wrong type or out of its range.
    """
    table = top.table("ble")
    is_stream = kind == "ble"
    described = Peripheral(
        service=_uuid(table, "service"),
        name=table.text("name", ""),
        notify=_uuid(table, "notify") if is_stream else "",
        write=_uuid(table, "write") if is_stream and "write" in table else "",
        characteristics=() if is_stream else _characteristics(table),
        every_s=1.0 if is_stream else table.number("every_s", 1.0, above=0),
    )
    table.finish()
    if is_stream and "ask" in top and not described.write:
        raise table.error("write", "is missing", "[ask] needs a characteristic to write to")
    return described


def _uuid(table: Table, key: str) -> str:
    uuid = table.text(key).lower()
    if not _UUID.fullmatch(uuid):
        raise table.error(key, repr(uuid), "a UUID of 4 or of 32 hexadecimal digits is needed")
    return uuid


def _characteristics(table: Table) -> tuple[int, ...]:
    known = {f"{uuid:04X}": uuid for uuid in CHARACTERISTICS}
    names = table.texts("characteristics")
    for name in names:
        if name.upper() not in known:
            titles = ", ".join(f"{number} ({CHARACTERISTICS[uuid].title})"
                               for number, uuid in known.items())
            raise table.error("characteristics", repr(name), f"known: {titles}")
    if not names:
        raise table.error("characteristics", "names none", "name at least one, such as 2A19")
    return tuple(known[name.upper()] for name in names)
