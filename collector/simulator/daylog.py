"""Recordings joined into one log, as a recorder would have left it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Final

import numpy as np
import pyarrow as pa

from ..journal import log_schema
from ..logbook import STEM_FORMAT, Logbook
from ..logfile import write_log
from ..meta import LogMeta
from ..record import in_log_order
from .at_work import Recording
from .cell import Floats
from .display import Columns

#: A recorder calls a link silent after this long without a frame. [s]
SILENT_S: Final = 3.0
#: What the recorder's steady clock says when a log begins. [s]
STEADY_START_S: Final = 25.0


@dataclass(frozen=True, slots=True)
class DayLog:
    """One log of a day, not written yet."""

    kind: str
    start: datetime
    table: pa.Table


def as_log(recordings: Sequence[Recording], clock_step_s: float = 0.0) -> DayLog:
    """Recordings as one log; see ``log_table``."""
    return DayLog(recordings[0].kind, recordings[0].start, log_table(recordings, clock_step_s))


def write_day_log(book: Logbook, meta: LogMeta, log: DayLog) -> Path:
    """A day's log as a finished file of a logbook."""
    path = book.log_path(log.start.strftime(STEM_FORMAT))
    return write_log(path, replace(meta, kind=log.kind), log.table)


@dataclass(frozen=True, slots=True)
class _Piece:
    """Rows in a run, or one row that reports an event."""

    true_s: Floats
    columns: Columns
    #: How far the computer's clock is off. [s]
    clock_off_s: float = 0.0
    event: str | None = None


def log_table(recordings: Sequence[Recording], clock_step_s: float = 0.0) -> pa.Table:
    """The recordings of one day in ``log_schema``, each gap between them told by an event.

    Parameters
    ----------
    clock_step_s
        How far the computer's clock is set in the middle of the last recording; the steady
        clock runs on. [s]
    """
    pieces: list[_Piece] = []
    distance_m = 0.0
    for recording in recordings:
        if pieces:
            silent_s = pieces[-1].true_s[-1:] + SILENT_S
            pieces.append(_Piece(silent_s, {}, event=f"silent: no frame for {SILENT_S:.0f} s"))
        columns = dict(recording.columns)
        if "distance_m" in columns:
            columns["distance_m"] = np.round(columns["distance_m"] + distance_m, 1)
            distance_m = float(columns["distance_m"][-1])
        pieces.append(_Piece(recording.start.timestamp() + recording.elapsed_s, columns))
    if clock_step_s:
        pieces += _stepped(pieces.pop(), clock_step_s)
    names = in_log_order({name for piece in pieces for name in piece.columns})
    return pa.concat_tables([_table(piece, names, pieces[0].true_s[0]) for piece in pieces])


def _stepped(piece: _Piece, step_s: float) -> list[_Piece]:
    middle = len(piece.true_s) // 2
    words = f"clock step: {abs(step_s):.3f} s {'forward' if step_s > 0 else 'back'}"
    return [
        _Piece(piece.true_s[:middle], {k: v[:middle] for k, v in piece.columns.items()}),
        _Piece(piece.true_s[middle:middle + 1], {}, step_s, words),
        _Piece(piece.true_s[middle:], {k: v[middle:] for k, v in piece.columns.items()}, step_s),
    ]


def _table(piece: _Piece, names: list[str], start_s: float) -> pa.Table:
    n, schema = len(piece.true_s), log_schema(names)
    wall_ms = np.round((piece.true_s + piece.clock_off_s) * 1000).astype(np.int64)
    steady_s = np.round(STEADY_START_S + piece.true_s - start_s, 3)
    values = [wall_ms, steady_s, *(piece.columns.get(name) for name in names)]
    arrays = [pa.nulls(n, field.type) if column is None
              else pa.array(column, field.type, from_pandas=True)
              for field, column in zip(schema, values, strict=False)]
    return pa.Table.from_arrays([*arrays, pa.array([piece.event] * n, pa.string())], schema=schema)
