"""Figures as people read them: true minus signs, no more digits than are true."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Final

from .local_days import local, zone_named

_KELVINS: Final = re.compile(r"(?<=\d )K\b")
#: How a hard load is put on for a moment, by kind of vehicle.
_PRESS: Final = {"boat": "push the throttle", "house": "switch a big load on"}


def press_words(kind: object = None) -> str:
    """How to make a pack give hard, by what its vehicle is (``collector.typed_figures``)."""
    return _PRESS.get(str(kind), "press the pedal")


def signed_amps(amps: float) -> str:
    """Whole amps, one decimal below 10, with a true minus sign: ``−64``, ``2.5``."""
    return _amps(amps).replace("-", "−")


def amps_size(amps: float) -> str:
    """The same without a sign, with the unit: ``23 A``."""
    return f"{_amps(abs(amps))} A"


def _amps(amps: float) -> str:
    text = f"{amps:.0f}" if abs(amps) >= 9.95 else f"{amps:.1f}".removesuffix(".0")
    return text if float(text) else "0"


def in_degrees(text: str) -> str:
    """A sentence with differences of temperature as a thermometer tells them: ``24 °C``, no
    kelvins."""
    return _KELVINS.sub("°C", text)


def watts_size(watts: float) -> str:
    """``640 W``, ``1.2 kW``, ``14 kW``; without a sign."""
    size = abs(watts)
    if size < 995:
        return f"{size:.0f} W" if size < 100 else f"{round(size, -1):.0f} W"
    return f"{size / 1000:.1f} kW" if size < 9950 else f"{size / 1000:.0f} kW"


def hours_text(hours: float) -> str:
    """``3 h 10``, ``25 min``, ``40 h``."""
    minutes = round(hours * 60)
    if minutes < 60:
        return f"{minutes} min"
    if hours >= 20:
        return f"{hours:.0f} h"
    return f"{minutes // 60} h {minutes % 60:02d}"


def clock_text(moment: datetime, zone: str = "UTC") -> str:
    """Time of day in a zone: ``10:32:14``."""
    return moment.astimezone(zone_named(zone)).strftime("%H:%M:%S")


def percent_text(percent: float) -> str:
    """Whole percent: ``91 %``."""
    return f"{percent:.0f} %"


def iso_utc(unix_s: float) -> str:
    """A moment as documents carry it: ``2026-05-11T07:36:00Z``."""
    return datetime.fromtimestamp(unix_s, UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def day_text(unix_s: float) -> str:
    """A day as people write it, where days are told: ``11 May 2026``."""
    return local(unix_s).strftime("%d %B %Y").lstrip("0")


def moment_words(moment: datetime) -> str:
    """A moment by the clock on the wall: ``11 May 2026, 07:36:00``."""
    return f"{moment.day} {moment:%B %Y, %H:%M:%S}"


def unit_text(unit: str) -> str:
    """A unit as people read it: ``mΩ`` of ``mohm``."""
    return unit.replace("mohm", "mΩ")


def type_label(what: str, keys: str) -> str:
    """Where a figure of a label is typed: the page in the browser, the key in the file."""
    return f"type {what} under Pack & limits ({keys} in logbook.toml)"
