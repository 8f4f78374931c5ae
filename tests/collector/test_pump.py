"""Hearing in a thread: nothing lost, nothing swallowed, nothing left running."""

import itertools
import math
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


def test_two_monitors_come_in_the_order_of_their_stamps() -> None:
    """Threads hand in as they like; the log has one order, and every item of both."""
    clock = Clock()

    def says(period_s: float) -> Callable[[threading.Event], Iterator[Sample]]:
        def heard(stop: threading.Event) -> Iterator[Sample]:
            for n in range(40):
                stop.wait(period_s)
                now = clock.now()
                time.sleep(0.02 * (n % 3))  # stamped, then held up on the way
                yield Sample(*now, {"sequence": n})
        return heard

    pack, receiver = Told(says(0.011)), Told(says(0.007))
    pack.columns, receiver.columns = ("current_a",), ("speed_m_s",)  # type: ignore[assignment]
    taken = list(pumped([pack, receiver], threading.Event()))
    steps = [b.monotonic_s - a.monotonic_s for (_, a), (_, b) in itertools.pairwise(taken)]

    assert min(steps) > 0
    assert [i.values["sequence"] for number, i in taken if number == 0] == list(range(40))
    assert [i.values["sequence"] for number, i in taken if number == 1] == list(range(40))


def test_the_first_source_leads() -> None:
    """When it has ended the others are stopped, and what they said is delivered."""
    def chatters(stop: threading.Event) -> Iterator[Sample]:
        yield Sample(9, 9.0, event=f"mark: {stop.wait(10)}")

    taken = list(pumped([counting(3), Told(chatters)], threading.Event()))

    assert [(number, i.time_ms) for number, i in taken] == [(0, 0), (0, 1), (0, 2), (1, 9)]
    assert taken[-1][1].event == "mark: True"


def test_what_comes_too_late_is_stamped_later() -> None:
    """Of a starved thread the order is kept, on both clocks."""
    order = pump._Order(0.25)
    order.add(0, Sample(5_000, 5.0))
    first = list(order.due(6.0))
    order.add(1, Sample(4_000, 4.0, event="mark: x"))
    [(_, late)] = order.due(math.inf)

    assert len(first) == 1
    assert (late.time_ms, late.monotonic_s, late.event) == (5_000, 5.000001, "mark: x")


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
