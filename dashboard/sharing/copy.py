"""A copy of some logs for strangers: its files, a text for a forum, and what is in them."""

from __future__ import annotations

import io
import random
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from analysis.drive.summary import DriveSummary, summarise
from analysis.drive.text import drive_sentence
from analysis.limits import Limits
from analysis.load import load_telemetry
from collector.clock import iso_utc
from collector.corrections import layers_of
from collector.errors import LogbookError
from collector.logbook import Logbook
from collector.logfile import Log, read_log, write_log
from collector.meta import LogMeta
from collector.note_kinds import KINDS
from collector.notes import Note, read_notes

from ..papers.bundle import put
from ..quantities import NO_RECORD
from ..shell import INVENTED
from ..wording import capital
from .cleaning import MONITOR_WORDS, NEW_START_MS, PLACE, Choice, cleaned, floats, seconds
from .places import Rule, Track, area_words, away_from, circles, moved_and_turned
from .spreadsheet import as_csv

#: The forms a log can be copied in.
FORMS: Final = (".parquet", ".csv")
#: A note belongs to the logs from so long before their first sample. [ms]
_BEFORE_MS: Final = 2 * 3600 * 1000
#: Distinct words of the monitor that the preview shows.
_WORDS_SHOWN: Final = 12
_STAYS: Final = (
    "names of pack, vehicle and monitor; serial numbers; the monitor's description; ports and "
    "addresses; the bytes as heard; the computer's time zone; words of notes and marks, joints' "
    "names, instruments, pictures; height; counters' starting points")
_NOTE_HEADS: Final = ("time", "kind", "value", "unit", "where", "cell", "current_a", "voltage_v",
                      "soc_pct")


@dataclass(frozen=True, slots=True)
class Shared:
    """What would leave."""

    #: File name -> content: the logs and hand readings.
    files: dict[str, bytes]
    #: One text to paste where help is asked for.
    text: str
    #: What is in the files, line by line.
    leaves: tuple[str, ...]
    #: What stays behind, line by line.
    stays: tuple[str, ...]
    #: Whether anything of a place leaves.
    tells_place: bool = False

    def as_zip(self) -> bytes:
        """All of it in one file that carries no date."""
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w") as archive:
            put(archive, {"about.txt": self.text.encode(), **self.files})
        return out.getvalue()


@dataclass(frozen=True, slots=True)
class _Source:
    """The logs as they lie in the logbook, and how the copy's clock and places are set."""

    book: Logbook
    choice: Choice
    logs: tuple[Log, ...]
    rule: Rule | None = None
    shift_ms: int = 0
    tables: list[tuple[LogMeta, pa.Table]] = field(default_factory=list)


def make_copy(book: Logbook, stems: Sequence[str], choice: Choice,
              form: str = ".parquet", chance: random.Random | None = None) -> Shared:
    """Copy some logs of a logbook; nothing is written.

    Parameters
    ----------
    stems
        Names as the logbook lists them, with or without their ending.
    form
        One of ``FORMS``.
    chance
        Moves the circles around places and turns tracks; the system's own by default.

    Raises
    ------
    LogbookError
        If the logbook has no log of a name, or one is still being recorded.
    LogFormatError
        If a log cannot be read.
    """
    paths = [_path_of(book, stem) for stem in stems]
    logs = tuple(sorted((read_log(path) for path in paths), key=lambda log: log.path.stem))
    source = _Source(book, choice, logs, _rule(logs, choice, chance or random.SystemRandom()),
                     _shift_ms(logs, choice))
    files: dict[str, bytes] = {}
    for number, log in enumerate(logs, start=1):
        layers = layers_of(book.corrections_path, log.meta.pack)
        meta, table = cleaned(log, layers, choice, source.rule, source.shift_ms)
        source.tables.append((meta, table))
        files[f"log-{number}{form}"] = _as_file(meta, table, form)
    notes = list(_notes(source))
    if notes:
        files["readings.csv"] = as_csv(_NOTE_HEADS, notes)
    tells_place = choice.place != "cut" and _has_positions(logs)
    return Shared(files, _text(source), tuple(_leaves(source, files, notes)),
                  tuple(_stays(choice, tells_place=tells_place)), tells_place)


def _path_of(book: Logbook, stem: str) -> Path:
    """The file of a log that the logbook lists; a name is compared, never opened."""
    name = stem.removesuffix(".parquet").removesuffix(".csv")
    entry = book.entry(name)
    if entry is None:
        raise LogbookError(str(book.root), f"no log {stem!r}", "choose one of its logs")
    if entry.is_live:
        raise LogbookError(entry.path.name, "it is being recorded", "share it when it is closed")
    return entry.path


def _rule(logs: Iterable[Log], choice: Choice, chance: random.Random) -> Rule | None:
    if choice.place == "trim":
        return away_from(circles(_tracks(logs), choice.radius_m, chance))
    return moved_and_turned(_tracks(logs), chance) if choice.place == "shape" else None


def _tracks(logs: Iterable[Log]) -> list[Track]:
    return [(seconds(log.table), floats(log.table[PLACE[0]]), floats(log.table[PLACE[1]]))
            for log in logs if all(name in log.columns for name in PLACE)]


def _has_positions(logs: Iterable[Log]) -> bool:
    return any(np.isfinite(latitude).any() for _, latitude, _ in _tracks(logs))


def _shift_ms(logs: Sequence[Log], choice: Choice) -> int:
    if not choice.is_clock_shifted:
        return 0
    starts = [start for log in logs if (start := _first_ms(log.table)) is not None]
    return NEW_START_MS - min(starts, default=NEW_START_MS)


def _first_ms(table: pa.Table) -> int | None:
    return pc.min(pc.cast(table["time"], pa.int64())).as_py()  # type: ignore[no-any-return]


def _last_ms(table: pa.Table) -> int | None:
    return pc.max(pc.cast(table["time"], pa.int64())).as_py()  # type: ignore[no-any-return]


def _as_file(meta: LogMeta, table: pa.Table, form: str) -> bytes:
    if form == ".csv":
        rows = zip(*(_cells(table[name], name) for name in table.column_names), strict=True)
        return as_csv(table.column_names, rows, INVENTED if meta.invented else "")
    with TemporaryDirectory() as folder:
        path = Path(folder) / "copy.parquet"
        return write_log(path, meta, table).read_bytes()


def _cells(column: pa.ChunkedArray, name: str) -> list[str]:
    if name == "time":
        return [iso_utc(ms) if ms is not None else ""
                for ms in pc.cast(column, pa.int64()).to_pylist()]
    return ["" if value is None else value if isinstance(value, str) else
            "" if np.isnan(value) else repr(value).removesuffix(".0")
            for value in column.to_pylist()]


def _notes(source: _Source) -> Iterator[tuple[str, ...]]:
    """Figures read by hand while the logs ran, without any word that somebody typed."""
    known: dict[str, str] = {}
    for note in read_notes(source.book.notes_path).rows:
        kind = KINDS.get(note.kind)
        if kind is None or not kind.is_figure or kind.name == "odometer":
            continue
        if any(_is_beside(note, log) for log in source.logs):
            where = known.setdefault(note.joint, f"place {len(known) + 1}") if note.joint else ""
            row = note.as_row()
            yield (iso_utc(note.time_ms + source.shift_ms), kind.name, row["value"], kind.unit,
                   where, row["cell"], row["current_a"], row["voltage_v"], row["soc_pct"])


def _is_beside(note: Note, log: Log) -> bool:
    first, last = _first_ms(log.table), _last_ms(log.table)
    return (first is not None and last is not None and note.pack in ("", log.meta.pack)
            and first - _BEFORE_MS <= note.time_ms <= last)


def _leaves(source: _Source, files: dict[str, bytes],
            notes: Sequence[tuple[str, ...]]) -> Iterator[str]:
    for (name, data), (_, table) in zip(files.items(), source.tables, strict=False):
        first, last = _first_ms(table), _last_ms(table)
        when = (f"{iso_utc(first)} to {iso_utc(last)}" if first is not None and last is not None
                else "no time")
        yield f"{name}: {table.num_rows} rows, {len(data)} bytes, {when}"
        yield f"    columns: {', '.join(table.column_names)}"
        for column in (*MONITOR_WORDS, "event"):
            if column in table.column_names:
                yield from _words_in(table[column], column)
        if PLACE[0] in table.column_names:
            yield _positions_in(table)
    for row in notes:
        yield f"readings.csv: {' '.join(part for part in row if part)}"
    yield from (f"about.txt: {line}" for line in _text(source).splitlines() if line)


def _words_in(column: pa.ChunkedArray, name: str) -> Iterator[str]:
    told = [word for word in pc.unique(column).to_pylist() if word]
    if told:
        more = f" and {len(told) - _WORDS_SHOWN} more" if len(told) > _WORDS_SHOWN else ""
        yield f"    words in {name}: {', '.join(map(repr, told[:_WORDS_SHOWN]))}{more}"


def _positions_in(table: pa.Table) -> str:
    """How many positions leave, and how far apart they lie."""
    found = [floats(table[name]) for name in PLACE]
    known = np.isfinite(found[0]) & np.isfinite(found[1])
    if not known.any():
        return "    positions: none"
    ends = [f"{values[known].min():.4f} to {values[known].max():.4f}" for values in found]
    return (f"    positions: {known.sum()} of {len(known)} rows, latitude {ends[0]}, longitude "
            f"{ends[1]}")


def _stays(choice: Choice, *, tells_place: bool) -> Iterator[str]:
    yield _STAYS
    yield "every position" if not tells_place else {
        "area": "every position but the rounded one in the text",
        "shape": "where the track lies and which way is north; its shape leaves, and who knows the "
                 "roads can lay it over a map",
        "trim": f"positions within {choice.radius_m:.0f} m or more of places where a log begins, "
                "ends or stays; what is left can still tell where you drive",
    }[choice.place]
    if choice.is_clock_shifted:
        yield "the true date and time"
    if not choice.has_monitor_words:
        yield "the monitor's words for state and fault"


def _text(source: _Source) -> str:
    """For a forum: what pack, what happened, in a few lines. No name, no place, no clock time."""
    lines = [INVENTED] if any(log.meta.invented for log in source.logs) else []
    config = source.book.config().get("pack", [])
    packs = {log.meta.pack for log in source.logs}
    typed = [pack for pack in (config if isinstance(config, list) else [])
             if isinstance(pack, dict) and pack.get("name") in packs]
    lines += [_pack_line(pack) for pack in typed]
    if source.choice.place == "area":
        lines.append(f"Area: {area_words(_tracks(source.logs))}.")
    for number, log in enumerate(source.logs, start=1):
        limits = next((pack.get("limits") for pack in typed
                       if pack.get("name") == log.meta.pack), None)
        raw = load_telemetry(log.path)
        summary = summarise(raw, limits=Limits.typed(limits if isinstance(limits, dict) else {}))
        lines += ["", f"Log {number}: {drive_sentence(summary)}", *_log_lines(summary)]
    lines += ["", "Amps, volts and percent are in the file. Made with packhand; every figure is "
                  "worked out from the samples."]
    return "\n".join(lines).replace("\N{NO-BREAK SPACE}", " ") + "\n"


def _pack_line(pack: dict[str, Any]) -> str:
    parts = [f"{pack['cells']} cells in series" if _is_figure(pack.get("cells")) else "",
             f"{pack['rated_ah']} Ah on the label" if _is_figure(pack.get("rated_ah")) else ""]
    return f"Pack: {', '.join(part for part in parts if part) or NO_RECORD}."


def _is_figure(value: object) -> bool:
    return isinstance(value, int | float)


def _log_lines(summary: DriveSummary) -> Iterator[str]:
    meaning = {"negative_is_discharge": "Minus is out of the pack.",
               "positive_is_discharge": "Plus is out of the pack."}
    yield meaning.get(summary.sign.convention, "Which sign is out of the pack is not settled.")
    low, high = summary.voltage_v
    peak = summary.flow.peak
    if peak and np.isfinite([low, high]).all():
        yield (f"Most amps {abs(peak.current_a):.0f} A; volts {low:.1f} to {high:.1f} V; "
               f"{summary.samples} samples, {len(summary.gaps)} gaps.")
    for finding in summary.findings:
        yield f"{capital(finding.words)} ({finding.verdict})"
