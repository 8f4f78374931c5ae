"""What is typed of packs, boards and vehicles, as the pages show it and change it."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from typing import Final, get_args

from analysis.asking.book import Book
from analysis.limits import Limits
from collector.alarms import CAUTION as ALARM_CAUTION
from collector.errors import LogbookError, PackhandError
from collector.logbook import Logbook
from collector.logbook_figures import (
    LABEL,
    edition_of,
    keep_figures,
    owner_of,
    typed_of,
    vehicle_kind_of,
)
from collector.logfile import read_log
from collector.notes import Note, read_notes
from collector.typed_figures import (
    BOAT,
    HOUSE,
    WHEELS,
    Group,
    TypedFigure,
    figures_of,
    told,
)

from .quantities import Units
from .typed_form import one_line

__all__ = ["ALARM_CAUTION", "BOAT", "GROUPS", "HOUSE", "WHEELS", "Group", "LabelShelf", "Row"]

GROUPS: Final[tuple[Group, ...]] = get_args(Group)
#: So many of the last logs are asked which pack and vehicle they are of.
LOGS_ASKED: Final = 30


@dataclass(frozen=True, slots=True)
class Row:
    """One figure that is typed, or can be."""

    key: str
    #: In plain words, beginning small.
    words: str
    #: As a person would type it; empty where nobody did.
    figure: str
    #: Where a person finds it, and what rests on it.
    found: str
    serves: str
    #: What stood there before, and until when; ``None`` if nothing did.
    before: tuple[str, datetime] | None
    #: Whether more than digits and a point may have to be typed: a minus sign, words.
    is_text: bool
    #: The words it can be, each with what it means; empty for a figure.
    choices: Mapping[str, str]


class LabelShelf:
    """The typed figures of one logbook. Safe to use from several threads."""

    def __init__(self, logbook: Logbook) -> None:
        self._logbook = logbook
        self._lock = threading.Lock()
        self._named: dict[str, tuple[str, str]] = {}

    def names(self, kind: str) -> list[str]:
        """Packs or vehicles, the last logged first, then those that are only typed; one without a
        name if there is none.

        Raises ``LogbookError`` if ``logbook.toml`` cannot be read.
        """
        tables = self._logbook.config().get(kind)
        typed = [str(each.get("name", "")) for each in (tables if isinstance(tables, list) else [])
                 if isinstance(each, dict)]
        found = list(dict.fromkeys([*reversed(self._logged(kind)), *typed]))
        # A log that names none means the only one there is.
        return [name for name in found if name or len(found) == 1] or [""]

    def rows(self, group: Group, name: str, units: Units) -> list[Row]:
        """The figures of one table, the most asked for first; raises as ``names``."""
        table = typed_of(self._logbook.config(), group, name)
        person = asdict(units)
        notes = self._notes(name)
        return [Row(figure.key, figure.words, told(figure, table.get(figure.key), person),
                    figure.found, figure.serves, _before(figure, notes.get(figure.words), person),
                    group == "alarms" or figure.plausible[0] < 0, figure.choices)
                for figure in figures_of(group)]

    def vehicle_kind(self) -> str:
        """What the vehicle that was logged last is, one of ``VEHICLE_KINDS``; on wheels where
        nobody said. Raises as ``names``."""
        return vehicle_kind_of(self._logbook.config(), self.names("vehicle")[0])

    def limits(self, pack: str) -> Limits:
        """Of board and breaker; raises as ``names``."""
        return Book.open(self._logbook.root).limits(pack)

    def edition(self) -> str:
        """Tells one state of what is typed from another."""
        return edition_of(self._logbook)

    def take(self, form: Mapping[str, str], units: Units) -> str:
        """Keep what a form says and tell it: ``group``, ``name`` of pack or vehicle, ``edition``
        that was seen, and the figures by key.

        Raises
        ------
        PackhandError
            If a figure cannot be meant, the file has changed meanwhile or cannot be changed.
            Nothing is changed then.
        """
        group, name = form.get("group", ""), form.get("name", "")
        if group not in GROUPS:
            raise LogbookError("form", f"{group!r} is none", "open the page again")
        if name not in self.names(owner_of(group)):
            raise LogbookError(owner_of(group), f"no such name {name!r}",
                               "open the page again")
        typed = {key: one_line(words) for key, words in form.items()}
        with self._lock:
            if form.get("edition") != self.edition():
                raise LogbookError("logbook.toml", "changed since this page was opened",
                                   "open the page again; what you typed is not kept")
            changes = keep_figures(self._logbook, group, name, typed, asdict(units))
        if not changes:
            return "Nothing was changed."
        return f"Kept: {', '.join(change.figure.words for change in changes)}."

    def _notes(self, name: str) -> dict[str, Note]:
        """The last note of what stood there before, by the figure's words."""
        return {note.joint: note for note in read_notes(self._logbook.notes_path).rows
                if note.kind == LABEL and note.pack == name}

    def _logged(self, kind: str) -> list[str]:
        """The packs or vehicles that the last logs are of."""
        entries = [entry for entry in self._logbook.logs() if not entry.is_journal][-LOGS_ASKED:]
        for entry in entries:
            if entry.stem not in self._named:
                try:
                    meta = read_log(entry.path, ()).meta
                except PackhandError:  # its own page says why
                    continue
                self._named[entry.stem] = meta.pack, meta.vehicle
        place = ("pack", "vehicle").index(kind)
        return [self._named[entry.stem][place] for entry in entries if entry.stem in self._named]


def _before(figure: TypedFigure, note: Note | None,
            person: Mapping[str, str]) -> tuple[str, datetime] | None:
    """What stood there before in the person's units, and until when by this computer's clock."""
    if note is None:
        return None
    words = told(figure, note.value, person) if note.unit else note.text.partition("; then ")[0]
    return words, datetime.fromtimestamp(note.time_ms / 1000, UTC).astimezone()
