"""Descriptions of Bluetooth peripherals: what they say, and how mistakes in them are told."""

from __future__ import annotations

from typing import Any

import pytest

from collector.errors import DescriptionError
from collector.monitors import Description, description_from_tables

UUID = "3C9A1F61-58D2-4B07-9D1E-6B2F70C4A911"


def described(kind: str, ble: dict[str, Any], **more: Any) -> Description:
    """A monitor of that kind of transport."""
    framed: dict[str, Any] = {} if kind == "gatt" else {
        "framing": {"kind": "fixed", "start_hex": "A5", "length": 4},
        "field": [{"name": "voltage_v", "at": 1, "length": 2}]}
    return description_from_tables(
        {"name": "p", "transport": {"kind": kind}, "ble": ble, **framed, **more}, "p.toml")


def test_a_stream_of_notifications() -> None:
    """UUIDs are taken in either case; without a request nothing is written."""
    monitor = described("ble", {"service": "FFF0", "notify": UUID})

    assert monitor.transport.peripheral is not None
    assert monitor.transport.peripheral.notify == UUID.lower()
    assert monitor.transport.peripheral.write == ""
    assert monitor.columns == ("voltage_v",)


def test_standard_characteristics() -> None:
    """Their columns are those of the standard, in log order."""
    monitor = described("gatt", {"service": "180F", "characteristics": ["2a19", "2AEE"]})

    assert monitor.columns == ("current_a", "soc_pct")


@pytest.mark.parametrize(("kind", "ble", "found"), [
    ("ble", {"notify": UUID}, "p.toml, ble, service: is missing"),
    ("ble", {"service": "180f"}, "ble, notify: is missing"),
    ("ble", {"service": "18", "notify": UUID}, "service: '18' — a UUID of 4 or of 32"),
    ("ble", {"service": "180f", "notify": UUID, "characteristics": ["2A19"]},
     "characteristics: unknown key"),
    ("gatt", {"service": "180f"}, "characteristics: names none"),
    ("gatt", {"service": "180f", "characteristics": ["2A00"]},
     r"characteristics: '2A00' — known: 2A19 \(Battery Level\)"),
    ("gatt", {"service": "180f", "characteristics": ["2A19"], "every_s": 0},
     "every_s: 0 — a number above 0"),
])
def test_mistakes_are_told_by_file_and_key(kind: str, ble: dict[str, Any], found: str) -> None:
    """One line: where, what was found, what is allowed."""
    with pytest.raises(DescriptionError, match=found):
        described(kind, ble)


def test_a_request_needs_somewhere_to_be_written() -> None:
    """[ask] without a characteristic to write to cannot work."""
    with pytest.raises(DescriptionError, match=r"ble, write: is missing — \[ask\] needs"):
        described("ble", {"service": "180f", "notify": UUID},
                  ask={"send_hex": "01", "every_s": 1})
