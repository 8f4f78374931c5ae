"""From a path to a log: the steps in their order."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from ..errors import ForeignFileError
from ..journal import log_schema
from ..record import in_log_order
from .columns import Assignment, assign, known_headings
from .dates import NOT_A_TIME, Ints
from .foreign import Doubt, Dropped, Foreign, ImportOptions
from .moments import Moments, find_moments
from .quantities import Figures, read_figures
from .runs import Run, find_runs
from .source_table import SourceTable, read_source

#: Headings of a file -> what a person said about such a file.
Recall = Callable[[tuple[str, ...]], ImportOptions]

#: Of these a log must have at least one.
_ENOUGH: Final = ("current_a", "voltage_v", "soc_pct", "speed_m_s", "power_w", "latitude_deg")


@dataclass(frozen=True, slots=True)
class _Understood:
    """A whole file, before it is cut into runs."""

    source: SourceTable
    assignment: Assignment
    moments: Moments
    figures: Figures
    at_us: Ints


def read_foreign(path: Path, options: ImportOptions, recall: Recall | None = None) -> Foreign:
    """Read a table from elsewhere that holds one run; ``recall`` as in ``read_runs``.

    Raises
    ------
    ForeignFileError
        If the file is not a table with a time and something a pack has, or holds several runs.
    FileNotFoundError
        If there is no such file.
    """
    runs = read_runs(path, options, recall)
    if len(runs) > 1:
        raise ForeignFileError(
            str(path), f"{len(runs)} runs one below the other, {runs[0].run} to {runs[-1].run}",
            "'packhand import' makes a log of each; --where HEADING=VALUE there takes one")
    return runs[0]


def read_runs(path: Path, options: ImportOptions,
              recall: Recall | None = None) -> list[Foreign]:
    """Read a table from elsewhere, one log for each run in it.

    ``recall`` may put other options in the place of ``options`` once the headings are known.

    Runs whose times count from zero each are laid one behind the other in the order of the
    file, one second apart, for the file does not say when each was.

    Raises
    ------
    ForeignFileError
        If the file is not a table with a time and something a pack has.
    FileNotFoundError
        If there is no such file.
    """
    data = path.read_bytes()
    source = read_source(data, str(path), options.decimal)
    headings = tuple(heading.text for heading in source.headings)
    if recall is not None:
        options = recall(headings)
        if options.decimal not in (None, source.decimal):
            source = read_source(data, str(path), options.decimal)
    source = _selected(source, options)
    understood = _understand(source, options, path)
    labels = [n for n in understood.assignment.unused if source.headings[n].text]
    cut = find_runs(understood.at_us, understood.source, labels,
                    is_elapsed=understood.moments.is_elapsed)
    understood.assignment.unused.update(dict.fromkeys(cut.naming, "it names the runs"))
    whole = replace(_whole(path, hashlib.sha256(data).hexdigest(), understood, options),
                    headings=headings)
    if len(cut.runs) == 1:
        return [whole]
    return _cut(whole, cut.runs, is_elapsed=understood.moments.is_elapsed)


def _selected(source: SourceTable, options: ImportOptions) -> SourceTable:
    """Only the rows that ``--where`` asks for."""
    for heading, wanted in options.where.items():
        number = source.find(heading)
        if number is None:
            raise ForeignFileError(source.where, f"no column {heading!r}", known_headings(source))
        column = source.columns[number]
        if pa.types.is_floating(column.type):
            try:
                mask = pc.equal(column, float(wanted))
            except ValueError:
                mask = pa.repeat(pa.scalar(False), len(column))
        else:
            mask = pc.equal(pc.utf8_trim_whitespace(column.cast(pa.string())), wanted)
        source = source.kept(mask.fill_null(False), f"{heading} is not {wanted}")
        if not len(source):
            raise ForeignFileError(source.where, f"no row where {heading} is {wanted}",
                                   "look into the file for the values it holds")
    return source


def _understand(source: SourceTable, options: ImportOptions, path: Path) -> _Understood:
    if not len(source):
        raise ForeignFileError(source.where, "a table without rows",
                               "choose the file with the figures")
    assignment = assign(source, options)
    moments = _choose_moments(source, assignment, options, path)
    there = moments.at_us != NOT_A_TIME
    source = source.kept(pa.array(there), moments.no_time_reason)
    figures = read_figures(source, assignment, moments.at_us[there])
    if not any(name in _ENOUGH or name.startswith("cell_") for name in figures.columns):
        raise ForeignFileError(
            source.where, f"no amps, volts, percent, speed or place; {known_headings(source)}",
            "name one with --map current_a='HEADING:unit'")
    return _Understood(source, assignment, moments, figures, moments.at_us[there])


def _choose_moments(source: SourceTable, assignment: Assignment, options: ImportOptions,
                    path: Path) -> Moments:
    """The likeliest column that holds times; one with dates goes before one from zero."""
    changed = datetime.fromtimestamp(path.stat().st_mtime, UTC)
    date = assignment.chosen.pop("date", None)
    best: Moments | None = None
    for choice in assignment.times:
        beside = date.number if date and date.number != choice.number else None
        heading = replace(source.headings[choice.number], symbol=choice.symbol)
        moments = find_moments(source, choice.number, heading, beside, options, changed)
        if moments is not None and (best is None or best.is_elapsed > moments.is_elapsed):
            best = moments
    if best is None or not (best.at_us != NOT_A_TIME).any():
        raise ForeignFileError(
            source.where, f"no column that tells the time; {known_headings(source)}",
            "name it with --map time='HEADING'")
    for choice in assignment.times:
        if source.headings[choice.number].text not in best.mapped.source:
            assignment.unused[choice.number] = f"time is taken from {best.mapped.source!r}"
    return best


def _whole(path: Path, sha256: str, found: _Understood, options: ImportOptions) -> Foreign:
    source, moments, figures = found.source, found.moments, found.figures
    doubts = [*moments.doubts, *figures.doubts]
    doubts += [Doubt("column", f"Both {chosen!r} and {other!r} could be {name}.", repr(chosen),
                     f"--map {name}=HEADING") for name, chosen, other in found.assignment.rivals]
    if source.decimal_doubt:
        taken = "a decimal comma" if source.decimal == "," else "a decimal point"
        doubts.append(Doubt("decimal mark", f"In {source.decimal_doubt!r} the comma may set off "
                            "thousands or decimals.", taken, "--decimal", (",", "."), True))
    unused = {source.headings[n].text or f"column {n + 1}": reason
              for n, reason in sorted(found.assignment.unused.items())}
    dropped = Dropped(unused, dict(source.dropped_rows), figures.missing)
    run = ", ".join(f"{heading}={value}" for heading, value in options.where.items())
    mapping = {"time": moments.mapped} | {
        name: figures.mapping[name] for name in in_log_order(set(figures.columns))}
    table = _table(figures.columns, found.at_us, has_steady_count=moments.is_elapsed)
    return Foreign(path, sha256, table, mapping, dropped, tuple(doubts), figures.sign,
                   options.zone or "UTC", run, words=(*source.words, *moments.words))


def _table(columns: dict[str, pa.Array], at_us: Ints, *, has_steady_count: bool) -> pa.Table:
    """Columns in ``log_schema``.

    Only times that the file counted from zero are a steady clock; times of a wall clock leave
    it missing, so that the analysis looks for a clock that was set.
    """
    schema = log_schema(in_log_order(set(columns)))
    steady = pa.array((at_us - at_us[0]) / 1e6) if has_steady_count \
        else pa.nulls(len(at_us), pa.float64())
    arrays = {"time": pa.array(at_us // 1000, pa.timestamp("ms", "UTC")), "monotonic_s": steady,
              "event": pa.nulls(len(at_us), pa.string()), **columns}
    return pa.table([arrays[name] for name in schema.names], schema=schema)


def _cut(whole: Foreign, runs: tuple[Run, ...], *, is_elapsed: bool) -> list[Foreign]:
    """The runs of a file; those that count from zero laid one behind the other."""
    out: list[Foreign] = []
    next_ms: int | None = None
    for run in runs:
        table = whole.table.slice(run.first, run.last - run.first)
        if is_elapsed:
            table = _moved(table, next_ms)
            next_ms = int(table["time"].cast(pa.int64())[-1].as_py()) + 1000
        out.append(replace(whole, table=table, run=run.name))
    return out


def _moved(table: pa.Table, start_ms: int | None) -> pa.Table:
    """A run that begins at ``start_ms``, its steady clock at 0."""
    times = table["time"].cast(pa.int64()).to_numpy()
    shift = 0 if start_ms is None else start_ms - int(times[0])
    steady = table["monotonic_s"].to_numpy()
    moved = {"time": pa.array(times + shift, pa.timestamp("ms", "UTC")),
             "monotonic_s": pa.array(np.round(steady - steady[0], 6))}
    for place, (name, column) in enumerate(moved.items()):
        table = table.set_column(place, name, column)
    return table
