"""The form of a text table: encoding, delimiter, where the headings are, decimal mark."""

from __future__ import annotations

import codecs
import csv
import gzip
import re
import zlib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from ..errors import ForeignFileError
from .foreign import DecimalMark
from .headings import meaning_of, take_apart
from .units import find_unit

#: Delimiters by trust: a file whose lines all split alike at ``;`` is not split at its commas.
DELIMITERS: Final = {";": "semicolons", "\t": "tabs", "|": "bars", ",": "commas", " ": "blanks"}

#: Lines looked at from the start, and from each of the middle and the end.
_HEAD_LINES: Final = 400
_PROBE_LINES: Final = 100
_PROBE_BYTES: Final = 65_536
_PREAMBLE_MAX: Final = 100

NUMBER: Final = re.compile(r"[+-]?(\d[\d.,' ]*|[.,]\d+)([eE][+-]?\d+)?")
_VALUE: Final = re.compile(r"[+-]?[\d.,]+([eE][+-]?\d+)?\s*[^\d\s]{0,4}|\d{1,4}[-/.:]\d.*")


@dataclass(frozen=True, slots=True)
class TextForm:
    """How a text table is written."""

    encoding: str
    delimiter: str
    headings: tuple[str, ...]
    #: The unit row under the headings; empty if there is none.
    units: tuple[str, ...]
    #: Lines before the first row of figures.
    lines_before: int
    decimal: DecimalMark
    #: Set where nothing in the file tells a decimal comma from a thousands mark.
    decimal_doubt: str = ""


def decode(data: bytes, where: str) -> tuple[str, str]:
    """The text of a file, and the name of its encoding.

    Raises
    ------
    ForeignFileError
        If it is empty, or is no text.
    """
    for mark, name in ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"),
                       (codecs.BOM_UTF16_BE, "utf-16")):
        if data.startswith(mark):
            return _text(data.decode(name, "replace"), where), name.removesuffix("-sig")
    if b"\0" in data[:4096]:
        raise ForeignFileError(where, "neither a text table nor Parquet, XLSX or GPX",
                               "save it as CSV in the program it comes from")
    try:
        return _text(data.decode("utf-8"), where), "utf-8"
    except UnicodeDecodeError:
        return _text(data.decode("latin-1"), where), "latin-1"


def unpacked(data: bytes, where: str) -> bytes:
    """The bytes of a file, unpacked if it is gzipped.

    Raises
    ------
    ForeignFileError
        If it is cut off while packed, or damaged.
    """
    if not data.startswith(b"\x1f\x8b"):
        return data
    try:
        return gzip.decompress(data)
    except (EOFError, gzip.BadGzipFile, zlib.error) as error:
        raise ForeignFileError(where, f"a gzip file that does not unpack ({error})",
                               "it is cut off or damaged; fetch it again") from error


def _text(text: str, where: str) -> str:
    if not text or text.isspace():
        raise ForeignFileError(where, "the file is empty", "choose the file with the figures")
    return text if "\n" in text else text.replace("\r", "\n")


def find_form(text: str, encoding: str, where: str, decimal: DecimalMark | None) -> TextForm:
    """Find how a text table is written.

    Raises
    ------
    ForeignFileError
        If no delimiter splits its lines into columns, or the lines change their delimiter.
    """
    lines = list(_first_lines(text, _HEAD_LINES))
    delimiter, width = _find_delimiter(lines, where)
    rows = [split(line, delimiter) for line in lines]
    at, _ = _heading_row(rows, width)
    headings = rows[at] if at >= 0 else [f"column {n}" for n in range(1, width + 1)]
    units = rows[at + 1] if 0 <= at < len(rows) - 1 and _is_unit_row(rows[at + 1]) else []
    body = [*rows[at + 1 + bool(units):], *(split(ln, delimiter) for ln in _probes(text))]
    mark, doubt = (decimal, "") if decimal else _find_decimal(body, delimiter)
    return TextForm(encoding, delimiter, _padded(headings, width), _padded(units, width),
                    at + 1 + bool(units), mark, doubt)


def split(line: str, delimiter: str) -> list[str]:
    """The fields of one line, quotes taken off."""
    if delimiter == " ":
        return [field for field in line.strip(" ").split(" ") if field]
    try:
        return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:  # a field too long for any table
        return [line]


def _first_lines(text: str, count: int) -> Iterator[str]:
    start = 0
    for _ in range(count):
        end = text.find("\n", start)
        if end < 0:
            if start < len(text):
                yield text[start:].rstrip("\r")
            return
        yield text[start:end].rstrip("\r")
        start = end + 1


def _probes(text: str) -> list[str]:
    """Whole lines from the middle and from the end of a long text."""
    if len(text) < 4 * _PROBE_BYTES:
        return text.splitlines()[_HEAD_LINES:]
    middle = len(text) // 2
    return [line for start in (middle, len(text) - _PROBE_BYTES)
            for line in text[start:start + _PROBE_BYTES].splitlines()[1:-1][:_PROBE_LINES]]


def _padded(fields: list[str], width: int) -> tuple[str, ...]:
    kept = [field.strip() for field in fields[:width]]
    return tuple(kept + [""] * (width - len(kept))) if fields else ()


def _find_delimiter(lines: list[str], where: str) -> tuple[str, int]:
    """The delimiter that splits most lines alike into the same two columns or more.

    One that splits a line into headings of known quantities goes before all others.
    """
    filled = [line for line in lines if line.strip()]
    shares: dict[str, tuple[float, int]] = {}
    trust = {}
    for delimiter in DELIMITERS:
        rows = [split(line, delimiter) for line in filled]
        widths = Counter(map(len, rows))
        count, width = max(((n, w) for w, n in widths.items() if w > 1), default=(0, 1))
        shares[delimiter] = count / len(filled), width
        named = _heading_row(rows, width)[1] if count else 0
        share = count / len(filled) if named > 1 or delimiter != " " else 0.0
        trust[delimiter] = min(named, 2) if share else 0, round(share, 2)
    best = max(trust, key=lambda delimiter: trust[delimiter])
    if trust[best][1] >= 0.5:
        return best, shares[best][1]
    rivals = [(d, w) for d, (s, w) in shares.items() if s > 0.1 and d != " "]
    if len(rivals) > 1:
        raise _mixed(filled, rivals, lines, where)
    raise ForeignFileError(where, f"not a table: {filled[0][:40]!r} is no row of columns",
                           "a table has a line of headings and a delimiter between columns")


def _mixed(filled: list[str], rivals: list[tuple[str, int]], lines: list[str],
           where: str) -> ForeignFileError:
    def kind(line: str) -> str:
        return next((d for d, w in rivals if len(split(line, d)) == w), "")

    first = kind(filled[0]) or rivals[0][0]
    other = next(line for line in filled if kind(line) not in ("", first))
    return mixed_delimiters(where, lines.index(other) + 1, kind(other), first)


def mixed_delimiters(where: str, line: int, found: str, before: str) -> ForeignFileError:
    """The error for a line that is split by another delimiter than those above it."""
    return ForeignFileError(
        f"{where}, line {line}",
        f"columns are split by {DELIMITERS[found]} here and by {DELIMITERS[before]} above",
        "two files may have been joined; write one delimiter throughout")


def _heading_row(rows: list[list[str]], width: int) -> tuple[int, int]:
    """The line of headings, and how many quantities it names.

    Of the lines in words it is the one that names most; -1 where there is none in words.
    """
    best, at, most = -1, -1, 0
    for number, row in enumerate(rows[:_PREAMBLE_MAX]):
        in_words = [field for field in row if field.strip()]
        if len(row) < 2 or len(row) > width + 1 or not in_words or any(
                _VALUE.fullmatch(field.strip()) for field in in_words):
            continue
        named = sum(meaning_of(take_apart(field)) is not None for field in in_words)
        full = len(row) >= width - 1
        if named + full > best:
            best, at, most = named + full, number, named
    return at, most


def _is_unit_row(row: list[str]) -> bool:
    filled = [field.strip() for field in row if field.strip(" -[]()")]
    known = sum(find_unit(field) is not None for field in filled)
    return bool(filled) and known >= max(1, len(filled) / 2) and not any(
        field[:1].isdecimal() for field in filled)


def _find_decimal(body: list[list[str]], delimiter: str) -> tuple[DecimalMark, str]:
    """The decimal mark by counting what only one of the two marks can have written."""
    fields = [f.strip() for row in body for f in row
              if NUMBER.fullmatch(f.strip()) and ("," in f or "." in f)]
    comma = sum(_only_decimal(field, ",", ".") for field in fields)
    point = sum(_only_decimal(field, ".", ",") for field in fields)
    if comma or point:
        return ("," if comma > point else "."), ""
    undecided = next((f for f in fields if "," in f), "")
    if undecided and delimiter != ",":
        return ",", undecided
    return ".", ""


def _only_decimal(field: str, mark: str, other: str) -> bool:
    """Whether ``mark`` can only be the decimal mark here: ``0,5``, ``12,75``, ``1.234,5``."""
    if field.count(mark) != 1:
        return False
    whole, _, digits = field.partition(mark)
    if other in whole:
        return other not in digits
    return other not in digits and (len(re.match(r"\d*", digits)[0]) != 3  # type: ignore[index]
                                    or whole.lstrip("+-") in ("", "0") or len(whole) > 4)
