"""Several runs in one table: found where the time starts over, named by the column that changes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
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


@dataclass(frozen=True, slots=True)
class Run:
    """The rows ``first`` to before ``last``, called ``name``; no name where there is one run."""

    first: int
    last: int
    name: str = ""


@dataclass(frozen=True, slots=True)
class Runs:
    """The runs of a table, and the columns that name them."""

    runs: tuple[Run, ...]
    naming: tuple[int, ...] = ()


def find_runs(at_us: Ints, source: SourceTable, labels: Iterable[int], *,
              is_elapsed: bool) -> Runs:
    """Cut a table where its time starts over.

    ``labels`` are the columns that may name runs: those that hold no quantity.

    A run begins where elapsed time starts over. Where a column of the file changes at each such
    row it names the runs, and then every change of it begins one. Clock times that go back are
    a new run only if a column says so; else the clock was set.
    """
    backward = _backward_rows(at_us)
    if not len(backward):
        return Runs((Run(0, len(at_us)),))
    changing = _changing_columns(source, labels)
    starts = _named_starts(source, changing, backward, is_elapsed=is_elapsed)
    if not starts and is_elapsed:
        starts = _restarts(at_us, backward)
    naming = [n for n, changes in changing.items() if starts and set(changes) <= set(starts)]
    spans = list(pairwise([0, *starts, len(at_us)]))
    names = [_name(source, naming, first) or f"run {k}" for k, (first, _) in enumerate(spans, 1)]
    return Runs(tuple(Run(first, last, name if starts else "")
                      for (first, last), name in zip(spans, names, strict=True)), tuple(naming))


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


def _changing_columns(source: SourceTable, labels: Iterable[int]) -> dict[int, list[int]]:
    """The rows where each column that may name runs has a new value; only those that have."""
    changing = {}
    for number in labels:
        column = source.columns[number]
        if not pa.types.is_temporal(column.type) and not column.null_count:
            changes = _changes(column)
            if len(changes):
                changing[number] = changes.tolist()
    return changing


def _named_starts(source: SourceTable, changing: dict[int, list[int]], backward: Ints, *,
                  is_elapsed: bool) -> list[int]:
    """Changes of the column that changes wherever time goes back, and most rarely elsewhere."""
    fitting = []
    for number, changes in changing.items():
        is_run = bool(_RUN_WORDS & set(source.headings[number].words))
        rare = is_elapsed and len(changes) <= _OFTEN * len(backward)
        if (is_run or rare) and np.isin(backward, changes).all():
            fitting.append(changes)
    return min(fitting, key=len, default=[])


#: A column that changes more often than this for each step back does not name runs, unless it
#: is called after them.
_OFTEN: Final = 10
_RUN_WORDS: Final = frozenset(("trip", "drive", "ride", "run", "cycle", "test", "session",
                               "segment", "lap", "fahrt", "trajet"))


def _changes(column: pa.Array) -> Ints:
    differs = pc.not_equal(column[1:], column[:-1]).to_numpy(zero_copy_only=False)
    rows: Ints = np.flatnonzero(differs) + 1
    return rows


def _name(source: SourceTable, naming: list[int], row: int) -> str:
    return ", ".join(f"{source.headings[n].text}={_shown(source.columns[n][row])}"
                     for n in naming[:3])


def _shown(value: pa.Scalar) -> str:
    plain = value.as_py()
    return f"{plain:g}" if isinstance(plain, float) else str(plain)
