"""Hearing in a thread of its own, so that a slow disk never makes a monitor's bytes late."""

from __future__ import annotations

import queue
import threading
from collections.abc import Generator
from contextlib import suppress
from dataclasses import dataclass
from typing import Final

from . import Heard, Source

#: Chunks and samples that wait while the disk stalls: minutes of any serial monitor.
WAITING_MAX: Final = 20_000
#: Windows notices Ctrl-C only between waits. [s]
_WAIT_S: Final = 0.5


@dataclass(frozen=True, slots=True)
class _End:
    """Closes the queue, with the error that ended the source, if one did."""

    error: BaseException | None = None


def pumped(source: Source, stop: threading.Event) -> Generator[Heard, None, None]:
    """What an open source hears, read from it by a thread, which also makes the time stamps.

    Ends when the source ends, with everything delivered. What the source raises is raised here.
    Closing the generator sets ``stop`` and waits for the thread.
    """
    waiting: queue.Queue[Heard | _End] = queue.Queue(WAITING_MAX)

    def pump() -> None:
        end = _End()
        try:
            for item in source.heard(stop):
                waiting.put(item)
        except BaseException as error:
            end = _End(error)
        waiting.put(end)

    thread = threading.Thread(target=pump, name=f"listening to {source.name}", daemon=True)
    thread.start()
    try:
        while not isinstance(item := _next(waiting), _End):
            yield item
        if item.error is not None:
            raise item.error
    finally:
        stop.set()
        while thread.is_alive():
            with suppress(queue.Empty):  # make room for what it still wants to say
                waiting.get(timeout=0.01)


def _next(waiting: queue.Queue[Heard | _End]) -> Heard | _End:
    while True:
        with suppress(queue.Empty):
            return waiting.get(timeout=_WAIT_S)
