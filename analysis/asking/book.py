"""A logbook as the questions see it: the digests of one pack, and what was typed about it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Generic, Self, TypeVar

from collector.errors import DescriptionError
from collector.logbook import CONFIG_NAME, Logbook
from collector.logbook_figures import table_of, typed_of
from collector.notes import Note, read_notes
from collector.parts_file import PARTS_NAME
from collector.table_file import read_tables

from ..digest import LogDigest
from ..limits import Limits
from ..load_logbook import Progress, of_pack, read_digests
from ..local_days import tell_days_in

Found_co = TypeVar("Found_co", covariant=True)
#: Key of ``Limits`` -> that of a breaker in the parts list.
_OF_BREAKER: Final[Mapping[str, str]] = {
    "breaker_a": "rating_a", "breaker_v": "marked_v_dc", "breaker_c": "enclosure_c"}


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
    #: Parts of a digest kept of each log that has to be opened, whatever is asked.
    keep: tuple[str, ...] = ()

    @classmethod
    def open(cls, root: Path, pack: str | None = None, progress: Progress | None = None,
             keep: tuple[str, ...] = ()) -> Self:
        """Open a logbook, and tell days as at its place from here on.

        Raises ``LogbookError`` if the folder is none.
        """
        logbook = Logbook.open(root)
        tell_days_in(logbook.time_zone())
        return cls(root, logbook.config(), pack, progress, keep)

    def digests(self, parts: Iterable[str]) -> Asked[tuple[LogDigest, ...]]:
        """Digests of the pack's logs, oldest first.

        Raises
        ------
        LogbookError
            If there is no such pack, or no log at all.
        """
        read = read_digests(self.root, parts, self.progress, self.keep)
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
        return table_of(self.config, kind, name)

    def figure(self, kind: str, name: str, key: str) -> float | None:
        """A positive figure of such a table; ``None`` if nobody typed it."""
        typed = self.table(kind, name).get(key)
        return float(typed) if isinstance(typed, int | float) and typed > 0 else None

    def limits(self, pack: str) -> Limits:
        """What was typed in a pack's ``[pack.limits]``, and the breaker as the parts list has it
        where it is not typed there."""
        typed = typed_of(self.config, "limits", pack)
        return Limits.typed(typed if "breaker_a" in typed else typed | self._breaker(pack))

    def limit(self, pack: str, key: str) -> float | None:
        """A positive figure of a pack's ``[pack.limits]``; ``None`` if nobody typed it."""
        typed = typed_of(self.config, "limits", pack).get(key)
        return float(typed) if isinstance(typed, int | float) and typed > 0 else None

    def _breaker(self, pack: str) -> dict[str, Any]:
        """The smallest thermal breaker of the parts list that carries the pack's own amps; a list
        that cannot be read is told where parts are judged."""
        tables: dict[str, Any] = {}
        with suppress(FileNotFoundError, DescriptionError):
            tables = read_tables(self.root / PARTS_NAME)
        own, listed = tables.get("pack"), tables.get("breaker")
        if isinstance(own, dict) and own.get("name", pack) != pack:
            return {}
        found = [{key: each.get(name) for key, name in _OF_BREAKER.items()}
                 for each in (listed if isinstance(listed, list) else [])
                 if isinstance(each, dict) and "load_a" not in each
                 and each.get("is_thermal", True) is True
                 and isinstance(each.get("rating_a"), int | float)]
        return min(found, key=lambda each: float(each["breaker_a"]), default={})


def limits_beside(log: Path, pack: str) -> Limits:
    """What is typed of a log's pack in the logbook that the log lies in; nothing if it is in none.

    Raises ``LogbookError`` if ``logbook.toml`` cannot be read.
    """
    book = book_beside(log)
    return book.limits(pack) if book else Limits()


def rated_ah_beside(log: Path, pack: str) -> float | None:
    """What is typed there that the log's pack holds; raises as above. [Ah]"""
    book = book_beside(log)
    return book.figure("pack", pack, "rated_ah") if book else None


def book_beside(log: Path) -> Book | None:
    """The logbook that a log lies in; ``None`` if it is in none. Raises as ``Book.open``."""
    return _book_at(log.absolute().parent.parent)


def book_of_parts(listed: Path) -> Book | None:
    """The logbook whose parts list this file is; ``None`` if it is none's. Raises as above."""
    return _book_at(listed.absolute().parent) if listed.name == PARTS_NAME else None


def _book_at(root: Path) -> Book | None:
    return Book.open(root) if (root / CONFIG_NAME).is_file() else None
