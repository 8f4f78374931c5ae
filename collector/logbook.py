"""The logbook: a folder of logs that a person can copy, open and read in ten years.

::

    logbook.toml                          vehicles, packs, limits, claims, units
    logs/2026-04-02T08-15-00Z.parquet     one drive, charge or rest
    logs/2026-04-02T08-15-00Z.csv         the same while it is being recorded
    logs/2026-04-02T08-15-00Z.raw         the bytes as heard
    notes.csv                             marks and hand readings
    parts.toml                            parts of the vehicle, as their labels say
    corrections.csv                       dated corrections, accepted and taken back
    places/2026-04-02T08-15-00Z.parquet   a track laid beside the log of that name
    imports.json                          what was imported, and what was said about such tables
"""

from __future__ import annotations

import errno
import os
import tomllib
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final, Self

from filelock import FileLock, Timeout

from .clock import local_zone
from .errors import LogbookError, LogInUse, PackhandError
from .journal import Damage
from .logfile import JOURNAL_SUFFIX, PARQUET_SUFFIX, is_unbegun, read_meta, recover_log

CONFIG_NAME: Final = "logbook.toml"
STEM_FORMAT: Final = "%Y-%m-%dT%H-%M-%SZ"
_LOCK_SUFFIX: Final = ".lock"
#: How long a recorder tries for a log: a reader that asks ``is_held`` has it for a moment. [s]
_PROBE_S: Final = 0.5
#: Recorders that may start in the same second.
_STEMS_TRIED: Final = 4

_NEW_CONFIG: Final = """\
# A packhand logbook: what the figures in logs/ belong to. Edit freely.
# The page Pack & limits and 'packhand labels' type these figures too, and list all there are.

[units]
distance = "km"        # km or mi
temperature = "C"      # C or F

# [[vehicle]]
# name = "flatbed"

# [[pack]]
# name = "main"
# cells = 16
# rated_ah = 105

# [pack.limits]          # what the board allows, for the analysis
# continuous_a = 100

# [pack.alarms]          # told while recording; an alarm protects nothing
# out_a = {limit = 100, for_s = 60}
# cell_low_v = 2.9
# cold_charging_c = 0
"""


@dataclass(frozen=True, slots=True)
class LogEntry:
    """One log of a logbook."""

    stem: str
    path: Path
    #: True while a recorder holds it.
    is_live: bool

    @property
    def is_journal(self) -> bool:
        return self.path.suffix == JOURNAL_SUFFIX


@dataclass(frozen=True, slots=True)
class Recovery:
    """A journal brought back by ``Logbook.recover``, or why it could not be."""

    path: Path
    damage: Damage
    problem: str = ""

    @property
    def words(self) -> str:
        """What happened, in one line."""
        if self.problem:
            return f"{self.path.name}: not brought back: {self.problem}"
        found = f"; {self.damage}" if self.damage else ", nothing torn or damaged"
        return f"{self.path.name}: brought back from its journal{found}"


def unwritable(folder: Path, error: OSError) -> LogbookError:
    """The one way to say that a folder takes no file."""
    found = ("a file, not a folder" if os.path.isfile(folder)  # noqa: PTH113 - never raises
             else f"cannot be written ({error.strerror})")
    remedy = ("make room on the disk" if error.errno in (errno.ENOSPC, errno.EDQUOT)
              else "choose another folder with --logbook")
    return LogbookError(str(folder), found, remedy)


class Logbook:
    """A logbook folder."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.logs_folder = root / "logs"
        self.notes_path = root / "notes.csv"
        self.corrections_path = root / "corrections.csv"
        self.places_folder = root / "places"

    @classmethod
    def open(cls, root: Path) -> Self:
        """A logbook that exists.

        Raises
        ------
        LogbookError
            If the folder has no ``logs`` folder and no ``logbook.toml``.
        """
        book = cls(root)
        if not (book.logs_folder.is_dir() or (root / CONFIG_NAME).is_file()):
            found = "no such folder" if not root.exists() else "not a logbook"
            raise LogbookError(str(root), found,
                               f"a logbook holds {CONFIG_NAME} and a folder logs/")
        return book

    @classmethod
    def create(cls, root: Path) -> Self:
        """A logbook, made if it is not there yet.

        Raises
        ------
        LogbookError
            If the folder cannot be made or written.
        """
        book = cls(root)
        try:
            book.logs_folder.mkdir(parents=True, exist_ok=True)
            if not (root / CONFIG_NAME).exists():
                (root / CONFIG_NAME).write_text(_NEW_CONFIG, encoding="utf-8")
        except OSError as error:
            raise unwritable(root, error) from error
        if not os.access(book.logs_folder, os.W_OK):
            raise unwritable(book.logs_folder, OSError(errno.EROFS, "read-only"))
        return book

    def config(self) -> dict[str, Any]:
        """The tables of ``logbook.toml``, empty if there is none.

        Raises
        ------
        LogbookError
            If the file may not be read, or is not TOML; names line and column then.
        """
        path = self.root / CONFIG_NAME
        try:
            return tomllib.loads(path.read_text(encoding="utf-8"))
        except (FileNotFoundError, NotADirectoryError):
            return {}
        except OSError as error:
            raise LogbookError(str(path), f"cannot be read ({error.strerror})",
                               "ask whose it is for permission") from error
        except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
            raise LogbookError(str(path), f"not TOML: {error}", "mend that line") from error

    def logs(self) -> list[LogEntry]:
        """Every log, oldest first; of a stem with both forms, the journal."""
        found: dict[str, Path] = {}
        for suffix in (PARQUET_SUFFIX, JOURNAL_SUFFIX):
            found |= {path.stem: path for path in self.logs_folder.glob(f"*{suffix}")}
        return [LogEntry(stem, path, path.suffix == JOURNAL_SUFFIX and self.is_held(stem))
                for stem, path in sorted(found.items())]

    def time_zone(self) -> str:
        """Where the newest log was recorded; before the first log, where this computer stands."""
        for entry in reversed([each for each in self.logs() if not each.is_live]):
            with suppress(PackhandError, OSError):  # whoever reads that log tells what is wrong
                return read_meta(entry.path).time_zone
        return local_zone()

    def entry(self, stem: str) -> LogEntry | None:
        """The log of that stem, ``None`` if there is none."""
        return next((entry for entry in self.logs() if entry.stem == stem), None)

    def stem_for(self, start: datetime) -> str:
        """A stem for a log that starts then, free in this logbook.

        Two logs of one second (two monitors started together) get a number behind the Z.
        """
        stem = start.astimezone(UTC).strftime(STEM_FORMAT)
        taken = {path.stem for path in self.logs_folder.iterdir()}
        number = 1
        candidate = stem
        while candidate in taken:
            number += 1
            candidate = f"{stem}-{number}"
        return candidate

    @contextmanager
    def new_log(self, start: datetime) -> Iterator[str]:
        """Hold a stem for a log that starts then; no other recorder can have taken it.

        Raises
        ------
        LogInUse
            If other recorders took one stem after the other.
        LogbookError
            If the folder cannot be written.
        """
        for tries_left in reversed(range(_STEMS_TRIED)):
            stem = self.stem_for(start)
            with ExitStack() as held:
                try:
                    held.enter_context(self.hold(stem))
                except LogInUse:
                    if tries_left:
                        continue
                    raise
                if self.entry(stem) is None:  # else recorded and closed since it was looked up
                    yield stem
                    return
        raise LogInUse(str(self.logs_folder), "other recorders took every name", "start again")

    def place_path(self, stem: str) -> Path:
        """Where the track beside a log lies, if it has one."""
        return self.places_folder / f"{stem}{PARQUET_SUFFIX}"

    def log_path(self, stem: str, suffix: str = PARQUET_SUFFIX) -> Path:
        return self.logs_folder / f"{stem}{suffix}"

    @contextmanager
    def hold(self, stem: str) -> Iterator[None]:
        """Hold a log for writing; the system lets go of it when the program dies.

        Raises
        ------
        LogInUse
            If another program holds it.
        LogbookError
            If the folder cannot be written.
        """
        lock = self._lock(stem)
        try:
            lock.acquire(timeout=_PROBE_S)
        except Timeout:
            raise LogInUse(stem, "another recorder is writing this log",
                           "stop it first, or record into another logbook") from None
        except OSError as error:
            raise unwritable(self.logs_folder, error) from error
        try:
            yield
        finally:
            with suppress(OSError):  # Windows removes it itself, and only after the release
                Path(lock.lock_file).unlink()
            lock.release()

    def is_held(self, stem: str) -> bool:
        """Whether a recorder holds the log now.

        A lock of another user cannot be tried and counts as held; one on a read-only disk was
        copied there and does not.
        """
        lock = self._lock(stem)
        if not Path(lock.lock_file).exists():
            return False
        try:
            with lock.acquire(timeout=0):
                return False
        except (Timeout, PermissionError):
            return True
        except OSError:
            return False

    def _lock(self, stem: str) -> FileLock:
        return FileLock(self.log_path(stem, _LOCK_SUFFIX), is_singleton=False)

    def recover(self) -> list[Recovery]:
        """Bring back every journal that no recorder holds. Nothing is lost if one fails."""
        return [self._recover_one(entry) for entry in self.logs()
                if entry.is_journal and not entry.is_live]

    def _recover_one(self, entry: LogEntry) -> Recovery:
        try:
            with self.hold(entry.stem):
                if is_unbegun(entry.path):
                    entry.path.unlink()
                    return Recovery(entry.path, Damage(), "nothing was in it yet; removed")
                path, damage = recover_log(entry.path)
        except PackhandError as error:
            return Recovery(entry.path, Damage(), error.found)
        except OSError as error:
            return Recovery(entry.path, Damage(), f"{error.strerror}; it stays as it is")
        return Recovery(path, damage)
