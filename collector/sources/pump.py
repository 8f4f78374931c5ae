"""Hearing in threads of their own, so that a slow disk never makes a monitor's bytes late."""

from __future__ import annotations

import heapq
import math
import queue
import threading
from collections.abc import Generator, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Final

from . import Heard, Source

#: Chunks and samples that wait while the disk stalls: minutes of any serial monitor.
WAITING_MAX: Final = 20_000
#: How long what several monitors say is held to be put in order. [s] Chosen here: threads of a
#: busy small computer are late by hundredths; a kill costs no more than the last second.
HOLD_S: Final = 0.25
#: Windows notices Ctrl-C only between waits. [s]
_WAIT_S: Final = 0.5


@dataclass(frozen=True, slots=True)
class _End:
    """Closes the queue, with the error that ended the source, if one did."""

    error: BaseException | None = None


def pumped(sources: Sequence[Source],
           stop: threading.Event) -> Generator[tuple[int, Heard], None, None]:
    """What open sources hear, each with the number of its source, in the order of its stamps.

    Each source is read by a thread, which also makes the time stamps. The first source leads:
    when it ends, the others are stopped, and everything heard is delivered. What a source raises
    is raised here. Closing the generator sets ``stop`` and waits for the threads.

    Several monitors are put in order by holding each item for ``HOLD_S``. What comes later than
    that, from a thread that was starved, is stamped as if it had come right after the one before.
    """
    waiting: queue.Queue[tuple[int, Heard | _End]] = queue.Queue(WAITING_MAX)
    threads = [_listener(number, source, waiting, stop) for number, source in enumerate(sources)]
    order = _Order(HOLD_S if sum(bool(source.columns) for source in sources) > 1 else 0.0)
    listening = len(threads)
    try:
        while listening:
            number, item = _next(waiting, order)
            if isinstance(item, _End):
                if item.error is not None:
                    raise item.error
                listening -= 1
                if number == 0:
                    stop.set()
            elif item is not None:
                order.add(number, item)
            yield from order.due(sources[0].clock.now()[1])
        yield from order.due(math.inf)
    finally:
        stop.set()
        while any(thread.is_alive() for thread in threads):
            with suppress(queue.Empty):  # make room for what they still want to say
                waiting.get(timeout=0.01)


def _listener(number: int, source: Source, waiting: queue.Queue[tuple[int, Heard | _End]],
              stop: threading.Event) -> threading.Thread:
    def pump() -> None:
        end = _End()
        try:
            for item in source.heard(stop):
                waiting.put((number, item))
        except BaseException as error:
            end = _End(error)
        waiting.put((number, end))

    thread = threading.Thread(target=pump, name=f"listening to {source.name}", daemon=True)
    thread.start()
    return thread


def _next(waiting: queue.Queue[tuple[int, Heard | _End]],
          order: _Order) -> tuple[int, Heard | _End | None]:
    try:
        return waiting.get(timeout=order.hold_s or _WAIT_S)
    except queue.Empty:
        return -1, None


class _Order:
    """Holds what several threads heard until nothing earlier can come."""

    def __init__(self, hold_s: float) -> None:
        self.hold_s = hold_s
        self._held: list[tuple[float, int, int, Heard]] = []
        self._count = 0
        self._last_s = -math.inf

    def add(self, number: int, item: Heard) -> None:
        self._count += 1  # of one moment, the first to come goes first
        heapq.heappush(self._held, (item.monotonic_s, self._count, number, item))

    def due(self, now_s: float) -> Iterator[tuple[int, Heard]]:
        """What was held for long enough; at once if nothing need be held."""
        while self._held and (not self.hold_s or self._held[0][0] <= now_s - self.hold_s):
            at_s, _, number, item = heapq.heappop(self._held)
            if at_s < self._last_s and (self.hold_s or number):
                item = _later(item, self._last_s + 1e-6)
            self._last_s = item.monotonic_s
            yield number, item


def _later(item: Heard, monotonic_s: float) -> Heard:
    """The same, stamped later on both clocks."""
    shift_ms = round((monotonic_s - item.monotonic_s) * 1000)
    return replace(item, time_ms=item.time_ms + shift_ms, monotonic_s=round(monotonic_s, 6))
