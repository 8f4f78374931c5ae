"""The text journal: a log while it is being recorded.

::

    # format: 1
    # pack: "flatbed"
    time,monotonic_s,current_a,voltage_v,soc_pct,event,crc32
    2026-04-02T08:15:00.000Z,12.000113,-23.1,52.31,91,,5f1c09aa

UTF-8, LF, one row a sample; an empty field is missing. The last field is the CRC-32 (ISO-HDLC,
as in zlib) of the row before its last comma, so damage stays inside one row and is noticed.
Rows are only ever appended, each goes to the operating system at once, and a thread forces them
to disk once a second: a killed program loses nothing that it wrote, a power cut about the last
second.
"""

from __future__ import annotations

import csv
import io
import math
import os
import threading
import zlib
from collections import deque
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Self

import pyarrow as pa
import pyarrow.csv as pa_csv

from .appendfile import AppendFile, Write
from .clock import iso_utc
from .errors import LogFormatError, LogInUse
from .meta import LogMeta
from .record import Sample, quantity_of

#: Columns every log has, before and after the quantities.
LEADING: Final = ("time", "monotonic_s")
TRAILING: Final = ("event",)

#: Samples held in memory while the disk refuses them: an hour at 10 Hz.
PENDING_MAX: Final = 36_000


def log_schema(columns: Iterable[str]) -> pa.Schema:
    """The Arrow schema of a log with these quantity columns."""
    types = [("time", pa.timestamp("ms", "UTC")), ("monotonic_s", pa.float64())]
    types += [(c, pa.string() if quantity_of(c).is_text else pa.float64()) for c in columns]
    return pa.schema([*types, ("event", pa.string())])


def encode_row(sample: Sample, columns: Iterable[str]) -> bytes:
    """One journal row, its CRC and line end included."""
    fields = [iso_utc(sample.time_ms), _text(sample.monotonic_s)]
    fields += [_text(sample.values.get(column)) for column in columns]
    row = ",".join([*fields, _text(sample.event)]).encode("utf-8", "replace")
    return b"%s,%08x\n" % (row, zlib.crc32(row))


def _text(value: float | str | None) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return _quoted(value) if value else ""
    return "" if math.isnan(value) else repr(float(value)).removesuffix(".0")


def _quoted(text: str) -> str:
    """A CSV field on one line: line ends become spaces, for a row must stay a row."""
    line = " ".join(text.split())
    if not any(mark in line for mark in ',"'):
        return line
    out = io.StringIO()
    csv.writer(out, lineterminator="").writerow([line])
    return out.getvalue()


@dataclass(frozen=True, slots=True)
class Damage:
    """What a journal lost: the bytes after its last whole row, and rows with a wrong CRC."""

    torn_bytes: int = 0
    damaged_lines: int = 0

    def __bool__(self) -> bool:
        return bool(self.torn_bytes or self.damaged_lines)

    def __str__(self) -> str:
        return f"{self.torn_bytes} bytes torn off the end, {self.damaged_lines} damaged lines"


@dataclass(frozen=True, slots=True)
class JournalHead:
    """What stands in front of a journal's rows."""

    meta: LogMeta
    columns: tuple[str, ...]
    #: Lines it takes, the column line included.
    lines: int


@dataclass(frozen=True, slots=True)
class JournalText:
    """A journal taken apart: metadata, quantity columns, whole rows, damage."""

    meta: LogMeta
    columns: tuple[str, ...]
    rows: list[bytes]
    damage: Damage

    def table(self) -> pa.Table:
        """The rows as an Arrow table in ``log_schema``; missing is null."""
        return rows_to_table(self.rows, self.columns)


def parse_journal(data: bytes, where: str) -> JournalText:
    """Take a journal apart, keeping every row whose CRC is right.

    Raises
    ------
    LogFormatError
        If the header is cut off or is not a packhand header.
    """
    *lines, tail = data.split(b"\n")
    head = parse_head(lines, where)
    rows = [row for line in lines[head.lines:] if (row := checked(line)) is not None]
    damage = Damage(len(tail), len(lines) - head.lines - len(rows))
    return JournalText(head.meta, head.columns, rows, damage)


def parse_head(lines: list[bytes], where: str) -> JournalHead:
    """What the lines in front of a journal's rows say; raises as ``parse_journal``."""
    last = next((i for i, line in enumerate(lines) if not line.startswith(b"#")), None)
    if not any(lines):
        raise LogFormatError(where, "the file is empty", "name a log that holds figures")
    if last is None:
        raise LogFormatError(where, "no column line", "the file is cut off within its header, "
                             "or is not a packhand journal")
    if not lines[0].startswith(b"# format:"):
        raise LogFormatError(where, "not a packhand journal", "'packhand import' brings in a table")
    meta = LogMeta.from_header([line.decode("utf-8", "replace") for line in lines[:last]], where)
    return JournalHead(meta, _columns(lines[last].decode("utf-8", "replace"), where), last + 1)


def _columns(line: str, where: str) -> tuple[str, ...]:
    names = tuple(line.split(","))
    if names[:2] != LEADING or names[-2:] != (*TRAILING, "crc32"):
        raise LogFormatError(where, f"column line {line[:60]!r}",
                             "a journal's columns run from time, monotonic_s to event, crc32")
    for name in names[2:-2]:
        try:
            quantity_of(name)
        except KeyError:
            raise LogFormatError(where, f"unknown column {name!r}",
                                 "a newer packhand may read it") from None
    return names[2:-2]


def checked(line: bytes) -> bytes | None:
    """The row without its CRC if the CRC is right, else ``None``."""
    row, comma, crc = line.rpartition(b",")
    return row if comma and crc == b"%08x" % zlib.crc32(row) else None


def rows_to_table(rows: list[bytes], columns: Iterable[str]) -> pa.Table:
    """Checked rows as an Arrow table in ``log_schema``."""
    schema = log_schema(columns)
    if not rows:
        return schema.empty_table()
    return pa_csv.read_csv(
        io.BytesIO(b"\n".join(rows)),
        read_options=pa_csv.ReadOptions(column_names=schema.names),
        convert_options=pa_csv.ConvertOptions(
            column_types=schema, null_values=[""], strings_can_be_null=True),
    )


class JournalWriter:
    """Appends samples to a new journal.

    While the disk takes nothing (full, pulled out), samples wait in memory, at most
    ``PENDING_MAX``, and are written in order as soon as it does; ``blocked`` holds the reason.
    """

    def __init__(self, path: Path, columns: Iterable[str], head: bytes, file: AppendFile) -> None:
        self.path = path
        self.columns = tuple(columns)
        #: Why samples are waiting, or ``None``.
        self.blocked: OSError | None = None
        #: Samples that fell out of the full waiting line.
        self.dropped = 0
        self._head = head
        self._file = file
        self._pending: deque[bytes] = deque()
        self._dirty = threading.Event()
        self._closing = threading.Event()
        self._syncer = threading.Thread(target=self._sync_each_second, daemon=True)
        self._syncer.start()

    @classmethod
    def create(cls, path: Path, meta: LogMeta, columns: Iterable[str], *,
               write: Write = os.write) -> Self:
        """Start a journal that must not exist yet, its header forced to disk.

        Raises
        ------
        LogInUse
            If the file exists.
        OSError
            If the folder cannot be written or the disk is full.
        """
        columns = tuple(columns)
        lines = [*meta.header_lines(), ",".join([*LEADING, *columns, *TRAILING, "crc32"]), ""]
        head = "\n".join(lines).encode()
        try:
            file = AppendFile.create(path, head, write)
        except FileExistsError:
            raise LogInUse(str(path), "this log exists already",
                           "another recorder started it in the same second; "
                           "start again") from None
        return cls(path, columns, head, file)

    @property
    def waiting(self) -> int:
        """Samples held in memory because the disk takes nothing."""
        return len(self._pending)

    def write(self, sample: Sample) -> None:
        """Hand one sample to the operating system, or keep it while the disk takes nothing."""
        self._pending.append(encode_row(sample, self.columns))
        if len(self._pending) > PENDING_MAX:
            self._pending.popleft()
            self.dropped += 1
        self._drain()

    def _drain(self) -> None:
        while self._pending:
            try:
                self._file.append(self._pending[0])
            except OSError as error:
                self.blocked = error
                return
            self._pending.popleft()
            self._dirty.set()
        self.blocked = None

    def _sync_each_second(self) -> None:
        while not self._closing.wait(1.0):
            if self._dirty.is_set():
                self._dirty.clear()
                with suppress(OSError):  # a failing disk shows at the next write or at close
                    self._file.sync()

    def close(self) -> None:
        """Write what waits, force it to disk, release the file. May be called twice.

        What the disk still refuses stays counted in ``waiting``, with the reason in ``blocked``.
        """
        if self._closing.is_set():
            return
        self._closing.set()
        self._syncer.join()
        self._drain()
        try:
            self._file.sync()
        except OSError as error:
            self.blocked = error
        finally:
            self._file.close()

    def rescue(self, path: Path) -> None:
        """Write the samples that wait into a journal elsewhere, and let go of them.

        Raises
        ------
        OSError
            If they cannot be written there either; they keep waiting.
        """
        AppendFile.create(path, self._head + b"".join(self._pending)).close()
        self._pending.clear()
