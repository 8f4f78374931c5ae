"""Append-only tables of a logbook, such as its notes: plain CSV that a person may edit, too.

UTF-8, a header, one row a line. A row is forced to disk before the command that wrote it ends. A
line that was torn by a power cut, or spoilt by hand, costs itself and no other: it is counted,
left where it is, and the next row begins on a line of its own.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar

from .appendfile import AppendFile
from .errors import LogbookError
from .logbook import unwritable

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Rows(Generic[T]):
    """What a table holds, oldest line first, and the lines that could not be read."""

    rows: tuple[T, ...] = ()
    #: Numbers of the unreadable lines; the header is line 1.
    damaged_lines: tuple[int, ...] = ()


def append_row(path: Path, columns: Sequence[str], row: Mapping[str, str]) -> None:
    """Add one row, forced to disk; the table is begun if it is missing.

    A table that has its columns in another order, or lacks some, keeps its own header.

    Raises
    ------
    LogbookError
        If the file cannot be written, or its first line is no header.
    """
    try:
        try:
            AppendFile.create(path, (_line(columns) + "\n").encode()).close()
        except FileExistsError:
            columns = _columns_of(path, columns)
        file = AppendFile.reopen(path)
        try:
            start = "" if path.read_bytes().endswith(b"\n") else "\n"
            file.append(f"{start}{_line([row.get(name, '') for name in columns])}\n".encode())
            file.sync()
        finally:
            file.close()
    except OSError as error:
        raise unwritable(path, error) from error


def read_rows(path: Path, columns: Sequence[str],
                read: Callable[[Mapping[str, str]], T]) -> Rows[T]:
    """Every row of a table; none where there is no file.

    Parameters
    ----------
    columns
        The table's columns; the file may lack some, which are then empty.
    read
        Makes a row of its fields; a ``ValueError`` makes the line a damaged one.

    Raises
    ------
    LogbookError
        If the file may not be read, or its first line is no header.
    """
    try:
        names = _columns_of(path, columns)
        lines = path.read_text(encoding="utf-8-sig", errors="replace").splitlines()
    except (FileNotFoundError, NotADirectoryError):
        return Rows()
    except OSError as error:
        raise LogbookError(str(path), f"cannot be read ({error.strerror})",
                           "ask whose it is for permission") from error
    empty = dict.fromkeys(columns, "")
    rows, damaged = [], []
    for number, line in enumerate(lines[1:], start=2):
        if not line.strip():
            continue
        try:
            rows.append(read(empty | dict(zip(names, _fields(line), strict=True))))
        except (ValueError, csv.Error):
            damaged.append(number)
    return Rows(tuple(rows), tuple(damaged))


def _columns_of(path: Path, columns: Sequence[str]) -> Sequence[str]:
    """The columns as the file's header has them."""
    with path.open(encoding="utf-8-sig", errors="replace") as file:
        names = _fields(file.readline().strip())
    if columns[0] not in names:
        raise LogbookError(f"{path}, line 1", f"not a header that begins {columns[0]!r}",
                           f"it should read {','.join(columns)}")
    return names


def _fields(line: str) -> list[str]:
    return next(csv.reader([line], strict=True), [])


def _line(fields: Sequence[str]) -> str:
    """Fields as one line: line ends inside them become spaces."""
    out = io.StringIO()
    csv.writer(out, lineterminator="").writerow([" ".join(field.split()) for field in fields])
    return out.getvalue()
