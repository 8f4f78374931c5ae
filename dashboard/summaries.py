"""What the list of drives shows of each log, worked out once and kept in a small file.

A summary is keyed by the log's name, size and time of change, so that a changed log is read again
and a copied logbook is not. Summaries are worked out one after the other in a background thread;
a page never waits for them.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any, Final

#: Raised when the content of a summary changes, so that old ones are worked out again.
EDITION: Final = 3
#: Summaries worked out between two writes of the file.
_SAVE_EACH: Final = 20


@dataclass(frozen=True, slots=True)
class Summary:
    """One row of the list. ``None`` where the log cannot tell."""

    #: Local start, ISO 8601 with offset.
    start: str = ""
    duration_s: float = 0.0
    #: ``drive``, ``charge`` or ``rest``.
    kind: str = ""
    out_ah: float | None = None
    in_ah: float | None = None
    wh_per_km: float | None = None
    invented: bool = False
    #: How the amps are meant, as in the log's sign decision.
    convention: str = ""
    #: Lowest and highest amps of each column of the small line.
    amps: tuple[tuple[float, float] | None, ...] = ()
    #: Why the log cannot be read, empty if it can.
    problem: str = ""


class SummaryShelf:
    """Summaries of a logbook's logs, filled from behind."""

    def __init__(self, path: Path, work_out: Callable[[Path], Summary]) -> None:
        self._path = path
        self._work_out = work_out
        self._lock = threading.Lock()
        self._found = _read(path)
        self._wanted: dict[str, Path] = {}
        self._thread: threading.Thread | None = None

    def of(self, logs: Iterable[Path]) -> list[Summary | None]:
        """Summaries in the order of the logs, ``None`` for those still to be worked out.

        They are worked out in that order too, so that the first on the page come first.
        """
        keys = [(key_of(path), path) for path in logs]
        with self._lock:
            missing = {key: path for key, path in keys if key not in self._found}
            self._wanted = missing
            if missing and self._thread is None:
                self._thread = threading.Thread(target=self._fill, daemon=True)
                self._thread.start()
            return [self._found.get(key) for key, _ in keys]

    def known(self, path: Path) -> Summary | None:
        """The summary of a log if it is there; asks for nothing."""
        with self._lock:
            return self._found.get(key_of(path))

    def settle(self, timeout_s: float) -> None:
        """Wait until the thread has worked out what was asked for."""
        if (thread := self._thread) is not None:
            thread.join(timeout_s)

    def _fill(self) -> None:
        done = 0
        while True:
            with self._lock:
                if not self._wanted:
                    self._thread = None
                    break
                key = next(iter(self._wanted))
                path = self._wanted.pop(key)
            summary = self._work_out(path)
            with self._lock:
                self._found[key] = summary
            done += 1
            if done % _SAVE_EACH == 0:
                self._save()
        self._save()

    def _save(self) -> None:
        with self._lock:
            kept = {key: asdict(summary) for key, summary in self._found.items()}
        text = json.dumps({"edition": EDITION, "summaries": kept}, separators=(",", ":"))
        part = self._path.with_suffix(".part")
        with suppress(OSError):  # a logbook on a read-only disk is summarised anew each time
            self._path.parent.mkdir(exist_ok=True)
            part.write_text(text, encoding="utf-8")
            part.replace(self._path)


def key_of(path: Path) -> str:
    """Name, size and time of change of a file; the name alone if it has just gone."""
    try:
        found = path.stat()
    except FileNotFoundError:
        return path.name
    return f"{path.name} {found.st_size} {found.st_mtime_ns}"


def _read(path: Path) -> dict[str, Summary]:
    """What was kept; nothing if the file is missing, damaged or of another edition."""
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
        if kept["edition"] != EDITION:
            return {}
        return {str(key): _summary(entry) for key, entry in kept["summaries"].items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return {}


def _summary(entry: Mapping[str, Any]) -> Summary:
    known = {f.name: entry[f.name] for f in fields(Summary)}
    known["amps"] = tuple(tuple(pair) if pair else None for pair in known["amps"])
    return Summary(**known)
