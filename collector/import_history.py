"""What a logbook keeps about its imports: answers to give again, and what to take back.

``imports.json`` holds two lists, written by this program and plain to read::

    remembered   what a person said about tables with certain headings, by their fingerprint
    batches      the logs and place layers that each call of 'packhand import' brought in

The headings as they stand in the file are the fingerprint: a table with one column more is another
table, and is asked about anew.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any, Final, Self

from .errors import LogbookError
from .logbook import unwritable

HISTORY_NAME: Final = "imports.json"


@dataclass(frozen=True, slots=True)
class Answers:
    """What a person said about a table; empty where nothing was said."""

    #: Log column -> ``heading`` or ``heading:unit``.
    columns: dict[str, str] = field(default_factory=dict)
    #: ``day-first``, ``month-first`` or ``year-first``.
    dates: str = ""
    #: IANA name.
    zone: str = ""
    #: ``.`` or ``,``.
    decimal: str = ""
    #: What minus amps mean: ``out`` of the pack or ``in``.
    minus: str = ""

    def over(self, older: Answers) -> Answers:
        """These, and the older ones where these say nothing."""
        return Answers(older.columns | self.columns, self.dates or older.dates,
                       self.zone or older.zone, self.decimal or older.decimal,
                       self.minus or older.minus)

    def __bool__(self) -> bool:
        return self != Answers()

    @property
    def words(self) -> str:
        """The same as options of ``packhand import``."""
        told = [f"--map {name}={target!r}" for name, target in self.columns.items()]
        told += [f"--{name} {text}" for name, text in asdict(self).items()
                 if isinstance(text, str) and text]
        return " ".join(told)


@dataclass(frozen=True, slots=True)
class Remembered:
    """Answers for tables with certain headings."""

    fingerprint: str
    headings: tuple[str, ...]
    answers: Answers
    #: The file they were given for, and when. [ISO 8601]
    file: str
    time: str


@dataclass(frozen=True, slots=True)
class Batch:
    """What one call of ``packhand import`` brought in."""

    #: ISO 8601.
    time: str
    files: tuple[str, ...]
    #: Paths in the logbook, each with the SHA-256 of the file that it came from.
    logs: tuple[tuple[str, str], ...]
    #: Fingerprints that it began to remember.
    fingerprints: tuple[str, ...] = ()


def fingerprint_of(headings: Sequence[str]) -> str:
    """Eight hexadecimal digits that stand for these headings in this order."""
    return hashlib.sha256("\x1f".join(headings).encode()).hexdigest()[:8]


@dataclass(slots=True)
class ImportHistory:
    """The import history of one logbook; ``save`` writes it."""

    path: Path
    remembered: list[Remembered] = field(default_factory=list)
    batches: list[Batch] = field(default_factory=list)

    @classmethod
    def read(cls, root: Path) -> Self:
        """The history of a logbook, empty if there is none yet.

        Raises
        ------
        LogbookError
            If the file cannot be read, or was spoilt.
        """
        path = root / HISTORY_NAME
        try:
            data = json.loads(path.read_text(encoding="utf-8"))
            return cls(path, [_remembered(one) for one in data["remembered"]],
                       [_batch(one) for one in data["batches"]])
        except FileNotFoundError:
            return cls(path)
        except NotADirectoryError as error:
            raise unwritable(root, error) from error
        except OSError as error:
            raise LogbookError(str(path), f"cannot be read ({error.strerror})",
                               "ask whose it is for permission") from error
        except (ValueError, KeyError, TypeError) as error:
            raise LogbookError(str(path), "not an import history",
                               "put it aside; only remembered answers are lost") from error

    def recall(self, headings: Sequence[str]) -> Remembered | None:
        """What is remembered for these headings."""
        wanted = fingerprint_of(headings)
        return next((one for one in self.remembered if one.fingerprint == wanted), None)

    def remember(self, headings: Sequence[str], answers: Answers, file: str, time: str) -> bool:
        """Keep answers for these headings, over older ones; whether they are the first."""
        older = self.recall(headings)
        if older is not None:
            newer = replace(older, answers=answers.over(older.answers), file=file, time=time)
            self.remembered[self.remembered.index(older)] = newer
            return False
        self.remembered.append(
            Remembered(fingerprint_of(headings), tuple(headings), answers, file, time))
        return True

    def forget(self, fingerprint: str) -> bool:
        """Drop what is remembered under a fingerprint, or ``all``; whether there was any."""
        kept = [one for one in self.remembered
                if fingerprint not in ("all", one.fingerprint)]
        found = len(kept) < len(self.remembered)
        self.remembered = kept
        return found

    def save(self) -> None:
        """Write the file anew, whole or not at all; raises ``LogbookError``."""
        text = json.dumps({"remembered": [asdict(one) for one in self.remembered],
                           "batches": [asdict(one) for one in self.batches]},
                          indent=2, ensure_ascii=False)
        unfinished = self.path.with_suffix(".part")
        try:
            with unfinished.open("w", encoding="utf-8") as file:
                file.write(text + "\n")
                file.flush()
                os.fsync(file.fileno())
            unfinished.replace(self.path)
        except OSError as error:
            raise unwritable(self.path, error) from error


def _remembered(data: dict[str, Any]) -> Remembered:
    return Remembered(data["fingerprint"], tuple(data["headings"]), Answers(**data["answers"]),
                      data["file"], data["time"])


def _batch(data: dict[str, Any]) -> Batch:
    return Batch(data["time"], tuple(data["files"]),
                 tuple((log, sha256) for log, sha256 in data["logs"]),
                 tuple(data["fingerprints"]))
