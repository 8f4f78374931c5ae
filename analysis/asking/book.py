"""A logbook as the questions see it: the digests of one pack, and what was typed about it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Generic, Self, TypeVar

from collector.logbook import Logbook
from collector.notes import Note, read_notes

from ..digest import LogDigest
from ..limits import Limits
from ..load_logbook import Progress, of_pack, read_digests

Found_co = TypeVar("Found_co", covariant=True)


@dataclass(frozen=True, slots=True)
class Asked(Generic[Found_co]):
    """An answer, and one line for each log or note that had to be left out."""

    answer: Found_co
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Book:
    """A logbook's folder, what ``logbook.toml`` says, and which pack is asked about."""

    root: Path
    config: dict[str, Any]
    #: ``None``: the pack that was logged last.
    pack: str | None = None
    #: Told after each log that had to be read.
    progress: Progress | None = None

    @classmethod
    def open(cls, root: Path, pack: str | None = None, progress: Progress | None = None) -> Self:
        """Open a logbook; raises ``LogbookError`` if the folder is none."""
        return cls(root, Logbook.open(root).config(), pack, progress)

    def digests(self, parts: Iterable[str]) -> Asked[tuple[LogDigest, ...]]:
        """Digests of the pack's logs, oldest first.

        Raises
        ------
        LogbookError
            If there is no such pack, or no log at all.
        """
        read = read_digests(self.root, parts, self.progress)
        return Asked(of_pack(read, self.pack, str(self.root)), read.problems)

    @property
    def has_logs(self) -> bool:
        """Whether there is a log at all."""
        return bool(Logbook(self.root).logs())

    def notes(self) -> Sequence[Note]:
        """Everything noted by hand, in the order of writing."""
        return read_notes(Logbook(self.root).notes_path).rows

    def table(self, kind: str, name: str) -> dict[str, Any]:
        """The table of a pack or vehicle of that name; empty if nobody typed one."""
        tables = self.config.get(kind)
        return next((each for each in (tables if isinstance(tables, list) else [])
                     if isinstance(each, dict) and each.get("name") == name), {})

    def figure(self, kind: str, name: str, key: str) -> float | None:
        """A positive figure of such a table; ``None`` if nobody typed it."""
        typed = self.table(kind, name).get(key)
        return float(typed) if isinstance(typed, int | float) and typed > 0 else None

    def limits(self, pack: str) -> Limits:
        """What was typed in a pack's ``[pack.limits]``."""
        typed = self.table("pack", pack).get("limits")
        return Limits.typed(typed if isinstance(typed, dict) else {})

    def limit(self, pack: str, key: str) -> float | None:
        """A positive figure of a pack's ``[pack.limits]``; ``None`` if nobody typed it."""
        limits = self.table("pack", pack).get("limits")
        typed = limits.get(key) if isinstance(limits, dict) else None
        return float(typed) if isinstance(typed, int | float) and typed > 0 else None
