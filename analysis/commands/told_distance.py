"""Distance that a person tells: the known length of the way, or the odometer before and after."""

from __future__ import annotations

import argparse
import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collector.logbook import Logbook
    from collector.notes import Note

    from ..estimate import Answer
    from ..telemetry import Telemetry

#: An odometer noted so long after the log began, or before it ended, still counts as its ends.
_LATE_S: Final = 120.0
_LENGTH: Final = re.compile(r"(\d+(?:\.\d*)?|\.\d+)\s*(m|km|mi|ft|nmi)?")


def read_length_m(text: str) -> float:
    """The type of ``--distance``: ``950m``, ``4.6``, ``2.9 mi``; kilometres without a unit. [m]

    Raises
    ------
    ArgumentTypeError
        If it is not a length.
    """
    from collector.importing.units import find_unit

    found = _LENGTH.fullmatch(text.strip())
    unit = find_unit(found[2] or "km") if found else None
    if found is None or unit is None or not float(found[1]):
        raise argparse.ArgumentTypeError(f"{text!r} is not a length such as 950m, 4.6km or 2.9mi")
    return float(found[1]) * unit.factor


def told_distance_m(log: Path, telemetry: Telemetry, length_m: float | None) -> Answer | None:
    """What the person or the odometer notes of the logbook say about the way; ``None`` if nothing.

    Odometer notes are used only for a log that has neither odometer, speed nor place of its own.
    """
    from ..one_log.distance import odometer_way_m, route_way_m

    if length_m is not None:
        return route_way_m(length_m)
    if any(column in telemetry for column in ("distance_m", "speed_m_s", "latitude_deg")):
        return None
    readings = _odometer_ends(log, telemetry)
    return odometer_way_m(*readings) if readings else None


def _odometer_ends(log: Path, telemetry: Telemetry) -> tuple[float, float, float] | None:
    """Odometer before and after the log, and its least step, with no other log between. [km]"""
    from collector.logbook import Logbook
    from collector.notes import read_notes

    book = Logbook(log.absolute().parent.parent)
    if log.absolute().parent != book.logs_folder or not book.notes_path.exists():
        return None
    notes = [note for note in read_notes(book.notes_path).rows if note.kind == "odometer"]
    low_ms, high_ms = _free_time_ms(book, log.stem)
    start_ms = telemetry.start.timestamp() * 1000
    end_ms = start_ms + float(telemetry.elapsed_s[-1]) * 1000
    late_ms = min(_LATE_S * 1000, (end_ms - start_ms) / 4)
    before = [n for n in notes if low_ms <= n.time_ms <= start_ms + late_ms]
    after = [n for n in notes if end_ms - late_ms <= n.time_ms <= high_ms]
    if not before or not after:
        return None
    first, last = max(before, key=_time_ms), min(after, key=_time_ms)
    return first.value, last.value, _step_km([first.typed, last.typed])


def _time_ms(note: Note) -> int:
    return note.time_ms


def _free_time_ms(book: Logbook, stem: str) -> tuple[float, float]:
    """From the end of the log before to the start of the log after. [Unix ms]"""
    from collector.errors import PackhandError

    from ..load import load_telemetry

    entries = book.logs()
    at = [entry.stem for entry in entries].index(stem)
    low_ms, high_ms = float("-inf"), float("inf")
    for entry in entries[max(at - 1, 0):at + 2]:
        if entry.stem == stem:
            continue
        try:
            near = load_telemetry(entry.path, ())
        except PackhandError:  # a log without samples drove nowhere
            continue
        if entry.stem < stem:
            low_ms = near.at(float(near.elapsed_s[-1])).timestamp() * 1000
        else:
            high_ms = near.start.timestamp() * 1000
    return low_ms, high_ms


def _step_km(typed: Sequence[str]) -> float:
    """The least step of readings as they were typed; the coarser of them."""
    digits = min(len(re.sub(r"[^\d.,]", "", text).replace(",", ".").partition(".")[2])
                 for text in typed)
    return float(10.0 ** -digits)
