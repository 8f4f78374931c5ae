"""The dashboard's only state: the logbook as the pages see it.

Reads logs, keeps the last few ready to draw, and hands out read-only views. Nothing here writes
to a log; a name from a browser is only ever compared with the names that the logbook lists.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Any, Final, Self

from analysis.asking.book import limits_beside
from analysis.drive.summary import DriveSummary, summarise
from analysis.estimate import Answer, Estimate
from analysis.load import load_telemetry
from analysis.telemetry import Telemetry
from collector.errors import LogFormatError, PackhandError
from collector.logbook import Logbook, LogEntry
from collector.logbook_figures import edition_of

from .bench.desk import Desk
from .diary import Choice, Diary, Entry, choices
from .figures.spark import small_line
from .fresh_config import FreshConfig
from .label_shelf import LabelShelf
from .live import LiveFeed, LiveView
from .parts_shelf import PartsShelf
from .person import units_of_person
from .quantities import Units
from .recording import Recording, rated_ah
from .summaries import Summary, SummaryShelf, key_of
from .workings import Workings

#: Logs kept ready to draw; one of a million samples and 24 columns takes about 200 MB.
_KEPT: Final = 2
#: Where summaries are kept inside the logbook; safe to delete.
CACHE_FOLDER: Final = ".cache"
#: Amps that move less than this, in or out, make a log a rest. [Ah]
REST_AH: Final = 0.2


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
        self._shelf = SummaryShelf(logbook.root / CACHE_FOLDER / "summaries.json", summary_of)
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
        entries = [entry for entry in reversed(self.logbook.logs()) if not entry.is_live]
        found = self._shelf.of(entry.path for entry in entries)
        return list(zip(entries, found, strict=True))

    def settle(self, timeout_s: float) -> None:
        """Wait for the summaries asked for so far."""
        self._shelf.settle(timeout_s)

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
        key = f"{key_of(entry.path)} {edition_of(self.logbook)}"
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
        return self._shelf.known(self.logbook.log_path(stem))

    def _convention(self, stem: str) -> str:
        view = self.live.look()
        if view.stem == stem:
            return view.recording.sign.convention if view.recording else ""
        summary = self._known(stem)
        return summary.convention if summary else ""

    def _zone(self, stem: str) -> tzinfo | None:
        view = self.live.look()
        if view.stem == stem and view.recording:
            return view.recording.zone
        summary = self._known(stem)
        return datetime.fromisoformat(summary.start).tzinfo if summary and summary.start else None


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


def summary_of(path: Path) -> Summary:
    """One row of the list, or why the log cannot be read."""
    try:
        raw = load_telemetry(path)
        answers = summarise(raw)
    except (PackhandError, OSError) as error:
        return Summary(problem=str(error))
    recording = Recording.of(raw, Units(), answers.sign)
    out_ah, in_ah = _value(answers.flow.charge_out_ah), _value(answers.flow.charge_in_ah)
    amps = recording.channels.get("amps")
    return Summary(
        start=recording.local(0).isoformat(), duration_s=recording.duration_s,
        kind=str(raw.meta.get("kind") or guess_kind(out_ah, in_ah)),
        out_ah=out_ah, in_ah=in_ah, wh_per_km=_value(answers.consumption_wh_per_km),
        invented=recording.is_invented, convention=answers.sign.convention,
        amps=_pairs(small_line(amps, 0.0, recording.duration_s)) if amps else ())


def _value(answer: Answer) -> float | None:
    """The value of an estimate, ``None`` where it could not be made."""
    return answer.value if isinstance(answer, Estimate) else None


def _pairs(columns: Sequence[Sequence[float] | None]) -> tuple[tuple[float, float] | None, ...]:
    return tuple((pair[0], pair[1]) if pair else None for pair in columns)


def guess_kind(out_ah: float | None, in_ah: float | None) -> str:
    """``drive``, ``charge`` or ``rest``, by which way most of the charge went."""
    out, back = out_ah or 0.0, in_ah or 0.0
    if max(out, back) < REST_AH:
        return "rest"
    return "drive" if out >= back else "charge"
