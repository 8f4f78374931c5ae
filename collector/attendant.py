"""Whoever sits beside a recording: keeps marks as notes, and watches the limits."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Final

from .alarms import SHELF_S, Alarms
from .errors import LogbookError
from .moment import LastFigures
from .notes import Note, add_note
from .record import Sample
from .recorder import Recording
from .sources.keyboard import SHELVE

_MARK: Final = "mark: "


class Attendant:
    """Takes each sample of one recording and answers with the events that follow from it.

    Parameters
    ----------
    notes_path
        The logbook's ``notes.csv``; each mark becomes a note there, too.
    on_words
        Told in one line what cannot be kept.
    on_alarm
        Called when an alarm wants to be heard.
    on_shelve
        Called with the moment of the steady clock when the person wants quiet. [s]
    """

    def __init__(self, alarms: Alarms, notes_path: Path, pack: str, *,
                 on_words: Callable[[str], None], on_alarm: Callable[[], None],
                 on_shelve: Callable[[float], None]) -> None:
        self._alarms = alarms
        self._notes_path = notes_path
        self._pack = pack
        self._on_words = on_words
        self._on_alarm = on_alarm
        self._on_shelve = on_shelve
        self._last = LastFigures()

    def take(self, sample: Sample, recording: Recording) -> Iterable[str]:
        """The events that follow from a sample."""
        self._last.take(sample)
        if sample.event.startswith(_MARK):
            self._keep_mark(sample, recording)
        if sample.event == SHELVE:
            self._on_shelve(sample.monotonic_s)
            self._on_words(f"alarms that sound now keep quiet for {SHELF_S / 60:.0f} minutes")
        events = self._alarms.take(sample)
        if any(event.is_raised and not event.is_quiet for event in events):
            self._on_alarm()
        return [f"alarm: {event.words}" for event in events]

    def _keep_mark(self, sample: Sample, recording: Recording) -> None:
        log = recording.path.stem if recording.path else ""
        note = Note(sample.time_ms, "mark", text=sample.event.removeprefix(_MARK), pack=self._pack,
                    moment=self._last.at(sample.monotonic_s, log))
        try:
            add_note(self._notes_path, note)
        except LogbookError as error:
            self._on_words(f"{error}; the mark is in the log alone")
