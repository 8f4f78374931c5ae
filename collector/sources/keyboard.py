"""The keyboard as a source beside a monitor: space or Enter marks the moment."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from typing import Final

from ..clock import Clock
from ..keys import ReadKey
from ..record import Sample

#: What the keys do, for the person.
KEYS: Final = "space or Enter marks a moment, s shelves a sounding alarm"
#: The event that silences what sounds.
SHELVE: Final = "alarm: shelved"
#: How soon a stop is obeyed. [s]
_WAIT_S: Final = 0.2


class MarkKeys:
    """Events for the log from single keys."""

    name = "keyboard"
    columns: tuple[str, ...] = ()

    def __init__(self, read_key: ReadKey, clock: Clock | None = None) -> None:
        self.clock = clock or Clock()
        self._read_key = read_key

    def open(self) -> None:
        """Nothing to connect."""

    def close(self) -> None:
        """Nothing to let go."""

    def heard(self, stop: threading.Event) -> Iterator[Sample]:
        """A numbered mark for each space or Enter, until stopped."""
        marks = 0
        while not stop.is_set():
            key = self._read_key(_WAIT_S)
            if key in (" ", "\n", "\r") and key:
                marks += 1
                yield Sample(*self.clock.now(), event=f"mark: {marks}")
            elif key == "s":
                yield Sample(*self.clock.now(), event=SHELVE)
