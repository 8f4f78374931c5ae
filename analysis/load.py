"""From a file to telemetry: packhand's own logs, and tables from elsewhere.

Amps come with the sign that the file has; ``sign.find_sign`` and ``sign.apply_sign`` bring them
into packhand's.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from collector.errors import ForeignFileError, LogbookError, LogFormatError
from collector.journal import LEADING, TRAILING
from collector.logfile import is_log, read_log
from collector.record import quantity_of

from .one_log.correction import corrected
from .place.layer import LAYER_COLUMNS, with_place, with_place_in_every_row
from .telemetry import Event, Floats, Telemetry
from .timebase import MendedTime, mend_time

if TYPE_CHECKING:
    from collector.importing import Foreign
    from collector.meta import LogMeta


def load_telemetry(path: Path, columns: Iterable[str] | None = None) -> Telemetry:
    """One log as telemetry, its time cleaned; amps in the file's own sign.

    Takes a packhand log (Parquet, or a journal that may still be growing) or any table that
    ``packhand import`` reads. The corrections of the logbook and a track that was laid beside the
    log are laid over it.

    Parameters
    ----------
    columns
        Quantity columns to read; all by default. Fewer are quicker.

    Raises
    ------
    LogFormatError, ForeignFileError
        If the file cannot be read as a log, or holds no samples.
    FileNotFoundError
        If there is no such file.
    """
    _keep_freed_memory()
    if is_log(path):
        asked = None if columns is None else tuple(columns)
        log = read_log(path, asked)
        telemetry = telemetry_from_table(
            log.table, log.meta.as_json() | _layers(path, log.meta), str(path))
        if log.meta.origin.get("beside"):
            telemetry = with_place_in_every_row(telemetry)
        return _with_track(telemetry, path, LAYER_COLUMNS if asked is None else asked)
    if not path.exists():
        raise FileNotFoundError(2, "no such file", str(path))
    if path.is_dir():
        raise ForeignFileError(str(path), "a folder", "name one of the logs in it")
    from collector.importing import ImportOptions, read_foreign

    foreign = read_foreign(path, ImportOptions())
    table: pa.Table = foreign.table
    if columns is not None:
        wanted = {*LEADING, *TRAILING, *columns}
        table = table.select([name for name in table.column_names if name in wanted])
    return telemetry_from_table(table, _meta_of(foreign), str(path))


def _keep_freed_memory() -> None:
    """Let new arrays lie where old ones lay.

    The GNU C library hands a large array's memory back to the system, which empties each page of
    it again for the next array: a quarter of the time of a season. It no longer does for arrays
    smaller than the largest that was ever freed, up to 32 MB (mallopt(3), M_MMAP_THRESHOLD).
    Elsewhere nothing comes of it.
    """
    np.empty(31 << 20, dtype=np.uint8)


def _meta_of(foreign: Foreign) -> dict[str, Any]:
    """What a table from elsewhere says about itself, with the keys of a log's metadata.

    ``doubts`` are what it leaves open: question, what was taken, the option of
    ``packhand import`` that decides it, and whether figures could be wrong by months or scale.
    """
    meta: dict[str, Any] = {"origin": {"file": foreign.path.name}, "time_zone": foreign.time_zone}
    if foreign.sign:
        meta["sign"] = dict(foreign.sign)
    if foreign.doubts:
        meta["doubts"] = [doubt.as_json() for doubt in foreign.doubts]
    return meta


def _layers(path: Path, meta: LogMeta) -> dict[str, Any]:
    """What the logbook that a log lies in adds: its corrections, which rule over the log's own
    copy, and what the vehicle is."""
    from collector.corrections import layers_of
    from collector.logbook import Logbook
    from collector.logbook_figures import vehicle_kind_of

    book = Logbook(path.absolute().parent.parent)
    if book.logs_folder != path.absolute().parent:
        return {}
    found: dict[str, Any] = {}
    with suppress(LogbookError):  # who asks the logbook itself is told
        found["vehicle_kind"] = vehicle_kind_of(book.config(), meta.vehicle)
    if book.corrections_path.exists():
        found["corrections"] = list(layers_of(book.corrections_path, meta.pack))
    return found


def _with_track(telemetry: Telemetry, path: Path, wanted: tuple[str, ...]) -> Telemetry:
    """The log with the track that 'packhand import --join' laid beside it, if there is one."""
    from collector.logbook import Logbook

    layer = Logbook(path.absolute().parent.parent).place_path(path.stem)
    if not set(wanted) & set(LAYER_COLUMNS) or layer == path.absolute() or not layer.exists():
        return telemetry
    track = telemetry_from_table(read_log(layer).table, {}, str(layer))
    return with_place(telemetry, track, wanted)


def telemetry_from_table(table: pa.Table, meta: dict[str, Any], where: str) -> Telemetry:
    """Telemetry from an Arrow table in ``collector.journal.log_schema``.

    Rows that report an event become events; text columns are left out. What was mended about
    the time is told in ``meta["time"]`` and, for clock steps, in the events. The corrections in
    ``meta["corrections"]`` are laid over the figures.

    Raises
    ------
    LogFormatError
        If the table holds no samples.
    """
    is_event = _event_mask(table)
    samples = table if is_event is None else table.filter(pc.invert(is_event))
    if not samples.num_rows:
        raise LogFormatError(where, "no samples", "the log was closed before anything was heard")
    mended = mend_time(_wall_s(samples), _floats(samples["monotonic_s"]))
    if not len(mended.elapsed_s):
        raise LogFormatError(where, "no row has a time", "look at its time column")
    events = [] if is_event is None else _events(table, is_event, samples, mended)
    events += [Event(step.elapsed_s, "clock step", f"set by {step.step_s:+.1f} s")
               for step in mended.clock_steps]
    raw = Telemetry(
        start=datetime.fromtimestamp(0, UTC) + timedelta(seconds=mended.start_s),
        elapsed_s=mended.elapsed_s,
        columns=_quantities(samples, mended),
        events=tuple(sorted(events, key=lambda e: e.elapsed_s)),
        meta=meta | ({"time": mended.as_json()} if mended.as_json() else {}),
    )
    return corrected(raw, meta.get("corrections", ()))


def _event_mask(table: pa.Table) -> pa.ChunkedArray | None:
    if "event" not in table.column_names or table["event"].null_count == table.num_rows:
        return None
    is_worded = pc.cast(pc.binary_length(table["event"]), pa.bool_())
    return pc.and_kleene(pc.is_valid(table["event"]), is_worded)


def _events(table: pa.Table, mask: pa.ChunkedArray, samples: pa.Table,
            mended: MendedTime) -> list[Event]:
    """Events on the mended axis: by the steady clock where it can, always between their rows."""
    is_event = _flags(mask)
    rows = np.flatnonzero(is_event)
    before = rows - np.arange(len(rows))  # samples written before each event
    kept = np.arange(samples.num_rows) if mended.rows is None else mended.rows
    place = np.searchsorted(np.sort(kept), before)
    low = mended.elapsed_s[np.clip(place - 1, 0, None)]
    high = mended.elapsed_s[np.clip(place, None, len(kept) - 1)]
    steady = _floats(table["monotonic_s"])
    told = steady[rows] - steady[~is_event][kept[0]]
    at = np.clip(np.where(np.isfinite(told), told, low), low, high)
    words = table["event"].filter(mask).to_pylist()
    pairs = (str(text).partition(": ") for text in words)
    return [Event(float(s), kind, rest) for s, (kind, _, rest) in zip(at, pairs, strict=True)]


def _quantities(samples: pa.Table, mended: MendedTime) -> dict[str, Floats]:
    names = [name for name in samples.column_names
             if name not in (*LEADING, *TRAILING) and not quantity_of(name).is_text]
    columns = {name: _floats(samples[name]) for name in names}
    if mended.rows is None:
        return columns
    return {name: values[mended.rows] for name, values in columns.items()}


def _wall_s(table: pa.Table) -> Floats:
    return np.asarray(_floats(pc.cast(table["time"], pa.int64())) / 1000.0)


# Columns go to NumPy by DLPack, and no Arrow value is made of a Python one: either would load
# pandas, which takes longer than most logs.

def _floats(column: pa.ChunkedArray) -> Floats:
    """A column as floats, missing as NaN; without a copy where Arrow allows it."""
    whole = column.chunk(0) if column.num_chunks == 1 else column.combine_chunks()
    if not whole.null_count:
        return np.asarray(np.from_dlpack(whole), dtype=np.float64)
    held = pa.Array.from_buffers(whole.type, len(whole), [None, whole.buffers()[1]],
                                 offset=whole.offset)
    return np.where(_flags(whole.is_valid()), np.from_dlpack(held), np.nan)


def _flags(column: pa.Array | pa.ChunkedArray) -> NDArray[np.bool_]:
    numbers = pc.cast(column, pa.int8())
    if isinstance(numbers, pa.ChunkedArray):
        numbers = numbers.combine_chunks()
    return np.asarray(np.from_dlpack(numbers), dtype=bool)
