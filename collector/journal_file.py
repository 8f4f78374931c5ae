"""A journal read piece by piece, so that a long log takes no more memory than a short one.

A first look checks the CRC of every row and counts what is damaged; after that the rows come as
tables, as often as wanted. What is appended after the first look is not seen.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Final, Self

import pyarrow as pa
import pyarrow.csv as pa_csv

from .journal import Damage, checked, log_schema, parse_head, rows_to_table
from .meta import LogMeta

#: Read at once: some tens of thousands of rows. [bytes]
PIECE_BYTES: Final = 4_000_000


@dataclass(frozen=True, slots=True)
class _Piece:
    """Whole lines in a run."""

    at: int
    size: int
    is_damaged: bool


@dataclass(frozen=True, slots=True)
class JournalFile:
    """A journal that was looked through once."""

    path: Path
    meta: LogMeta
    #: The quantity columns.
    columns: tuple[str, ...]
    #: Rows whose CRC is right.
    rows: int
    damage: Damage
    _pieces: tuple[_Piece, ...]

    @classmethod
    def open(cls, path: Path) -> Self:
        """Look through a journal.

        Raises
        ------
        LogFormatError
            If the header is cut off or is not a packhand header.
        """
        with path.open("rb") as file:
            lines, rest = _whole_lines(file, b"")
            head = parse_head(lines, str(path))
            at = sum(len(line) + 1 for line in lines[:head.lines])
            rows = damaged = 0
            pieces = []
            lines = lines[head.lines:]
            while True:
                good = sum(checked(line) is not None for line in lines)
                size = sum(map(len, lines)) + len(lines)
                if lines:
                    pieces.append(_Piece(at, size, good < len(lines)))
                at, rows, damaged = at + size, rows + good, damaged + len(lines) - good
                before = len(rest)
                lines, rest = _whole_lines(file, rest)
                if not lines and len(rest) == before:
                    break
        return cls(path, head.meta, head.columns, rows, Damage(len(rest), damaged), tuple(pieces))

    def tables(self) -> Iterator[pa.Table]:
        """The rows, in tables of ``log_schema``; missing is null."""
        with self.path.open("rb") as file:
            for piece in self._pieces:
                file.seek(piece.at)
                text = file.read(piece.size)
                yield self._checked_rows(text) if piece.is_damaged else self._sound_rows(text)

    def _checked_rows(self, text: bytes) -> pa.Table:
        rows = [row for line in text.split(b"\n")[:-1] if (row := checked(line)) is not None]
        return rows_to_table(rows, self.columns)

    def _sound_rows(self, text: bytes) -> pa.Table:
        """Rows that are all good: no need to take the CRC off each."""
        schema = log_schema(self.columns)
        return pa_csv.read_csv(
            io.BytesIO(text),
            read_options=pa_csv.ReadOptions(column_names=[*schema.names, "crc32"]),
            convert_options=pa_csv.ConvertOptions(
                column_types=schema, include_columns=schema.names, null_values=[""],
                strings_can_be_null=True))


def _whole_lines(file: BinaryIO, rest: bytes) -> tuple[list[bytes], bytes]:
    """The next lines behind ``rest``, without their ends, and what is left of the last one."""
    *lines, rest = (rest + file.read(PIECE_BYTES)).split(b"\n")
    return lines, rest
