"""Dated corrections of a logbook: ``corrections.csv``, which is only ever appended to.

::

    time,number,action,pack,column,zero,gain,from,until,reason
    2026-06-01T09:00:00.000Z,1,accept,main,current_a,0.35,1,2026-05-11T00:00:00.000Z,,meter pairs
    2026-06-02T10:00:00.000Z,1,undo,,,,,,,typed the wrong day

The column ``time`` is the computer's clock: a log that began while it was wrong is moved, its
zero the seconds that the clock was ahead, from and until by that clock.

From its day on, a corrected figure is ``gain x (raw - zero)``, with raw and zero in the monitor's
own sign. Of several for one column the one that begins last holds. Logs are never changed: the
corrections are laid over their figures when a log is loaded.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from .clock import from_iso_utc, iso_utc
from .errors import LogbookError
from .rowfile import Rows, append_row, read_rows

COLUMNS: Final = ("time", "number", "action", "pack", "column", "zero", "gain", "from", "until",
                  "reason")


@dataclass(frozen=True, slots=True)
class Correction:
    """A dated layer over one column of one pack's logs."""

    number: int
    #: When it was accepted. [ms, UTC]
    time_ms: int
    #: The pack's name; empty for a logbook without names.
    pack: str
    #: A quantity of ``record.QUANTITIES``.
    column: str
    #: What the column reads where the truth is zero, in its own unit and sign; of ``time`` how
    #: far the clock was ahead. [s]
    zero: float
    #: True over shown, after the zero was taken off.
    gain: float
    #: First moment it holds for. [ms, UTC]
    from_ms: int
    #: First moment it no longer holds for; ``None`` if it goes on. [ms, UTC]
    until_ms: int | None = None
    reason: str = ""

    def as_json(self) -> dict[str, Any]:
        """The correction as plain JSON."""
        return {"number": self.number, "accepted": iso_utc(self.time_ms), "pack": self.pack,
                "column": self.column, "zero": self.zero, "gain": self.gain,
                "from": iso_utc(self.from_ms),
                "until": None if self.until_ms is None else iso_utc(self.until_ms),
                "reason": self.reason}

    def layers(self) -> list[dict[str, Any]]:
        """Its two layers as a log's metadata holds them: ``zero`` is added, then ``gain``
        multiplied."""
        dates = {"from": iso_utc(self.from_ms)}
        if self.until_ms is not None:
            dates["until"] = iso_utc(self.until_ms)
        return [{"kind": kind, "column": self.column, "value": value} | dates
                | {"reason": self.reason} for kind, value in (("zero", -self.zero),
                                                              ("gain", self.gain))]


@dataclass(frozen=True, slots=True)
class Undoing:
    """A correction taken back."""

    number: int


def accept(path: Path, correction: Correction) -> None:
    """Add a correction; raises ``LogbookError`` if the file cannot be written."""
    row = {name: str(value) for name, value in correction.as_json().items() if value is not None}
    append_row(path, COLUMNS, row | {"time": row["accepted"], "action": "accept"})


def undo(path: Path, number: int, time_ms: int, reason: str = "") -> None:
    """Take a correction back.

    Raises
    ------
    LogbookError
        If there is none of that number, or the file cannot be written.
    """
    standing = [correction.number for correction in active(read_corrections(path).rows)]
    if number not in standing:
        numbers = ", ".join(map(str, standing)) or "none"
        raise LogbookError(str(path), f"no correction {number} stands", f"standing: {numbers}")
    append_row(path, COLUMNS, {"time": iso_utc(time_ms), "number": str(number), "action": "undo",
                               "reason": reason})


def read_corrections(path: Path) -> Rows[Correction | Undoing]:
    """Everything that was accepted and taken back, in order; raises ``LogbookError``."""
    return read_rows(path, COLUMNS, _read_row)


def _read_row(row: Mapping[str, str]) -> Correction | Undoing:
    number = int(row["number"])
    if row["action"] == "undo":
        return Undoing(number)
    if row["action"] != "accept" or not row["column"]:
        raise ValueError(row["action"])
    return Correction(number, from_iso_utc(row["time"]), row["pack"], row["column"],
                      float(row["zero"]), float(row["gain"]), from_iso_utc(row["from"]),
                      from_iso_utc(row["until"]) if row["until"] else None, row["reason"])


def active(rows: Iterable[Correction | Undoing]) -> list[Correction]:
    """The corrections that stand, in the order in which they begin to hold."""
    standing: dict[int, Correction] = {}
    for row in rows:
        if isinstance(row, Correction):
            standing[row.number] = row
        else:
            standing.pop(row.number, None)
    return sorted(standing.values(), key=lambda each: (each.from_ms, each.number))


def next_number(rows: Iterable[Correction | Undoing]) -> int:
    """A number that no correction has had."""
    return max((row.number for row in rows), default=0) + 1


def true_ms(corrections: Iterable[Correction], time_ms: int) -> int:
    """When it really was, of a time that the computer's clock told."""
    moved = [each for each in corrections if each.column == "time" and each.from_ms <= time_ms
             and (each.until_ms is None or time_ms < each.until_ms)]
    return time_ms - round(1000 * moved[-1].zero) if moved else time_ms


def layers_of(path: Path, pack: str) -> tuple[dict[str, Any], ...]:
    """The layers that stand for a pack, as a log's metadata holds them; raises
    ``LogbookError``."""
    return tuple(layer for correction in active(read_corrections(path).rows)
                 if correction.pack in ("", pack) for layer in correction.layers())
