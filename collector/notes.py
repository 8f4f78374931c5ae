"""Marks and hand readings of a logbook: ``notes.csv``, which is only ever appended to.

::

    time,kind,value,unit,typed,joint,cell,instrument,text,photo,pack,log,age_s,current_a,...
    2026-05-03T10:15:00.000Z,joint-millivolts,119,mV,119mV,main minus,,,,,,2026-05-03T...,0.4,-85.2

The figures that the monitor gave at that moment stand beside each note, in the monitor's own
sign, with the age of the sample they are from. The log itself stays the evidence.
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import Any, Final, Self

from .clock import from_iso_utc, iso_utc
from .moment import Moment
from .rowfile import Rows, append_row, read_rows

_NAN: Final = float("nan")


def _as_text(value: float | str | None) -> str:
    if value is None or isinstance(value, str):
        return value or ""
    return "" if math.isnan(value) else repr(float(value)).removesuffix(".0")


def _as_figure(text: str) -> float:
    return float(text) if text else _NAN


@dataclass(frozen=True, slots=True)
class Note:
    """One note. Missing figures are NaN, missing words empty."""

    #: Unix time. [ms, UTC]
    time_ms: int
    #: One of ``note_kinds.KINDS``, or a kind of a newer version.
    kind: str
    #: The figure in ``unit``.
    value: float = _NAN
    unit: str = ""
    #: The figure as the person typed it.
    typed: str = ""
    #: Which joint, tyre, pole or surface.
    joint: str = ""
    #: Number of the cell, from 1.
    cell: int | None = None
    #: What it was measured with.
    instrument: str = ""
    text: str = ""
    #: Path of a picture.
    photo: str = ""
    pack: str = ""
    #: What the log said then.
    moment: Moment = field(default_factory=Moment)

    def as_row(self) -> dict[str, str]:
        """The fields of a line in ``notes.csv``."""
        return {name: _as_text(value) for name, value in self._plain().items()}

    def as_json(self) -> dict[str, Any]:
        """The note as plain JSON: only the fields that say something."""
        return {name: value for name, value in self._plain().items() if _as_text(value)}

    def _plain(self) -> dict[str, Any]:
        own = {f.name: getattr(self, f.name) for f in fields(self)
               if f.name not in ("time_ms", "moment")}
        return {"time": iso_utc(self.time_ms)} | own | asdict(self.moment)

    @classmethod
    def from_row(cls, row: dict[str, str]) -> Self:
        """Read back what ``as_row`` wrote; raises ``ValueError`` if a field is not what it was."""
        if not row["kind"]:
            raise ValueError("no kind")
        words = {name: row[name] for name in
                 ("kind", "unit", "typed", "joint", "instrument", "text", "photo", "pack")}
        moment = Moment(row["log"], *(_as_figure(row[name]) for name in
                                      ("age_s", "current_a", "voltage_v", "soc_pct")))
        return cls(from_iso_utc(row["time"]), value=_as_figure(row["value"]),
                   cell=int(row["cell"]) if row["cell"] else None, moment=moment, **words)


COLUMNS: Final = tuple(Note(0, "mark").as_row())


def add_note(path: Path, note: Note) -> None:
    """Add a note to ``notes.csv``, forced to disk; raises ``LogbookError`` as ``append_row``."""
    append_row(path, COLUMNS, note.as_row())


def read_notes(path: Path) -> Rows[Note]:
    """The notes in the order in which they were written; raises ``LogbookError``."""
    return read_rows(path, COLUMNS, lambda row: Note.from_row(dict(row)))
