"""A source that says what it is given, and what a recorder makes of it."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from collector.clock import Clock
from collector.logbook import Logbook
from collector.logfile import read_log
from collector.meta import LogMeta
from collector.record import Sample
from collector.recorder import Recording, record
from collector.sources import Heard


class Told:
    """A source that says what it is given."""

    name, columns = "told", ("current_a",)

    def __init__(self, items: list[Heard], problem: Exception | None = None) -> None:
        self.items = items
        self.problem = problem
        self.clock = Clock(lambda: 1_775_117_700.0, lambda: 0.0)
        self.is_closed = False

    def open(self) -> None:
        if self.problem:
            raise self.problem

    def heard(self, _stop: threading.Event) -> Iterator[Heard]:
        yield from self.items

    def close(self) -> None:
        self.is_closed = True


def samples(count: int) -> list[Heard]:
    """Amps that count up, ten a second."""
    return [Sample(1_775_117_700_000 + 100 * n, n / 10, {"current_a": float(n)})
            for n in range(count)]


def recorded(folder: Path, source: Any, **options: Any) -> Recording:
    """The recording of a source into a logbook, for pack p."""
    return record(source, Logbook(folder), LogMeta(pack="p"), threading.Event(), **options)


def rows_of(recording: Recording) -> list[dict[str, Any]]:
    """The rows of its log."""
    assert recording.path is not None
    rows: list[dict[str, Any]] = read_log(recording.path).table.to_pylist()
    return rows
