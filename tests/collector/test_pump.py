"""Hearing in a thread: nothing lost, nothing swallowed, nothing left running."""

import threading
import time
from collections.abc import Callable, Iterator

import pytest

from collector.clock import Clock
from collector.record import Sample
from collector.sources import pump
from collector.sources.pump import pumped


class Told:
    """A source that says what a function yields."""

    name, columns, clock = "told", (), Clock()

    def __init__(self, says: Callable[[threading.Event], Iterator[Sample]]) -> None:
        self.heard = says

    def open(self) -> None: ...

    def close(self) -> None: ...


def counting(count: int) -> Told:
    return Told(lambda _: (Sample(n, float(n)) for n in range(count)))


def listeners() -> list[str]:
    return [t.name for t in threading.enumerate() if t.name.startswith("listening")]


def test_everything_comes_in_order() -> None:
    """The thread changes nothing."""
    assert [i.time_ms for _, i in pumped([counting(5000)], threading.Event())] == list(range(5000))


def test_a_slow_writer_holds_up_a_full_queue_without_loss(monkeypatch: pytest.MonkeyPatch) -> None:
    """The queue is bounded, and what waits for room is not dropped."""
    monkeypatch.setattr(pump, "WAITING_MAX", 3)
    taken = []
    for _, item in pumped([counting(50)], threading.Event()):
        time.sleep(0.001)
        taken.append(item.time_ms)

    assert taken == list(range(50))


def test_a_fault_of_the_source_is_raised_where_it_is_read() -> None:
    """A bug in a source keeps its type, after what was heard before it."""
    def says(_: threading.Event) -> Iterator[Sample]:
        yield Sample(0, 0.0)
        raise ZeroDivisionError("bug")

    taken = pumped([Told(says)], threading.Event())
    first = next(taken)
    with pytest.raises(ZeroDivisionError, match="bug"):
        next(taken)

    assert first == (0, Sample(0, 0.0))


def test_closing_early_stops_the_thread() -> None:
    """A reader that goes away leaves no thread behind, even with a full queue."""
    def says(stop: threading.Event) -> Iterator[Sample]:
        while not stop.is_set():
            yield Sample(0, 0.0)

    stop = threading.Event()
    taken = pumped([Told(says)], stop)
    next(taken)
    taken.close()

    assert stop.is_set()
    assert listeners() == []
