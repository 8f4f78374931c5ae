"""Laying a track beside a log: ``packhand import TRACK --join LOG``.

The track becomes a layer, ``places/STEM.parquet`` in the logbook, by the clock of the log. The log
itself is not touched; whatever loads it sees the places, and 'packhand import --undo' takes them
away again.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa

from collector.errors import ForeignFileError, LogbookError
from collector.import_history import Answers, Batch, ImportHistory
from collector.importing import ImportOptions, read_foreign
from collector.logbook import Logbook
from collector.logfile import is_log, write_log
from collector.meta import LogMeta, software

from ..estimate import Answer, Estimate, NoEstimate
from ..load import load_telemetry, telemetry_from_table
from ..place.clock_offset import clock_offset_s
from ..place.layer import LAYER_COLUMNS, with_place
from ..place.track import PLACE, way_m
from .import_undo import touch_log

if TYPE_CHECKING:
    from collector.importing import Foreign

    from ..telemetry import Telemetry


def join(arguments: argparse.Namespace) -> int:
    """Read the track, compare the clocks, write the layer and say how they fit.

    Raises
    ------
    ForeignFileError
        If the file holds no places or speed, the clocks cannot be compared, or the two logs do
        not overlap.
    LogbookError
        If the log is in no logbook, or has a layer already.
    """
    path, log = arguments.files[0], arguments.join
    book = _book_of(log)
    layer = book.place_path(log.stem)
    if layer.exists() and not (arguments.again or arguments.dry_run):
        raise LogbookError(str(layer), "this log has a track beside it already",
                           "--undo takes it away, --again puts this one in its place")
    said = Answers(dict(arguments.map), arguments.dates or "", arguments.zone or "",
                   arguments.decimal or "")
    history = ImportHistory.read(book.root)
    foreign = _read(arguments, path, said, history)
    for doubt in foreign.doubts:
        if doubt.must_ask:
            raise ForeignFileError(str(path), doubt.question,
                                   f"say {doubt.option} {' or '.join(doubt.choices)}")
    track = telemetry_from_table(foreign.table, {}, str(path))
    pack = load_telemetry(log, ("current_a",))
    if not any(column in track for column in (*PLACE, "speed_m_s")):
        raise ForeignFileError(str(path), "neither places nor speed", "choose a track")
    offset = _offset(arguments, pack, track, path)
    moved = replace(track, start=datetime.fromtimestamp(
        track.start.timestamp() + offset.value, UTC))
    joined = with_place(pack, moved)
    share = float(np.mean(np.any([np.isfinite(joined[c]) for c in LAYER_COLUMNS], axis=0)))
    if not share:
        raise ForeignFileError(str(path), f"no moment in common with {log.name}",
                               "look at the clocks, or say how far apart they are with --offset")
    if not arguments.dry_run:
        _write(layer, foreign, offset, log)
        _keep(history, layer.relative_to(book.root), foreign, said)
    _tell(arguments, foreign, offset, way_m(moved), share, layer)
    return 0


def _read(arguments: argparse.Namespace, path: Path, said: Answers,
          history: ImportHistory) -> Foreign:
    """The track, by what was said now, and else by what was said of such tables before."""
    def options(answers: Answers) -> ImportOptions:
        return ImportOptions(
            answers.columns, answers.dates or None, answers.zone or None,  # type: ignore[arg-type]
            arguments.start, answers.decimal or None,  # type: ignore[arg-type]
            dict(arguments.where))

    def recall(headings: tuple[str, ...]) -> ImportOptions:
        known = history.recall(headings)
        return options(said.over(known.answers) if known else said)

    return read_foreign(path, options(said), recall)


def _book_of(log: Path) -> Logbook:
    """The logbook that a log lies in."""
    if not log.exists():
        raise FileNotFoundError(2, "no such file", str(log))
    book = Logbook(log.absolute().parent.parent)
    if log.absolute().parent != book.logs_folder or not is_log(log):
        raise LogbookError(str(log), "not a log of a logbook",
                           "bring it in with 'packhand import' first, then name logs/STEM.parquet")
    return book


def _offset(arguments: argparse.Namespace, pack: Telemetry, track: Telemetry,
            path: Path) -> Estimate:
    if arguments.offset is not None:
        return Estimate.around(arguments.offset, 0.0, "s")
    answer = clock_offset_s(pack, track)
    if isinstance(answer, NoEstimate):
        raise ForeignFileError(str(path), f"its clock cannot be compared: {answer.reason}",
                               answer.next)
    return answer


def _write(layer: Path, foreign: Foreign, offset: Estimate, log: Path) -> None:
    """The layer beside the log."""
    table = foreign.table.select([name for name in foreign.table.column_names if name in (
        "time", "monotonic_s", *LAYER_COLUMNS, "event")])
    moments = table["time"].cast(pa.int64()).to_numpy() + round(offset.value * 1000)
    table = table.set_column(0, "time", pa.array(moments, pa.timestamp("ms", "UTC")))
    origin = {"file": foreign.path.name, "sha256": foreign.sha256, "joined_to": log.name,
              "clock_offset": offset.as_json(),
              "mapping": {name: mapped.as_json() for name, mapped in foreign.mapping.items()}}
    layer.parent.mkdir(exist_ok=True)
    layer.unlink(missing_ok=True)
    write_log(layer, LogMeta(origin=origin, software=software()), table)
    touch_log(log)


def _keep(history: ImportHistory, layer: Path, foreign: Foreign, said: Answers) -> None:
    """Remember what was said about such tables, and what there is to take back."""
    now = datetime.now(UTC).isoformat(timespec="seconds")
    is_new = bool(said) and history.remember(foreign.headings, said, foreign.path.name, now)
    history.batches.append(Batch(
        now, (foreign.path.name,), ((layer.as_posix(), foreign.sha256),),
        (history.remembered[-1].fingerprint,) if is_new else ()))
    history.save()


def _tell(arguments: argparse.Namespace, foreign: Foreign, offset: Estimate, way: Answer,
          share: float, layer: Path) -> None:
    if arguments.json:
        document: dict[str, Any] = {
            "schema": "packhand.import/1", "logs": [], "joined": {
                "file": str(foreign.path), "log": str(arguments.join),
                "layer": None if arguments.dry_run else str(layer),
                "rows": foreign.table.num_rows, "clock_offset_s": offset.as_json(),
                "distance_m": way.as_json(), "samples_with_place": share}}
        print(json.dumps(document, indent=2, ensure_ascii=False))
        return
    found = "as you said" if arguments.offset is not None else "found from stops and amps"
    clock = f"{offset.value:+.1f} s" + (
        f" ± {offset.half_width:.1f} s" if offset.half_width else "")
    print(f"{foreign.path.name}: {foreign.table.num_rows:,} fixes, its clock moved by {clock} "
          f"({found}).")
    if isinstance(way, Estimate):
        print(f"By its places {way.value / 1000:.2f} ± {way.half_width / 1000:.2f} km, zig-zag and "
              "drift while standing left out.")
    else:
        print(f"No distance: {way.reason}.")
    print(f"{100 * share:.0f} % of the log's samples now have a place or a speed -> "
          f"{'not saved (dry run)' if arguments.dry_run else layer}")
