"""Everything that a paper about a pack stands on: answers, hand readings, and the files behind."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, Final

from collector.corrections import active, read_corrections
from collector.day_figures import DAY
from collector.errors import LogbookError, PackhandError
from collector.logbook import CONFIG_NAME, Logbook
from collector.logfile import read_log
from collector.note_kinds import KINDS
from collector.notes import Note

from ..cells.summary import CELL_PARTS, CellReport, find_cells
from ..digest import LogDigest
from ..drive.summary import DriveSummary, summarise
from ..drive.usual_amps import UsualAmps, usual_amps
from ..estimate import NoEstimate
from ..incidents.cutout import CutOut, find_cut_outs
from ..incidents.log_cutouts import CUTOUT_COLUMNS, LogCutOuts
from ..limits import Limits
from ..load import load_telemetry
from ..local_days import local
from ..one_log.use import LogUse
from ..season.parked import USUAL_AH, Parked, find_parked
from ..season.sign_history import in_packhand_sign
from ..season.summary import PARTS_NEEDED, Season, find_season
from ..telemetry import Telemetry
from .book import Asked, Book
from .told import days_told

PARTS: Final = tuple(dict.fromkeys([*PARTS_NEEDED, *CELL_PARTS, "cutouts"]))
#: The last so many drives tell the usual amps.
USUAL_DRIVES: Final = 6
_CHUNK: Final = 1 << 20


@dataclass(frozen=True, slots=True)
class Period:
    """Days to look at, both included; ``None`` is open. ``log`` names the one that is drawn."""

    first: date | None = None
    last: date | None = None
    #: File name or stem; empty for the last drive.
    log: str = ""

    def holds(self, unix_s: float) -> bool:
        """Whether a moment lies within, by the days where the pack was logged."""
        day = local(unix_s).date()
        return (self.first or day) <= day <= (self.last or day)


@dataclass(frozen=True, slots=True)
class HandReading:
    """One note of the diary."""

    time_s: float
    kind: str
    #: The kind in plain words.
    words: str
    #: Figure with its unit, as kept; empty where there is none.
    figure: str
    #: Joint, cell.
    where: str
    instrument: str
    text: str
    #: Pack amps of that moment by the monitor, in its own sign; NaN if none. [A]
    current_a: float


@dataclass(frozen=True, slots=True)
class Layer:
    """A correction that stands."""

    column: str
    zero: float
    gain: float
    from_s: float
    until_s: float | None
    reason: str


@dataclass(frozen=True, slots=True)
class LogFile:
    """One log and the bytes that it stands on."""

    log: str
    start_s: float
    kind: str
    samples: int
    observed_s: float
    #: Time inside it that nobody saw. [s]
    gap_s: float
    sha256: str
    #: The bytes as heard beside it; empty where there are none.
    raw: str
    raw_sha256: str


@dataclass(frozen=True, slots=True)
class CutOutOf:
    """A cut-out, its log and when it began. [s, Unix time]"""

    log: str
    start_s: float
    cut: CutOut


@dataclass(frozen=True, slots=True)
class ShownLog:
    """The log that a paper draws."""

    log: str
    #: As loaded: amps in the monitor's own sign.
    telemetry: Telemetry
    summary: DriveSummary


@dataclass(frozen=True, slots=True)
class Evidence:
    """What the papers are written from."""

    #: The logbook's folder.
    root: Path
    pack: str
    vehicle: str
    #: As typed in ``logbook.toml``.
    pack_table: dict[str, Any]
    vehicle_table: dict[str, Any]
    limits: Limits
    time_zone: str
    is_invented: bool
    #: Name of the program that wrote the last log, and of the monitor it heard.
    software: str
    monitor: str
    season: Season
    cells: CellReport
    parked: Parked
    cut_outs: tuple[CutOutOf, ...]
    notes: tuple[HandReading, ...]
    corrections: tuple[Layer, ...]
    logs: tuple[LogFile, ...]
    #: How the amps of the logs are read, and in how many.
    conventions: dict[str, int]
    shown: ShownLog | None
    usual: UsualAmps | NoEstimate

    def files(self) -> dict[str, Path]:
        """Everything on disk that the papers stand on, by its name within the logbook."""
        book = Logbook(self.root)
        logs = [book.logs_folder / name for log in self.logs
                for name in (log.log, log.raw) if name]
        told = [self.root / CONFIG_NAME, book.notes_path, book.corrections_path]
        return {path.relative_to(self.root).as_posix(): path
                for path in [*logs, *(path for path in told if path.is_file())]}

    @property
    def rated_ah(self) -> float | None:
        typed = self.pack_table.get("rated_ah")
        return float(typed) if isinstance(typed, int | float) and typed > 0 else None


def ask_evidence(book: Book, period: Period = Period()) -> Asked[Evidence]:
    """All that papers need of a pack and a span of days.

    Raises
    ------
    LogbookError
        If no log of the pack lies within the period, or the log asked for is not in it.
    """
    asked = book.digests(PARTS)
    digests = [d for d in asked.answer if period.holds(d.start_s)]
    if not digests:
        raise LogbookError(str(book.root), "no log of this pack in that period",
                           "choose other days")
    head = digests[-1].head
    pack_table = book.table("pack", head.pack)
    limits = book.limits(head.pack)
    rated = book.figure("pack", head.pack, "rated_ah")
    software, monitor = _writer(book.root, digests[-1].log)
    conventions: dict[str, int] = {}
    for digest in digests:
        conventions[digest.convention] = conventions.get(digest.convention, 0) + 1
    return Asked(Evidence(
        book.root, head.pack, head.vehicle, pack_table, book.table("vehicle", head.vehicle), limits,
        head.time_zone, book.config.get("invented") is True or any(
            d.head.invented for d in digests), software, monitor,
        find_season(digests, rated_ah=rated, limits=limits,
                    told=[day for day in days_told(book.notes(), head.pack,
                                                     head.time_zone).answer
                          if period.holds(day.day_s)]),
        find_cells(digests, capacity_ah=rated, bleed_a=book.limit(head.pack, "bleed_a")),
        find_parked(digests, rated or USUAL_AH), _cut_outs(book.root, digests, limits),
        _hand_readings(book.notes(), head.pack, period),
        _layers(Logbook(book.root).corrections_path, head.pack),
        tuple(_log_file(book.root, d) for d in digests), conventions,
        _shown(book, digests, period.log, limits), _usual(book.root, digests)), asked.left_out)


def _writer(root: Path, log: str) -> tuple[str, str]:
    meta = read_log(Logbook(root).logs_folder / log, ()).meta
    told = meta.monitor.get("title") or meta.monitor.get("name") or ""
    return meta.software, str(told)


def _cut_outs(root: Path, digests: Sequence[LogDigest], limits: Limits) -> tuple[CutOutOf, ...]:
    """Every cut-out; only logs whose amps came near the typed limit are read again for it."""
    found = []
    for digest in digests:
        cuts: Iterable[CutOut] = digest.of(LogCutOuts).found
        if digest.of(LogUse).peak_out_a >= limits.peak_a:
            raw = load_telemetry(Logbook(root).logs_folder / digest.log, CUTOUT_COLUMNS)
            cuts = find_cut_outs(
                in_packhand_sign(raw, digest.convention, digest.head.lag_s), limits)
        found += [CutOutOf(digest.log, digest.start_s + cut.start_s, cut) for cut in cuts]
    return tuple(found)


def _hand_readings(notes: Sequence[Note], pack: str, period: Period) -> tuple[HandReading, ...]:
    """Notes of the pack and the period, oldest first; of a mark that was named anew the last."""
    kept: dict[tuple[int, str, int], Note] = {}
    for place, note in enumerate(notes):
        # Days off the display are counted in the use; a list of them would bury the readings.
        if note.kind != DAY and note.pack in ("", pack) and period.holds(note.time_ms / 1000):
            kept[note.time_ms, note.kind, 0 if note.kind == "mark" else place + 1] = note
    return tuple(_hand_reading(note) for note in sorted(kept.values(), key=lambda n: n.time_ms))


def _hand_reading(note: Note) -> HandReading:
    figure = f"{note.value:g} {note.unit}".strip() if math.isfinite(note.value) else ""
    where = ", ".join([*([note.joint] if note.joint else []),
                       *([f"cell {note.cell}"] if note.cell else [])])
    kind = KINDS.get(note.kind)
    return HandReading(note.time_ms / 1000, note.kind, kind.words if kind else note.kind, figure,
                       where, note.instrument, note.text, note.moment.current_a)


def _layers(path: Path, pack: str) -> tuple[Layer, ...]:
    return tuple(Layer(c.column, c.zero, c.gain, c.from_ms / 1000,
                       None if c.until_ms is None else c.until_ms / 1000, c.reason)
                 for c in active(read_corrections(path).rows) if c.pack in ("", pack))


def _log_file(root: Path, digest: LogDigest) -> LogFile:
    book, use = Logbook(root), digest.of(LogUse)
    path = book.logs_folder / digest.log
    raw = path.with_suffix(".raw")
    has_raw = raw.is_file()
    return LogFile(digest.log, digest.start_s, use.kind, use.samples, use.observed_s, use.gap_s,
                   sha256_of(path), raw.name if has_raw else "",
                   sha256_of(raw) if has_raw else "")


def sha256_of(path: Path) -> str:
    """SHA-256 of a file, in hexadecimal (FIPS 180-4)."""
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while piece := file.read(_CHUNK):
            digest.update(piece)
    return digest.hexdigest()


def _shown(book: Book, digests: Sequence[LogDigest], log: str, limits: Limits) -> ShownLog | None:
    """The log asked for, else the last drive, else the last log."""
    if log:
        chosen = next((d for d in digests if log in (d.log, Path(d.log).stem)), None)
        if chosen is None:
            raise LogbookError(str(book.root), f"no log {log!r} of this pack in that period",
                               "choose one of its logs")
    else:
        drives = [d for d in digests if d.of(LogUse).kind == "drive"]
        chosen = (drives or list(digests))[-1]
    try:
        raw = load_telemetry(Logbook(book.root).logs_folder / chosen.log)
    except (PackhandError, OSError):
        return None
    summary = summarise(raw, capacity_ah=book.figure("pack", chosen.head.pack, "rated_ah"),
                        limits=limits)
    return ShownLog(chosen.log, raw, summary)


def _usual(root: Path, digests: Sequence[LogDigest]) -> UsualAmps | NoEstimate:
    drives = [d for d in digests if d.of(LogUse).kind == "drive"][-USUAL_DRIVES:]
    return usual_amps(
        in_packhand_sign(load_telemetry(Logbook(root).logs_folder / d.log,
                                        ("current_a", "voltage_v")),
                         d.convention, d.head.lag_s) for d in drives)


def period_of(first: str, last: str, log: str = "") -> Period:
    """A period as typed: days as ``2026-10-27``, empty is open.

    Raises
    ------
    ValueError
        If a day is none.
    """
    days = [date.fromisoformat(text.strip()) if text.strip() else None for text in (first, last)]
    return Period(days[0], days[1], log)

