"""The diary: marks and hand readings of a logbook, as the pages show them and add to them.

Notes stand in the logbook's ``notes.csv``, which is only appended to: naming a mark adds a line of
the same moment, and of a moment's marks the last line is shown.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, tzinfo
from typing import Final

from analysis.drive.words import STILL_A
from analysis.phrases import amps_size
from analysis.telemetry import Event
from collector.clock import Clock, from_person
from collector.day_figures import DAY, WAYS
from collector.errors import LogbookError
from collector.logbook import Logbook
from collector.moment import Moment, moments_at
from collector.note_kinds import KINDS, NoteKind, read_figure
from collector.notes import Note, add_note, read_notes

from .quantities import MINUS, NBSP, Units, number, scale, shown

MARK: Final = "mark"
#: The longest words taken for one field.
FIELD_MAX: Final = 2000
#: A sample this much older than the note is told with its age. [s]
_FRESH_S: Final = 2.0
#: Kinds that the form does not offer: marks have a button, pictures need a file, labels a page.
_NOT_TYPED: Final = (MARK, "photo", "label")
#: What a form still needs where a figure says nothing without it.
_WHICH: Final = {"joint": "say where, such as main minus lug", "cell": "type the cell, from 1"}
#: A note so far ahead is told to lie in the future. [ms]
_SLIP_MS: Final = 60_000
#: Kinds that speak of no moment of a log.
_TIMELESS: Final = ("claim", "check", DAY)
#: Kept units that people choose, so that figures in them may have been converted: no finer than
#: they can be read.
_CHOSEN: Final = ("°C", "km", "kg", "Nm", "m/s")
#: Which way a log's amps count: -1 for minus out, +1 for plus out; nothing where it is open.
_OUT: Final = {"negative_is_discharge": -1, "positive_is_discharge": 1}


@dataclass(frozen=True, slots=True)
class Entry:
    """One note in words."""

    time_ms: int
    #: In the time zone of the log, or of this computer.
    at: datetime
    is_mark: bool
    #: A whole day, as it was read off the display.
    is_day: bool
    #: What kind of note it is, in plain words.
    kind: str
    #: The figure with its unit, empty where there is none.
    figure: str
    #: The figure as typed, where that differs.
    typed: str
    #: Where it was taken and what with.
    place: str
    text: str
    #: What the monitor said then.
    moment: str
    #: Stem of the log that covers the moment.
    log: str


@dataclass(frozen=True, slots=True)
class Choice:
    """A kind that can be typed."""

    name: str
    words: str
    #: Unit and caution.
    hint: str


class Diary:
    """The notes of one logbook. Safe to use from several threads.

    Parameters
    ----------
    convention
        How the amps of a log are meant, by its stem, as in a log's sign decision.
    zone
        The time zone of a log, by its stem; ``None`` for this computer's.
    """

    def __init__(self, logbook: Logbook, convention: Callable[[str], str],
                 zone: Callable[[str], tzinfo | None]) -> None:
        self._logbook = logbook
        self._convention = convention
        self._zone = zone
        self._lock = threading.Lock()
        self._read: tuple[tuple[int, int], tuple[Note, ...]] = ((0, 0), ())

    def notes(self) -> tuple[Note, ...]:
        """Every note, newest first; a mark as it was last named."""
        with self._lock:
            try:
                found = self._logbook.notes_path.stat()
            except OSError:
                return ()
            edition = (found.st_size, found.st_mtime_ns)
            if edition != self._read[0]:
                self._read = edition, _last_words(read_notes(self._logbook.notes_path).rows)
            return self._read[1]

    def entries(self, units: Units) -> list[Entry]:
        """Every note in words, newest first; raises ``LogbookError`` if they cannot be read."""
        return [self._entry(note, units) for note in self.notes()]

    def marks_in(self, start: datetime, duration_s: float) -> tuple[Event, ...]:
        """Marks between the start of a recording and its end, by the clock."""
        start_ms = start.timestamp() * 1000
        found = [Event((note.time_ms - start_ms) / 1000, MARK, note.text)
                 for note in self.notes() if note.kind == MARK]
        return tuple(event for event in reversed(found) if 0 <= event.elapsed_s <= duration_s)

    def mark(self, stem: str) -> str:
        """Keep a mark of this moment and say so.

        Parameters
        ----------
        stem
            The log that is being recorded; empty if none is.

        Raises
        ------
        LogbookError
            If the logbook takes no note.
        """
        time_ms, _ = Clock().now()
        found = moments_at(self._logbook, time_ms)
        pack, moment = next(((pack, moment) for pack, moment in found.items()
                             if moment.log == stem), ("", Moment()))
        note = Note(time_ms, MARK, pack=pack, moment=moment)
        add_note(self._logbook.notes_path, note)
        entry = self._entry(note, Units())
        told = self._flow(moment) or entry.moment
        return f"Marked {entry.at:%H:%M:%S}: {told or 'nothing was recorded then'}."

    def keep(self, form: Mapping[str, str], units: Units) -> str:
        """Keep what a form holds and say so.

        Parameters
        ----------
        form
            ``kind`` and any of ``value, joint, cell, instrument, text, at, pack``; or ``named``,
            the Unix milliseconds of a mark, and ``text``, its name.
        units
            How a figure without a unit is meant.

        Raises
        ------
        LogbookError
            If something typed cannot be read, or the logbook takes no note.
        """
        told = {name: _clean(words) for name, words in form.items()}
        note = self._named(told) if "named" in told else self._typed(told, units)
        add_note(self._logbook.notes_path, note)
        return self._kept(note, units)

    def _kept(self, note: Note, units: Units) -> str:
        entry = self._entry(note, units)
        if entry.is_mark:
            return f"The mark of {entry.at:%H:%M:%S} is named {note.text!r}."
        told = f"Kept: {', '.join(filter(None, (entry.kind, entry.figure or note.text)))}."
        if note.kind in _TIMELESS:
            return told
        if note.time_ms > Clock().now()[0] + _SLIP_MS:
            return f"{told} That is still to come: if it is a slip, type it once more."
        return f"{told} " + (f"The monitor said {entry.moment}." if entry.moment else
                             "No log covers that moment.")

    def _named(self, told: Mapping[str, str]) -> Note:
        found = next((note for note in self.notes()
                      if note.kind == MARK and str(note.time_ms) == told["named"]), None)
        if found is None:
            raise LogbookError("mark", "no such mark", "open the diary again")
        if not told.get("text"):
            raise LogbookError("name", "empty", "type what happened there")
        return replace(found, text=told["text"])

    def _typed(self, told: Mapping[str, str], units: Units) -> Note:
        kind = KINDS.get(told.get("kind", ""))
        if kind is None or kind.name in _NOT_TYPED:
            raise LogbookError("kind", f"{told.get('kind', '')!r} is none", "choose one")
        time_ms = _time_ms(told.get("at", ""))
        pack, moment = self._moment(time_ms, told.get("pack", ""))
        value, typed, text = math.nan, "", told.get("text", "")
        if kind.is_figure:
            value, typed = _figure(kind, told.get("value", ""), units), told["value"]
        elif not (text := " ".join(filter(None, (told.get("value"), text)))) and not kind.is_whole:
            raise LogbookError(kind.name, "no words", "type what there is to say")
        _check_words(kind, text)
        if kind.which and not told.get(kind.which):
            raise LogbookError(kind.words, f"nothing says which {kind.which}",
                               _WHICH[kind.which])
        return Note(time_ms, kind.name, value, kind.unit, typed, told.get("joint", ""),
                    _cell(told.get("cell", "")), told.get("instrument", ""), text, "", pack, moment)

    def _moment(self, time_ms: int, pack: str) -> tuple[str, Moment]:
        """The pack that is meant and what its log said then."""
        found = moments_at(self._logbook, time_ms)
        if pack:
            return pack, found.get(pack, Moment())
        if len(found) > 1:
            raise LogbookError("pack", f"several were logged then: {', '.join(found)}",
                               "type which is meant")
        return next(iter(found.items()), ("", Moment()))

    def _entry(self, note: Note, units: Units) -> Entry:
        kind = KINDS.get(note.kind)
        moment = note.moment
        at = datetime.fromtimestamp(note.time_ms / 1000, UTC).astimezone(
            self._zone(moment.log) if moment.log else None)
        figure = _figure_words(note, units)
        place = [note.joint, f"cell {note.cell}" if note.cell else "", note.instrument, note.photo]
        parts = [self._flow(moment)]
        parts += [shown(name, units).text(value) for name, value in (
            ("voltage_v", moment.voltage_v), ("soc_pct", moment.soc_pct)) if not math.isnan(value)]
        if moment.age_s > _FRESH_S:
            parts.append(f"{moment.age_s:.0f}{NBSP}s before")
        return Entry(note.time_ms, at, note.kind == MARK, note.kind == DAY,
                     kind.words if kind else note.kind, figure,
                     note.typed if _squeezed(note.typed) != _squeezed(figure) else "",
                     ", ".join(filter(None, place)), note.text, ", ".join(filter(None, parts)),
                     moment.log)

    def _flow(self, moment: Moment) -> str:
        """Amps in words, such as ``48 A out``; as displayed where the sign is open."""
        amps = moment.current_a
        if math.isnan(amps):
            return ""
        way = _OUT.get(self._convention(moment.log), 0)
        if not way and abs(amps) >= STILL_A:
            return f"{number(amps, 1)}{NBSP}A on the display"
        if abs(amps) < STILL_A:
            return "no amps"
        return f"{amps_size(amps).replace(' ', NBSP)} {'out' if amps * way > 0 else 'in'}"


def choices(units: Units) -> list[Choice]:
    """What can be typed, each with its unit and the usual caution."""
    return [Choice(kind.name, kind.words, _hint(kind, units)) for kind in KINDS.values()
            if kind.name not in _NOT_TYPED]


def _hint(kind: NoteKind, units: Units) -> str:
    usual = scale(kind.unit, units).unit
    unit = f"A figure without a unit is meant in {usual}." if kind.is_figure else "Words only."
    if kind.name == DAY:
        unit = f"Words such as {WAYS}."
    return f"{unit} Usual caution: {kind.caution}." if kind.caution else unit


def _check_words(kind: NoteKind, text: str) -> None:
    try:
        if kind.reader:
            kind.reader(text)
    except ValueError as error:
        raise LogbookError(kind.name, str(error)) from error


def _figure(kind: NoteKind, typed: str, units: Units) -> float:
    try:
        return read_figure(kind, typed, asdict(units))
    except ValueError as error:
        raise LogbookError(kind.words, str(error)) from error


def _figure_words(note: Note, units: Units) -> str:
    if math.isnan(note.value):
        return ""
    way = scale(note.unit, units)
    told = way.told(note.value)
    figure = f"{round(told, 1):g}" if note.unit in _CHOSEN else f"{told:.6g}"
    return f"{figure.replace('-', MINUS)}{NBSP}{way.unit}"


def _cell(typed: str) -> int | None:
    if not typed:
        return None
    if not typed.isascii() or not typed.isdigit() or not 1 <= int(typed) <= 99:
        raise LogbookError("cell", f"{typed!r} is no number of a cell", "count from 1")
    return int(typed)


def _time_ms(typed: str) -> int:
    if not typed:
        return Clock().now()[0]
    try:
        return from_person(typed)
    except ValueError:
        raise LogbookError("time", f"{typed!r} is none",
                           "such as 14:05, or 2026-05-03 14:05") from None


def _clean(words: str) -> str:
    """Words on one line, without what no pen can write."""
    return "".join(c for c in " ".join(words.split()) if c.isprintable())[:FIELD_MAX]


def _squeezed(words: str) -> str:
    """Words as far as they are the same figure in the same unit."""
    return "".join(words.split()).lower().replace("-", "\N{MINUS SIGN}").replace("°", "")


def _last_words(rows: tuple[Note, ...]) -> tuple[Note, ...]:
    """Newest first; of the marks of one moment the last that was written."""
    found: dict[tuple[int, str, int], Note] = {}
    for place, note in enumerate(rows):
        found[note.time_ms, note.kind, 0 if note.kind == MARK else place + 1] = note
    # Of the notes of one moment the last that was written comes first, too.
    return tuple(sorted(found.values(), key=lambda note: note.time_ms)[::-1])
