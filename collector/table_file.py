"""TOML files of a logbook, typed by hand or changed one table at a time by a program.

What a person wrote stays: a change touches the lines of one key, what is taken away becomes a
comment, and the new text is read again before it replaces the file. If it would not say exactly
the old tables with that one change, nothing is written. The file as it was stays beside it.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import tomllib
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from .appendfile import sync_folder
from .errors import DescriptionError, LogbookError
from .logbook import unwritable

#: The file as it was before the last change.
BEFORE_SUFFIX: Final = ".before"
#: What a key may be set to; a list holds small tables of figures.
Value = str | float | bool | Sequence[Mapping[str, float]]
_HEAD: Final = re.compile(r"\s*(\[\[?)\s*([A-Za-z0-9_.-]+)\s*\]\]?\s*(#.*)?")
_BY_HAND: Final = "change it in the file, with a text editor"


@dataclass(frozen=True, slots=True)
class TablePlace:
    """Which table is meant."""

    #: Name of its header.
    kind: str
    #: Its place among the ``[[kind]]`` tables, from 0; ``None`` for the only ``[kind]``.
    number: int | None = None
    #: The name that was seen there, so that a list changed meanwhile is not mistaken; any if empty.
    name: str = ""
    #: The table ``[kind.under]`` below it is meant; itself if empty.
    under: str = ""


def read_tables(path: Path) -> dict[str, Any]:
    """The tables of a file.

    Raises
    ------
    DescriptionError
        If it cannot be read or is not TOML; names line and column then.
    FileNotFoundError
        If there is none.
    """
    return _parsed(_text(path), path)


def add_table(path: Path, kind: str, values: Mapping[str, Value], blank: str = "") -> None:
    """Add a ``[[kind]]`` table at the end, to ``blank`` if there is no file yet; raises as
    ``change_table``."""
    text = _text_or(blank, path)
    tables = _parsed(text, path)
    known = tables.setdefault(kind, [])
    if not isinstance(known, list):
        raise _unusual(path)
    known.append(dict(values))
    lines = "".join(f"{key} = {_toml(value)}\n" for key, value in values.items())
    _replace(path, f"{_ended(text)}\n[[{kind}]]\n{lines}", tables)


def change_table(path: Path, place: TablePlace, values: Mapping[str, Value | None],
                 blank: str = "") -> None:
    """Set keys of one table; ``None`` takes a key away, keys not named stay.

    A ``[kind]`` table that is not there yet is added, and so is one below another; ``blank`` is
    begun with if there is no file yet.

    Raises
    ------
    DescriptionError
        If the list is not TOML.
    LogbookError
        If there is no such table, its lines are too unusual to be changed one by one, or the
        folder cannot be written. Nothing is changed then.
    """
    text = _text_or(blank, path)
    tables = _parsed(text, path)
    if place.number is None and place.kind not in tables:
        text = f"{_ended(text)}\n[{place.kind}]\n"
        tables[place.kind] = {}
    table = _found(tables, place, path)
    lines = text.splitlines(keepends=True)
    if place.under and place.under not in table:
        _open_below(lines, place, path)
        table[place.under] = {}
    if place.under:
        table = table[place.under]
        if not isinstance(table, dict):
            raise _unusual(path)
    first, end = _lines_of(lines, place, path)
    block = lines[first:end]
    for key, value in values.items():
        if value is None:
            _comment_out(block, key)
            table.pop(key, None)
        else:
            _set_key(block, key, value, path)
            table[key] = value
    _replace(path, "".join([*lines[:first], *block, *lines[end:]]), tables)


def strike_table(path: Path, place: TablePlace) -> None:
    """Turn one ``[[kind]]`` table into comments; raises as ``change_table``."""
    text = _text_or("", path)
    tables = _parsed(text, path)
    _found(tables, place, path)
    tables[place.kind].pop(place.number or 0)
    if not tables[place.kind]:
        del tables[place.kind]
    lines = text.splitlines(keepends=True)
    first, end = _lines_of(lines, place, path)
    for row in range(first - 1, _last_key(lines[:end]) + 1):
        lines[row] = f"# {lines[row]}" if lines[row].strip() else lines[row]
    _replace(path, "".join(lines), tables)


def _text(path: Path) -> str:
    """The file as it is, ends of lines included."""
    try:
        return path.read_bytes().decode("utf-8")
    except UnicodeDecodeError as error:
        raise DescriptionError(str(path), f"not TOML: {error}", "save it as UTF-8") from None
    except FileNotFoundError:
        raise
    except OSError as error:
        raise DescriptionError(str(path), f"cannot be read ({error.strerror})",
                               "give the path of a TOML file") from None


def _text_or(blank: str, path: Path) -> str:
    return _text(path) if path.exists() else blank


def _parsed(text: str, path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise DescriptionError(str(path), f"not TOML: {error}", "mend that line") from None


def _found(tables: Mapping[str, Any], place: TablePlace, path: Path) -> dict[str, Any]:
    """The table that is meant, to be changed in place."""
    known = tables.get(place.kind)
    if place.number is not None:
        is_there = isinstance(known, list) and 0 <= place.number < len(known)
        known = known[place.number] if is_there and isinstance(known, list) else None
    if not isinstance(known, dict) or (place.name and known.get("name") != place.name):
        raise LogbookError(str(path), f"no such {place.kind}: the list has changed",
                           "open it again")
    return known


def _lines_of(lines: list[str], place: TablePlace, path: Path) -> tuple[int, int]:
    """First line after the table's header, and the line that ends it."""
    heads = _heads(lines)
    start = _head_row(heads, place, path)
    if place.under:
        below = f"{place.kind}.{place.under}"
        start = next((row for row, match in heads if start < row < _last_of(heads, start, lines)
                      and match[2] == below and match[1] == "["), -1)
        if start < 0:
            raise _unusual(path)
    return start + 1, next((row for row, _ in heads if row > start), len(lines))


def _open_below(lines: list[str], place: TablePlace, path: Path) -> None:
    """Write the header of a table below another, behind all that belongs to that one."""
    heads = _heads(lines)
    start = _head_row(heads, place, path)
    at = start + 1 + _last_key(lines[start + 1:_last_of(heads, start, lines)]) + 1
    lines[at - 1] = _ended(lines[at - 1])
    lines.insert(at, f"\n[{place.kind}.{place.under}]\n")
    lines[:] = "".join(lines).splitlines(keepends=True)


def _heads(lines: list[str]) -> list[tuple[int, re.Match[str]]]:
    """Every header with its row."""
    return [(row, match) for row, line in enumerate(lines)
            if (match := _HEAD.fullmatch(line.rstrip("\r\n")))]


def _head_row(heads: list[tuple[int, re.Match[str]]], place: TablePlace, path: Path) -> int:
    """Row of the header of the table that is meant, or that it lies below."""
    own = [row for row, match in heads if match[2] == place.kind
           and (match[1] == "[[") == (place.number is not None)]
    if len(own) <= (place.number or 0):
        raise _unusual(path)
    return own[place.number or 0]


def _last_of(heads: list[tuple[int, re.Match[str]]], start: int, lines: list[str]) -> int:
    """The row that ends a table and all below it."""
    name = next(match[2] for row, match in heads if row == start)
    return next((row for row, match in heads
                 if row > start and not match[2].startswith(f"{name}.")), len(lines))


def _set_key(block: list[str], key: str, value: Value, path: Path) -> None:
    row = _row_of(block, key)
    if row is None:
        at = _last_key(block) + 1
        if at:
            block[at - 1] = _ended(block[at - 1])
        block.insert(at, f"{key} = {_toml(value)}\n")
        return
    line = block[row].rstrip("\r\n")
    before, _, told = line.partition("=")
    block[row] = f"{before}= {_toml(value)}{_comment(told, path)}{block[row][len(line):]}"


def _comment_out(block: list[str], key: str) -> None:
    row = _row_of(block, key)
    if row is not None:
        block[row] = f"# {block[row]}"


def _row_of(block: list[str], key: str) -> int | None:
    begins = re.compile(rf"\s*{re.escape(key)}\s*=")
    return next((row for row, line in enumerate(block) if begins.match(line)), None)


def _last_key(lines: list[str]) -> int:
    """The last line that says something; −1 if none does."""
    return max((row for row, line in enumerate(lines)
                if line.strip() and not line.lstrip().startswith("#")), default=-1)


def _comment(told: str, path: Path) -> str:
    """The comment behind a value, with the room before it; a ``#`` within quotes begins none."""
    for match in re.finditer(r"\s*#|$", told):
        with suppress(tomllib.TOMLDecodeError):
            tomllib.loads(f"key ={told[:match.start()]}")
            return told[match.start():]
    raise _unusual(path)


def _toml(value: Value) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, int | float):
        return repr(float(value)).removesuffix(".0")
    return f"[{', '.join(map(_toml_table, value))}]"


def _toml_table(values: Mapping[str, float]) -> str:
    return f"{{{', '.join(f'{key} = {_toml(value)}' for key, value in values.items())}}}"


def _ended(text: str) -> str:
    return text if not text or text.endswith("\n") else f"{text}\n"


def _unusual(path: Path) -> LogbookError:
    return LogbookError(str(path), "written in a way that cannot be changed from here", _BY_HAND)


def _replace(path: Path, text: str, tables: Mapping[str, Any]) -> None:
    """Write the new text whole or not at all, after it proved to say what was meant."""
    try:
        is_meant = tomllib.loads(text) == tables
    except tomllib.TOMLDecodeError:
        is_meant = False
    if not is_meant:
        raise _unusual(path)
    fresh = path.with_name(f".{path.name}.new")
    try:
        if path.exists():
            shutil.copy2(path, path.with_name(path.name + BEFORE_SUFFIX))
        with fresh.open("wb") as file:
            file.write(text.encode("utf-8"))
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(path)
        sync_folder(path.parent)
    except OSError as error:
        raise unwritable(path.parent, error) from error
