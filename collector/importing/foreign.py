"""What reading a table from elsewhere gives: the figures, and how each was understood."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

import pyarrow as pa

DateOrder = Literal["day-first", "month-first", "year-first"]
DecimalMark = Literal[".", ","]


@dataclass(frozen=True, slots=True)
class ImportOptions:
    """What a person may say about a file; nothing is needed where the file tells it."""

    #: Log column (or ``time``) -> ``heading`` or ``heading:unit`` of the file.
    columns: Mapping[str, str] = field(default_factory=dict)
    #: How ``03/04/2026`` reads.
    date_order: DateOrder | None = None
    #: IANA name of the zone of times that carry none.
    zone: str | None = None
    #: Moment of elapsed time zero, for files that count from zero.
    start: datetime | None = None
    decimal: DecimalMark | None = None
    #: Heading -> value as text; only rows that match all are read.
    where: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Mapped:
    """Where one log column comes from: ``value = figure x factor + offset``."""

    #: Heading in the file; several joined with ' + ' where columns were combined.
    source: str
    #: Unit as found in the file, or taken for want of one.
    unit: str = ""
    factor: float = 1.0
    offset: float = 0.0
    #: Why this column and this unit, where there was a choice.
    words: str = ""

    def as_json(self) -> dict[str, Any]:
        out: dict[str, Any] = {"source": self.source, "unit": self.unit, "factor": self.factor}
        if self.offset:
            out["offset"] = self.offset
        return out | ({"words": self.words} if self.words else {})


@dataclass(frozen=True, slots=True)
class Dropped:
    """What of the file is not in the log, and why."""

    #: Heading -> reason.
    columns: Mapping[str, str] = field(default_factory=dict)
    #: Reason -> number of rows left out.
    rows: Mapping[str, int] = field(default_factory=dict)
    #: Log column -> number of figures that are certainly not measurements, kept as missing.
    figures: Mapping[str, int] = field(default_factory=dict)

    def as_json(self) -> dict[str, Any]:
        return {"columns": dict(self.columns), "rows": dict(self.rows),
                "figures": dict(self.figures)}


@dataclass(frozen=True, slots=True)
class Doubt:
    """A question that the file cannot decide."""

    #: ``date order``, ``time zone``, ``start``, ``unit``, ``decimal mark``, ``column``.
    kind: str
    #: What is open, as one sentence.
    question: str
    #: What was taken for now.
    taken: str
    #: The command line option that decides it.
    option: str
    #: Answers to choose from; empty where they are not a short list.
    choices: tuple[str, ...] = ()
    #: True where going on without an answer could put figures into a wrong month or scale.
    must_ask: bool = False

    def as_json(self) -> dict[str, Any]:
        return {"kind": self.kind, "question": self.question, "taken": self.taken,
                "option": self.option, "choices": list(self.choices), "must_ask": self.must_ask}

    def __str__(self) -> str:
        return f"{self.question} Taken: {self.taken}; {self.option} decides it."


@dataclass(frozen=True, slots=True)
class Foreign:
    """One run of a table from elsewhere, as a log.

    Amps carry the file's own sign unless ``sign`` says that it is settled.
    """

    path: Path
    #: Of the file's bytes, in hexadecimal.
    sha256: str
    #: In ``collector.journal.log_schema``: SI units, time in UTC, missing is null, never NaN.
    table: pa.Table
    mapping: Mapping[str, Mapped]
    dropped: Dropped
    doubts: tuple[Doubt, ...] = ()
    #: ``convention``, ``decided_by`` ("file") and ``words`` where the file itself tells the
    #: direction (two columns, or a direction in words); empty where only the figures can.
    sign: Mapping[str, Any] = field(default_factory=dict)
    #: Zone of the file's clock; UTC where it said none.
    time_zone: str = "UTC"
    #: Which run of the file this is, such as ``cycle_idx=12``; empty where it holds one.
    run: str = ""
    #: What was understood, in plain sentences.
    words: tuple[str, ...] = ()
    #: Every heading of the file as it stands there.
    headings: tuple[str, ...] = ()

    def preview(self, rows: int = 3) -> list[dict[str, Any]]:
        """The first rows as they read now, by log column."""
        return list(self.table.slice(0, rows).drop_columns(["event"]).to_pylist())
