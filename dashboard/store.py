"""The dashboard's only state: the logbook as the pages see it.

Reads logs, keeps the last few ready to draw, and hands out read-only views. Nothing here writes
to a log; a name from a browser is only ever compared with the names that the logbook lists.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Any, Final, Self

from analysis.asking.book import limits_beside
from analysis.asking.questions import ask_logs
from analysis.asking.told import ways_noted
from analysis.digest import LogDigest
from analysis.drive.summary import DriveSummary, summarise
from analysis.load import load_telemetry
from analysis.local_days import zone_named
from analysis.telemetry import Telemetry
from collector.errors import LogFormatError, PackhandError
from collector.logbook import CONFIG_NAME, Logbook, LogEntry
from collector.logfile import read_meta
from collector.meta import LogMeta
from collector.moment import dated_logs
from collector.notes import read_notes
from collector.parts_file import PARTS_NAME
from collector.typed_figures import WHEELS

from .bench.desk import Desk
from .diary import Choice, Diary, Entry, choices
from .fresh_config import FreshConfig
from .label_shelf import LabelShelf
from .live import LiveFeed, LiveView
from .parts_shelf import PartsShelf
from .person import units_of_person
from .quantities import Units
from .recording import Recording, rated_ah
from .summaries import Summary, summary_of
from .workings import Worked, Workings, identity

#: Logs kept ready to draw; one of a million samples and 24 columns takes about 200 MB.
_KEPT: Final = 2


class Store:
    """One logbook, read for the pages. Safe to use from several threads."""

    def __init__(self, logbook: Logbook) -> None:
        self.logbook = logbook
        self._config = FreshConfig(logbook)
        self.live = LiveFeed(logbook, self._config)
        self.workings = Workings(logbook.root)
        self.bench = Desk(logbook.root)
        self.diary = Diary(logbook, self._convention, self._zone)
        self.parts = PartsShelf(logbook)
        self.labels = LabelShelf(logbook)
        self._summaries: dict[str, Summary] = {}
        self._heads: dict[str, LogMeta] = {}
        self._kept: OrderedDict[str, tuple[Recording, DriveSummary]] = OrderedDict()
        self._lock = threading.Lock()

    @classmethod
    def at(cls, root: Path) -> Self:
        """The store of a folder; raises ``LogbookError`` if it is no logbook."""
        return cls(Logbook.open(root))

    @property
    def units(self) -> Units:
        """The units of the person who asks."""
        return units_of_person(Units.of(self._config))

    @property
    def is_invented(self) -> bool:
        """Whether the whole logbook is an invented one; every page then says so."""
        return self._config.get("invented") is True

    @property
    def vehicle_kind(self) -> str:
        """What the vehicle that was logged last is, one of ``VEHICLE_KINDS``; on wheels where
        nobody said."""
        try:
            return self.labels.vehicle_kind()
        except PackhandError:  # the page Pack & limits says why
            return WHEELS

    def look(self) -> LiveView:
        """What is being recorded, in the person's units."""
        view = self.live.look()
        if view.recording is None:
            return view
        return replace(view, recording=self._for_person(view.recording, view.age_s))

    def mark(self) -> str:
        """Mark this moment and say so, or why it cannot be kept."""
        try:
            return self.diary.mark(self.live.look().stem)
        except PackhandError as error:
            return str(error)

    def entries(self) -> list[Entry]:
        """The diary, newest first; raises ``LogbookError`` if it cannot be read."""
        self.logs()  # has the summaries worked out, which know how a log's amps are meant
        return self.diary.entries(self.units)

    def ways(self) -> dict[str, str]:
        """The noted names of the ways of drives, by their stems."""
        drives = [(entry.stem, start_s, start_s + summary.duration_s)
                  for entry, summary in self.logs() if summary and summary.kind == "drive"
                  for start_s in (datetime.fromisoformat(summary.start).timestamp(),)]
        try:
            return ways_noted(drives, read_notes(self.logbook.notes_path).rows)
        except PackhandError:  # the diary's own page says why
            return {}

    def note_choices(self) -> list[Choice]:
        """What can be typed into the diary."""
        return choices(self.units)

    def packs(self) -> list[str]:
        """Names of the logbook's packs."""
        told = self._config.get("pack", [])
        return [str(pack["name"]) for pack in (told if isinstance(told, list) else [told])
                if isinstance(pack, dict) and "name" in pack]

    def logs(self) -> list[tuple[LogEntry, Summary | None]]:
        """Every finished log, newest first, with its summary where that is known already."""
        entries = [dated.entry for dated in dated_logs(self.logbook) if not dated.entry.is_live]
        worked = self.reading()
        if worked.answer is not None:
            self._summaries = {Path(digest.log).stem: summary_of(digest)
                               for digest in worked.answer}
        return [(entry, self._summaries.get(entry.stem) or _unread(entry, worked))
                for entry in entries]

    def reading(self) -> Worked[tuple[LogDigest, ...]]:
        """The digests of all logs, or how far their reading has come; begins it."""
        return self.workings.ask("logs", ask_logs)

    def begin_reading(self) -> None:
        """Have new logs read from behind, before the first page asks."""
        self.workings.ask("logs", ask_logs, wait_s=0)

    def settle(self, timeout_s: float) -> None:
        """Wait for the summaries asked for so far."""
        self.workings.settle(timeout_s)

    def recording(self, stem: str) -> Recording:
        """A log ready to draw.

        Raises
        ------
        LogFormatError
            If there is no such log, or it cannot be read.
        """
        return self._opened(stem)[0]

    def summary(self, stem: str) -> DriveSummary:
        """All answers about a log; raises as ``recording``."""
        return self._opened(stem)[1]

    def _opened(self, stem: str) -> tuple[Recording, DriveSummary]:
        entry = self.logbook.entry(stem)
        if entry is None:
            raise LogFormatError(stem, "no such log in this logbook", "choose one under Drives")
        beside = (self.logbook.corrections_path, self.logbook.place_path(stem),
                  self.logbook.root / CONFIG_NAME, self.logbook.root / PARTS_NAME)
        key = " ".join(map(identity, (entry.path, *beside)))
        with self._lock:
            recording, summary = self._kept.get(key) or _open(entry.path, self._config)
            self._kept[key] = self._for_person(recording), summary
            self._kept.move_to_end(key)
            while len(self._kept) > _KEPT:
                self._kept.popitem(last=False)
            return self._kept[key]

    def _for_person(self, recording: Recording, age_s: float = 0.0) -> Recording:
        """A recording in the person's units, with the diary's marks until ``age_s`` after it."""
        try:
            marks = self.diary.marks_in(recording.telemetry.start, recording.duration_s + age_s)
        except PackhandError:  # the diary's own page says why
            marks = ()
        return recording.shown_with(self.units, marks)

    def _known(self, stem: str) -> Summary | None:
        return self._summaries.get(stem)

    def _convention(self, stem: str) -> str:
        view = self.live.look()
        if view.stem == stem:
            return view.recording.sign.convention if view.recording else ""
        summary = self._known(stem)
        if summary:
            return summary.convention
        head = self._head(stem)
        return str(head.sign.get("convention", "")) if head else ""

    def _zone(self, stem: str) -> tzinfo | None:
        view = self.live.look()
        if view.stem == stem and view.recording:
            return view.recording.zone
        summary = self._known(stem)
        if summary and summary.start:
            return datetime.fromisoformat(summary.start).tzinfo
        head = self._head(stem)
        return zone_named(head.time_zone) if head else None

    def _head(self, stem: str) -> LogMeta | None:
        """What a sealed log says about itself, for as long as its digest is not known."""
        if stem not in self._heads:
            entry = self.logbook.entry(stem)
            if entry is None or entry.is_journal:  # sealing it may still add to its head
                return None
            try:
                self._heads[stem] = read_meta(entry.path)
            except (PackhandError, OSError):  # its own page says why
                return None
        return self._heads[stem]


def _open(path: Path, config: Mapping[str, Any]) -> tuple[Recording, DriveSummary]:
    raw = load_telemetry(path)
    capacity_ah = rated_ah(config, raw.meta)
    limits = limits_beside(path, str(raw.meta.get("pack", "")))
    summary = summarise(raw, capacity_ah=capacity_ah, limits=limits)
    recording = Recording.of(raw, Units(), summary.sign, capacity_ah)
    _freeze(raw)
    _freeze(recording.telemetry)
    return recording, summary


def _freeze(telemetry: Telemetry) -> None:
    """Nobody may write to shared arrays."""
    for values in (telemetry.elapsed_s, *telemetry.columns.values()):
        values.flags.writeable = False


def _unread(entry: LogEntry, worked: Worked[Any]) -> Summary | None:
    """Why a log has no digest; ``None`` while it is still to be read."""
    if worked.is_waiting:
        return None
    lines = (line for line in worked.left_out if entry.path.name in line)
    return Summary(problem=next(lines, worked.problem) or "It came just now; look again.")
