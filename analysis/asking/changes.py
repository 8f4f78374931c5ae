"""Days on which something was changed, as noted, and the comparison across one of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from collector.notes import Note

from ..ahead.compare import PARTS_NEEDED
from ..local_days import local
from .book import Asked, Book
from .questions import Compared, compare_spans

#: Kind of the note that tells of a change.
PART_CHANGED = "part-changed"


@dataclass(frozen=True, slots=True)
class NotedChange:
    """A day, and what was replaced, moved or set then."""

    day: date
    words: str

    @property
    def day_words(self) -> str:
        return f"{self.day.day} {self.day:%B %Y}"


@dataclass(frozen=True, slots=True)
class AcrossChange:
    """The comparison across a day, and the days that could be asked about."""

    #: ``None`` where no day was asked about.
    compared: Compared | None
    noted: tuple[NotedChange, ...]
    #: The noted changes before and after that day, which the days compared lie between; ``None``
    #: where there is none.
    earlier: NotedChange | None = None
    later: NotedChange | None = None

    @property
    def limits_words(self) -> str:
        """That other changes limit the days compared; empty if none does."""
        parts = [f"{when} “{change.words or 'a change'}” on {change.day_words}"
                 for when, change in (("since", self.earlier), ("before", self.later)) if change]
        return (f"Only days {' and '.join(parts)} are compared, so that one change is not taken "
                "for another." if parts else "")

    @property
    def limits_json(self) -> dict[str, Any]:
        return {"limited_by": [{"day": change.day.isoformat(), "words": change.words}
                               for change in (self.earlier, self.later) if change]}


def ask_across(book: Book, day: date | None) -> Asked[AcrossChange]:
    """Did what was changed on a day help? That day and later are after it, up to the next change
    that is noted; what was changed before is not mixed in either."""
    notes = book.notes()
    noted = noted_changes(notes)
    if day is None or day == date.min:
        return Asked(AcrossChange(None, noted))
    asked = book.digests(PARTS_NEEDED)
    pack = asked.answer[-1].head.pack
    own = noted_changes([note for note in notes if note.pack in ("", pack)])
    earlier = next((change for change in own if change.day < day), None)
    later = next((change for change in reversed(own) if change.day > day), None)
    found = compare_spans(
        asked.answer, notes, (earlier.day if earlier else date.min, day - timedelta(days=1)),
        (day, later.day - timedelta(days=1) if later else date.max))
    return Asked(AcrossChange(found, noted, earlier, later), asked.left_out)


def noted_changes(notes: Sequence[Note]) -> tuple[NotedChange, ...]:
    """Noted changes by their days, the newest first; one line a day."""
    found: dict[date, list[str]] = {}
    for note in sorted(notes, key=lambda each: each.time_ms):
        if note.kind == PART_CHANGED:
            day = local(note.time_ms / 1000).date()
            found.setdefault(day, []).append(note.text or note.typed)
    return tuple(NotedChange(day, "; ".join(words)) for day, words in reversed(found.items()))
