"""Several runs in one table: found where the time starts over, named by the column that changes."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from typing import Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from .dates import NOT_A_TIME, Ints
from .source_table import SourceTable

#: A step back to within this share of the run's length from its start is a new start. Chosen
#: here: a clock that jitters goes back by seconds, a new run goes back to its beginning.
_NEAR_START: Final = 0.1


def find_runs(at_us: Ints, source: SourceTable, labels: Iterable[int], *,
              is_elapsed: bool) -> list[tuple[int, int, str]]:
    """First row, row behind the last, and name of each run.

    ``labels`` are the columns that may name runs: those that hold no quantity.

    A run begins where elapsed time starts over. Where a column of the file changes at each such
    row it names the runs, and then every change of it begins one. Clock times that go back are
    a new run only if a column says so; else the clock was set.
    """
    backward = _backward_rows(at_us)
    if not len(backward):
        return [(0, len(at_us), "")]
    found = _naming_column(source, labels, backward)
    if found is not None:
        number, starts = found
        column, heading = source.columns[number], source.headings[number].text
        return [(first, last, f"{heading}={_shown(column[first])}")
                for first, last in _spans(starts, len(at_us))]
    starts = _restarts(at_us, backward) if is_elapsed else []
    spans = _spans(starts, len(at_us))
    names = [f"run {n}" for n in range(1, len(spans) + 1)] if len(spans) > 1 else [""]
    return [(first, last, name) for (first, last), name in zip(spans, names, strict=True)]


def _backward_rows(at_us: Ints) -> Ints:
    """Rows whose time lies before that of the row above."""
    there = np.flatnonzero(at_us != NOT_A_TIME)
    rows: Ints = there[1:][np.diff(at_us[there]) < 0]
    return rows


def _restarts(at_us: Ints, backward: Ints) -> list[int]:
    starts, first = [], 0
    for row in backward:
        length = at_us[row - 1] - at_us[first]
        if abs(at_us[row] - at_us[first]) <= _NEAR_START * length:
            starts.append(int(row))
            first = int(row)
    return starts


def _spans(starts: list[int], rows: int) -> list[tuple[int, int]]:
    edges = [0, *starts, rows]
    return list(pairwise(edges))


def _naming_column(source: SourceTable, labels: Iterable[int],
                   backward: Ints) -> tuple[int, list[int]] | None:
    """The column that changes wherever time goes back, and most rarely elsewhere."""
    best: tuple[int, list[int]] | None = None
    for number in labels:
        column = source.columns[number]
        if pa.types.is_temporal(column.type) or column.null_count:
            continue
        changes = _changes(column)
        if np.isin(backward, changes).all() and (best is None or len(changes) < len(best[1])):
            best = number, [int(row) for row in changes]
    return best if best and len(best[1]) <= _OFTEN * len(backward) else None


#: A column that changes more often than this for each step back does not name runs.
_OFTEN: Final = 10


def _changes(column: pa.Array) -> Ints:
    differs = pc.not_equal(column[1:], column[:-1]).to_numpy(zero_copy_only=False)
    rows: Ints = np.flatnonzero(differs) + 1
    return rows


def _shown(value: pa.Scalar) -> str:
    plain = value.as_py()
    return f"{plain:g}" if isinstance(plain, float) else str(plain)
