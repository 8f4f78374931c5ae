"""The log on disk: a text journal while recording, verified Parquet for good.

``read_log`` opens either form. ``finish_log`` turns a journal into Parquet: written beside it
under another name, forced to disk, read back, compared, and only then put in the journal's
place. ``recover_log`` does the same for a journal that a crash, a power cut or a full disk left
behind, and writes into the metadata what was torn. Both go piece by piece: a log of a season takes
no more memory than one of a drive.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict, dataclass, field, replace
from itertools import zip_longest
from pathlib import Path
from typing import Any, BinaryIO, Final

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from .appendfile import sync_folder
from .errors import LogFormatError
from .journal import LEADING, TRAILING, Damage, log_schema
from .journal_file import JournalFile
from .meta import LogMeta

JOURNAL_SUFFIX: Final = ".csv"
PARQUET_SUFFIX: Final = ".parquet"
_META_KEY: Final = b"packhand"
#: Rows of a row group of a log that is written at once, a day of ten a second.
_GROUP_ROWS: Final = 1 << 20
#: Columns that rise with every row hold no value twice, so a dictionary of values is no use to
#: them; packed so, a log of one row a second takes two thirds of the room.
_RISING: Final = {"time": "DELTA_BINARY_PACKED", "monotonic_s": "BYTE_STREAM_SPLIT",
                  "sequence": "BYTE_STREAM_SPLIT", "distance_m": "BYTE_STREAM_SPLIT"}


@dataclass(frozen=True, slots=True)
class Log:
    """One log as it lies on disk, raw: amps carry the monitor's own sign."""

    path: Path
    meta: LogMeta
    #: Columns ``time`` [ms, UTC], ``monotonic_s``, quantities, ``event``; missing is null.
    table: pa.Table
    #: What a journal lost, if anything.
    damage: Damage = field(default_factory=Damage)

    @property
    def columns(self) -> tuple[str, ...]:
        """The quantity columns."""
        return tuple(c for c in self.table.column_names if c not in (*LEADING, *TRAILING))


def read_log(path: Path, columns: Iterable[str] | None = None) -> Log:
    """Open a journal or a Parquet log, by its content's form.

    Parameters
    ----------
    columns
        Quantity columns to read; those the log lacks are left out. All by default. A Parquet log
        reads only these from disk.

    Raises
    ------
    LogFormatError
        If the file is not a packhand log or is cut off where it cannot be read.
    FileNotFoundError
        If there is no such file.
    """
    if path.suffix == JOURNAL_SUFFIX:
        return _read_journal(path, columns)
    return _read_parquet(path, columns)


def is_log(path: Path) -> bool:
    """Whether a file is a packhand log, rather than a table from elsewhere."""
    try:
        if path.suffix == PARQUET_SUFFIX:
            return _META_KEY in (pq.read_schema(path).metadata or {})
        with path.open("rb") as file:
            return path.suffix == JOURNAL_SUFFIX and file.read(9) == b"# format:"
    except (OSError, pa.ArrowInvalid):
        return False


def _read_journal(path: Path, columns: Iterable[str] | None) -> Log:
    journal = JournalFile.open(path)
    schema = log_schema(journal.columns)
    names = schema.names if columns is None else _wanted(schema.names, columns)
    tables = [schema.empty_table().select(names), *(t.select(names) for t in journal.tables())]
    return Log(path, journal.meta, pa.concat_tables(tables), journal.damage)


def _read_parquet(path: Path, columns: Iterable[str] | None) -> Log:
    try:
        with pq.ParquetFile(path, memory_map=True, page_checksum_verification=True) as file:
            schema = file.schema_arrow
            meta = _stored_meta(schema, path)
            _check_columns(schema, path)
            names = None if columns is None else _wanted(schema.names, columns)
            table = file.read(columns=names)
    except FileNotFoundError:
        raise
    except (pa.ArrowInvalid, OSError) as error:
        raise _unreadable(path, error) from error
    return Log(path, meta, table.replace_schema_metadata(None))


def _stored_meta(schema: pa.Schema, path: Path) -> LogMeta:
    stored = (schema.metadata or {}).get(_META_KEY)
    if stored is None:
        raise LogFormatError(str(path), "a Parquet file without packhand's metadata",
                             "bring it in with 'packhand import'")
    try:
        data = json.loads(stored)
    except ValueError as error:
        raise _unreadable(path, error) from error
    return LogMeta.from_json(data, str(path))


def _check_columns(schema: pa.Schema, path: Path) -> None:
    """Refuse what a damaged footer makes of a column; Parquet guards its pages, not its footer."""
    try:
        expected = log_schema(name for name in schema.names if name not in (*LEADING, *TRAILING))
    except KeyError as error:
        raise LogFormatError(str(path), f"unknown column {error}",
                             "a newer packhand may read it") from None
    if schema.remove_metadata() != expected:
        raise LogFormatError(str(path), "columns of another type than a log has",
                             "it is damaged; the .raw file beside it may still hold it")


def _unreadable(path: Path, error: Exception) -> LogFormatError:
    return LogFormatError(
        str(path),
        f"not a readable Parquet file of {path.stat().st_size} bytes ({first_line(error)})",
        "it is cut off or damaged; the journal or the .raw file beside it may still hold it")


def _wanted(names: list[str], columns: Iterable[str]) -> list[str]:
    keep = {*LEADING, *TRAILING, *columns}
    return [name for name in names if name in keep]


def first_line(error: Exception) -> str:
    """The first line of an error's text, for one-line messages."""
    return str(error).partition("\n")[0]


def read_meta(path: Path) -> LogMeta:
    """The metadata alone, without reading the figures; errors as in ``read_log``."""
    if path.suffix == JOURNAL_SUFFIX:
        return JournalFile.open(path).meta
    try:
        return _stored_meta(pq.read_schema(path), path)
    except pa.ArrowInvalid as error:
        raise _unreadable(path, error) from error


def last_moment(path: Path) -> tuple[int, float] | None:
    """Unix time [ms] and steady clock [s] of a Parquet log's last row, ``None`` without rows."""
    with pq.ParquetFile(path) as file:
        if not file.num_row_groups:
            return None
        last = file.read_row_group(file.num_row_groups - 1, list(LEADING))
    return last["time"].cast(pa.int64())[-1].as_py(), last["monotonic_s"][-1].as_py()


def write_log(path: Path, meta: LogMeta, table: pa.Table) -> Path:
    """Write a whole log as Parquet at once, verified, replacing nothing.

    For logs that were not recorded here: imported or simulated ones. NaN becomes null.

    Raises
    ------
    ValueError
        If the table is not in ``log_schema``.
    FileExistsError
        If the path is taken.
    LogFormatError
        If what was written reads back different (a failing disk).
    """
    quantities = [c for c in table.column_names if c not in (*LEADING, *TRAILING)]
    if table.schema.remove_metadata() != log_schema(quantities):
        raise ValueError(f"not in log_schema: {table.schema}")
    if path.exists():
        raise FileExistsError(path)
    table = _nan_to_null(table)
    _write_verified(path, meta, table.schema, lambda: (
        table.slice(at, _GROUP_ROWS) for at in range(0, table.num_rows, _GROUP_ROWS)))
    return path


def _nan_to_null(table: pa.Table) -> pa.Table:
    for place, column in enumerate(table.columns):
        if pa.types.is_floating(column.type) and pc.any(pc.is_nan(column)).as_py():
            filled = pc.if_else(pc.is_nan(column), pa.scalar(None, column.type), column)
            table = table.set_column(place, table.schema.field(place), filled)
    return table


def _write_verified(path: Path, meta: LogMeta, schema: pa.Schema,
                    pieces: Callable[[], Iterator[pa.Table]]) -> None:
    """Write what ``pieces`` gives, a row group each, and compare it with what it gives again."""
    part = path.with_suffix(PARQUET_SUFFIX + ".part")
    stored = json.dumps(meta.as_json(), ensure_ascii=False, allow_nan=False)
    try:
        with part.open("wb") as file:
            _write_groups(file, schema.with_metadata({_META_KEY: stored}), pieces())
            file.flush()
            os.fsync(file.fileno())
        if not _reads_back(part, json.loads(stored), pieces()):
            raise LogFormatError(str(part), "it reads back different from what was written",
                                 "the disk may be failing; the journal is kept")
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
    sync_folder(path.parent)


def _write_groups(file: BinaryIO, schema: pa.Schema, pieces: Iterator[pa.Table]) -> None:
    rising = {name: way for name, way in _RISING.items() if name in schema.names}
    with pq.ParquetWriter(file, schema, compression="zstd", write_page_checksum=True,
                          column_encoding=rising,
                          use_dictionary=[n for n in schema.names if n not in rising]) as writer:
        for piece in pieces:
            writer.write_table(piece, row_group_size=len(piece))


def _reads_back(part: Path, meta: dict[str, Any], pieces: Iterator[pa.Table]) -> bool:
    """Whether the file holds this metadata and, group by group, these rows."""
    try:
        with pq.ParquetFile(part, page_checksum_verification=True) as file:
            _check_columns(file.schema_arrow, part)
            groups = (file.read_row_group(n).replace_schema_metadata(None)
                      for n in range(file.num_row_groups))
            return (_stored_meta(file.schema_arrow, part).as_json() == meta
                    and all(written is not None and written.equals(piece)
                            for written, piece in zip_longest(groups, pieces)))
    except (pa.ArrowInvalid, OSError) as error:
        raise _unreadable(part, error) from error


def finish_log(journal: Path) -> Path:
    """Turn a closed journal into verified Parquet and remove the journal.

    Returns the Parquet path. If anything fails the journal stays as it was.

    Raises
    ------
    LogFormatError
        If the journal's header is damaged, or the Parquet file reads back different.
    OSError
        If the disk is full or fails.
    """
    found = JournalFile.open(journal)
    return _seal(found, _recovered(found) if found.damage else found.meta)


def recover_log(journal: Path) -> tuple[Path, Damage]:
    """Bring back a log whose recorder was killed; raises as ``finish_log``.

    Everything up to the torn tail is kept; what was torn is returned and written into the
    metadata.
    """
    found = JournalFile.open(journal)
    return _seal(found, _recovered(found)), found.damage


def is_unbegun(journal: Path) -> bool:
    """Whether its recorder was cut off before the header was whole, so that no row can be in it."""
    with journal.open("rb") as file:
        begins = file.read(9)
        file.seek(0)
        return b"# format:".startswith(begins) and all(
            line.startswith(b"#") or not line.endswith(b"\n") for line in file)


def _recovered(journal: JournalFile) -> LogMeta:
    return replace(journal.meta, recovered={"rows": journal.rows} | asdict(journal.damage))


def _seal(journal: JournalFile, meta: LogMeta) -> Path:
    parquet = journal.path.with_suffix(PARQUET_SUFFIX)
    _write_verified(parquet, meta, log_schema(journal.columns), journal.tables)
    journal.path.unlink()
    sync_folder(journal.path.parent)
    return parquet


def empty_table(columns: Iterable[str]) -> pa.Table:
    """A log table without rows."""
    return log_schema(columns).empty_table()
