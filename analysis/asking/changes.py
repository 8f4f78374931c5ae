"""Days on which something was changed, as noted, and the comparison across one of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from collector.notes import Note

from ..local_days import local
from .book import Asked, Book
from .questions import Compared, ask_compare

#: Kind of the note that tells of a change.
PART_CHANGED = "part-changed"


@dataclass(frozen=True, slots=True)
class NotedChange:
    """A day, and what was replaced, moved or set then."""

    day: date
    words: str


@dataclass(frozen=True, slots=True)
class AcrossChange:
    """The comparison across a day, and the days that could be asked about."""

    #: ``None`` where no day was asked about.
    compared: Compared | None
    noted: tuple[NotedChange, ...]


def ask_across(book: Book, day: date | None) -> Asked[AcrossChange]:
    """Did what was changed on a day help? That day and later are after it."""
    noted = noted_changes(book.notes())
    if day is None or day == date.min:
        return Asked(AcrossChange(None, noted))
    asked = ask_compare(book, (date.min, day - timedelta(days=1)), (day, date.max))
    return Asked(AcrossChange(asked.answer, noted), asked.left_out)


def noted_changes(notes: Sequence[Note]) -> tuple[NotedChange, ...]:
    """Noted changes by their days, the newest first; one line a day."""
    found: dict[date, list[str]] = {}
    for note in sorted(notes, key=lambda each: each.time_ms):
        if note.kind == PART_CHANGED:
            day = local(note.time_ms / 1000).date()
            found.setdefault(day, []).append(note.text or note.typed)
    return tuple(NotedChange(day, "; ".join(words)) for day, words in reversed(found.items()))
