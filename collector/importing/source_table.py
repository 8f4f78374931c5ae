"""A file as columns: text columns as text, figures as figures, nothing understood yet."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pa_csv
import pyarrow.parquet as pq

from ..errors import ForeignFileError
from .figures import MISSING_WORDS, is_plain
from .foreign import DecimalMark
from .gpx import is_gpx, read_track
from .headings import Heading, take_apart
from .text_form import (
    DELIMITERS,
    TextForm,
    decode,
    find_form,
    mixed_delimiters,
    split,
    unpacked,
)
from .xlsx import XLS_MARK, XLSX_MARK, sheet_as_text

_PARQUET_MARK: Final = b"PAR1"
_ENCODINGS: Final = {"utf-8": "UTF-8", "utf-16": "UTF-16",
                     "latin-1": "Latin-1 (it is not UTF-8; check letters such as °)"}
#: Share of ragged rows above which a file is not a table with slips but something else.
_RAGGED_MAX: Final = 0.05
#: Lines whose fields decide whether a column is read as figures at once.
_SAMPLE_LINES: Final = 200


@dataclass(frozen=True, slots=True)
class SourceTable:
    """The columns of a file in its own units and words."""

    where: str
    headings: tuple[Heading, ...]
    #: One Arrow array a heading: float64, string, or from Parquet a date or a moment.
    columns: tuple[pa.Array, ...]
    decimal: DecimalMark = "."
    decimal_doubt: str = ""
    #: Reason -> rows left out.
    dropped_rows: Mapping[str, int] = field(default_factory=dict)
    #: How the file is written, in plain sentences.
    words: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.columns[0]) if self.columns else 0

    def find(self, name: str) -> int | None:
        """The column of that heading: as written, else regardless of case and blanks."""
        for wanted in (str, lambda text: "".join(text.lower().split())):
            for number, heading in enumerate(self.headings):
                if wanted(heading.text) == wanted(name):
                    return number
        return None

    def kept(self, mask: pa.Array, reason: str) -> SourceTable:
        """Only the rows where ``mask`` is true; the others are counted under ``reason``."""
        lost = len(mask) - (pc.sum(mask).as_py() or 0)
        if not lost:
            return self
        return replace(self, columns=tuple(column.filter(mask) for column in self.columns),
                       dropped_rows={**self.dropped_rows, **({reason: lost} if reason else {})})


def read_source(data: bytes, where: str, decimal: DecimalMark | None) -> SourceTable:
    """Open the bytes of a CSV, Parquet, XLSX or GPX file, each also gzipped.

    Raises
    ------
    ForeignFileError
        If it is empty, cut off, or not a table.
    """
    data = unpacked(data, where)
    if not data:
        raise ForeignFileError(where, "the file is empty", "choose the file with the figures")
    if data[:4] == _PARQUET_MARK:
        return _read_parquet(data, where)
    if data.startswith(XLSX_MARK):
        return _read_workbook(data, where, decimal)
    if data.startswith(XLS_MARK):
        raise ForeignFileError(where, "a workbook of the old binary kind",
                               "save it as XLSX or CSV in the program it comes from")
    if is_gpx(data):
        return _read_track(data, where)
    text, encoding = decode(data, where)
    form = find_form(text, encoding, where, decimal)
    return _read_text(text, form, where)


def _read_parquet(data: bytes, where: str) -> SourceTable:
    try:
        table = pq.read_table(pa.BufferReader(data))
    except (pa.ArrowInvalid, OSError) as error:
        raise ForeignFileError(
            where, f"not a readable Parquet file of {len(data)} bytes",
            "it is cut off or damaged; fetch it again") from error
    columns = tuple(_flat(table.column(i)) for i in range(table.num_columns))
    if not columns or not len(table):
        raise ForeignFileError(where, "a Parquet file without rows",
                               "choose the file with the figures")
    headings = tuple(take_apart(name) for name in table.column_names)
    return SourceTable(where, headings, columns, words=("A Parquet file.",))


def _read_workbook(data: bytes, where: str, decimal: DecimalMark | None) -> SourceTable:
    text, words = sheet_as_text(data, where)
    form = find_form(text, "utf-8", where, decimal)
    return replace(_read_text(text, form, where), words=(words,))


def _read_track(data: bytes, where: str) -> SourceTable:
    track = read_track(data, where)
    return SourceTable(where, tuple(take_apart(name) for name in track), tuple(track.values()),
                       words=("A track in GPX.",))


def _flat(column: pa.ChunkedArray) -> pa.Array:
    """One array of float64, string, date or moment; NaN and what is none of these is missing."""
    array = column.combine_chunks()
    if isinstance(array, pa.ChunkedArray):
        array = pa.concat_arrays(array.chunks)
    if pa.types.is_dictionary(array.type):
        array = array.dictionary_decode()
    if pa.types.is_floating(array.type):
        array = _from_float(array)
        return pc.if_else(pc.is_finite(array), array, pa.scalar(None, pa.float64()))
    if pa.types.is_integer(array.type) or pa.types.is_decimal(array.type):
        return array.cast(pa.float64())
    if pa.types.is_duration(array.type):
        seconds = array.cast(pa.duration("ns")).cast(pa.int64()).cast(pa.float64())
        return pc.divide(seconds, 1e9)
    if pa.types.is_timestamp(array.type) or pa.types.is_date(array.type):
        return array
    if pa.types.is_nested(array.type) or pa.types.is_binary(array.type):
        return pa.nulls(len(array), pa.string())
    return array.cast(pa.string(), safe=False)


def _from_float(array: pa.Array) -> pa.Array:
    """Single precision widened to the figure that was meant: 0.1 stays 0.1."""
    if array.type != pa.float32():
        return array.cast(pa.float64())
    return array.cast(pa.string()).cast(pa.float64())


def _read_text(text: str, form: TextForm, where: str) -> SourceTable:
    start = _offset_of_line(text, form.lines_before)
    body = text[start:]
    if not body or body.isspace():
        raise ForeignFileError(where, "a table without rows", "choose the file with the figures")
    if form.delimiter == " ":
        body = "\n".join(" ".join(split(line, " ")) for line in body.splitlines())
    ragged: list[str] = []
    kinds = _figure_columns(body, form)
    try:
        table = _parse(body, form, kinds, ragged)
    except pa.ArrowInvalid:
        ragged.clear()
        table = _parse(body, form, frozenset(), ragged)
    source = SourceTable(where, _headings(form), tuple(_flat(c) for c in table.columns),
                         form.decimal, form.decimal_doubt, words=_describe(form))
    source = _without_repeated_headings(source, form)
    return _judge_ragged(source, ragged, body, form)


def _headings(form: TextForm) -> tuple[Heading, ...]:
    units = form.units or ("",) * len(form.headings)
    return tuple(take_apart(text, unit) for text, unit in zip(form.headings, units, strict=True))


def _offset_of_line(text: str, line: int) -> int:
    offset = 0
    for _ in range(line):
        offset = text.find("\n", offset) + 1
        if not offset:
            return len(text)
    return offset


def _figure_columns(body: str, form: TextForm) -> frozenset[int]:
    """Columns whose first fields are all plain figures; the others are read as text."""
    rows = [split(line, form.delimiter) for line in body[:100_000].split("\n")[:_SAMPLE_LINES]]
    rows = [row for row in rows[:-1] or rows if len(row) == len(form.headings)]
    return frozenset(
        n for n in range(len(form.headings))
        if rows and all(is_plain(row[n], form.decimal) for row in rows))


def _parse(body: str, form: TextForm, figures: frozenset[int], ragged: list[str]) -> pa.Table:
    names = [str(n) for n in range(len(form.headings))]

    def keep_aside(row: pa_csv.InvalidRow) -> str:
        ragged.append(row.text or "")
        return "skip"

    return pa_csv.read_csv(
        pa.BufferReader(body.encode()),
        read_options=pa_csv.ReadOptions(column_names=names),
        parse_options=pa_csv.ParseOptions(
            delimiter=form.delimiter, newlines_in_values=False, invalid_row_handler=keep_aside),
        convert_options=pa_csv.ConvertOptions(
            column_types={name: pa.float64() if n in figures else pa.string()
                          for n, name in enumerate(names)},
            null_values=MISSING_WORDS, strings_can_be_null=True, decimal_point=form.decimal))


def _describe(form: TextForm) -> tuple[str, ...]:
    encoding = _ENCODINGS.get(form.encoding, form.encoding)
    mark = "comma" if form.decimal == "," else "point"
    lines = f" The figures start on line {form.lines_before + 1}." if form.lines_before > 1 else ""
    return (f"Text in {encoding}, {DELIMITERS[form.delimiter]} between columns, "
            f"decimal {mark}.{lines}",)


def _without_repeated_headings(source: SourceTable, form: TextForm) -> SourceTable:
    """Leave out rows that say the headings again, as joined files do."""
    texts = [n for n, column in enumerate(source.columns)
             if pa.types.is_string(column.type) and form.headings[n]]
    if not texts:
        return source
    same = pc.equal(pc.utf8_trim_whitespace(source.columns[texts[0]]), form.headings[texts[0]])
    for n in texts[1:]:
        same = pc.and_kleene(same, pc.equal(pc.utf8_trim_whitespace(source.columns[n]),
                                            form.headings[n]))
    return source.kept(pc.invert(pc.fill_null(same, False)), "the headings again")


def _judge_ragged(source: SourceTable, ragged: list[str], body: str,
                  form: TextForm) -> SourceTable:
    """Count rows with too few or too many fields; refuse a file that changes its delimiter."""
    if not ragged:
        return source
    width = len(form.headings)
    for other in DELIMITERS:
        if other not in (form.delimiter, " "):
            same = [row for row in ragged if len(split(row, other)) == width]
            if same:
                line = form.lines_before + body[:max(0, body.find(same[0]))].count("\n") + 1
                raise mixed_delimiters(source.where, line, other, form.delimiter)
    if len(ragged) > max(2, _RAGGED_MAX * len(source)):
        widths = Counter(len(split(row, form.delimiter)) for row in ragged).most_common(1)[0]
        line = form.lines_before + body[:max(0, body.find(ragged[0]))].count("\n") + 1
        raise ForeignFileError(
            f"{source.where}, line {line}",
            f"{len(ragged)} rows do not have the {width} columns of the headings "
            f"(most of them {widths[0]})", "mend or leave out those rows")
    reason = f"not {width} columns as the headings have"
    return replace(source, dropped_rows={**source.dropped_rows, reason: len(ragged)})


def unit_in_figures(values: Iterable[str | None]) -> str:
    """The unit written behind every figure of a text column, such as ``23.1 A``."""
    symbols = {re.sub(r"^[+-]?[\d.,' ]+", "", v.strip()) for v in values if v and v.strip()}
    return symbols.pop() if len(symbols) == 1 else ""
