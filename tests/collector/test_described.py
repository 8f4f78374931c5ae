"""A link and a description joined: stamps, losses, silences, requests; on a scripted link."""

import re
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import pytest

from collector.clock import Clock
from collector.errors import LinkLost, SourceUnavailable
from collector.frames.encoder import encode
from collector.monitors import description_from_tables, load_description
from collector.monitors.schema import Ask
from collector.rawfile import Chunk
from collector.record import Sample
from collector.sources import described
from collector.sources.described import DescribedSource

BINARY = load_description("demo-binary")
ASKED = replace(BINARY, ask=Ask(sends=(b"?",), every_s=1.0))
#: What the script of a link can hold: bytes, a wait without bytes, or a failure.
Step = bytes | Exception | None


class ScriptedLink:
    """Plays a script, one step a read; time passes with each read."""

    name = "scripted"

    def __init__(self, *script: Step, refusals: int = 0) -> None:
        self.now_s = 100.0
        self.asked: list[tuple[float, bytes]] = []
        self.refusals = refusals
        self.opened = self.closed = 0
        self._script: Iterator[Step] = iter(script)

    @property
    def clock(self) -> Clock:
        return Clock(lambda: self.now_s + 1e9, lambda: self.now_s)

    def open(self) -> None:
        if self.opened and self.refusals:
            self.refusals -= 1
            raise SourceUnavailable(self.name, "no such port")
        self.opened += 1

    def read(self, timeout_s: float) -> bytes:
        self.now_s += timeout_s
        step = next(self._script, EOFError())
        if isinstance(step, Exception):
            raise step
        return step or b""

    def write(self, data: bytes) -> None:
        self.asked.append((round(self.now_s, 3), data))

    def close(self) -> None:
        self.closed += 1


@pytest.fixture(autouse=True)
def _quick_pauses(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(described, "BACKOFF_S", (0.001, 0.004))


def frame(number: int) -> bytes:
    return encode(BINARY, {"sequence": number, "current_a": -23.1, "voltage_v": 52.3})


def heard(link: ScriptedLink, description: Any = BINARY) -> list[Chunk | Sample]:
    source = DescribedSource(link, description, link.clock)
    source.open()
    return list(source.heard(threading.Event()))


def numbers(items: list[Chunk | Sample]) -> list[float | str]:
    return [i.values["sequence"] for i in items if isinstance(i, Sample) and i.values]


def events(items: list[Chunk | Sample]) -> list[str]:
    return [i.event for i in items if isinstance(i, Sample) and i.event]


def test_a_chunk_comes_before_its_samples_with_one_time() -> None:
    """Frames that arrived together carry the time of their chunk; a half frame waits."""
    items = heard(ScriptedLink(frame(1) + frame(2) + frame(3)[:9], frame(3)[9:]))

    assert [type(i).__name__ for i in items] == ["Chunk", "Sample", "Sample", "Chunk", "Sample"]
    assert len({(i.time_ms, i.monotonic_s) for i in items[:3]}) == 1
    assert numbers(items) == [1, 2, 3]
    assert items[0].time_ms == (items[0].monotonic_s + 1e9) * 1000


def test_a_loss_and_a_return_are_events_and_the_half_frame_is_forgotten() -> None:
    """After a loss the line begins anew: halves from both sides are not joined."""
    link = ScriptedLink(frame(1), frame(2)[:30], LinkLost("x", "unplugged"),
                        frame(3)[30:], frame(4))
    items = heard(link)

    assert numbers(items) == [1, 4]
    assert events(items)[0] == "link lost: unplugged"
    assert events(items)[1].startswith("link back: after ")
    assert (link.opened, link.closed) == (2, 1)


def test_a_port_that_is_gone_for_a_while_is_tried_again() -> None:
    """Refusals after the first opening are never fatal."""
    link = ScriptedLink(LinkLost("x", "unplugged"), frame(1), refusals=4)

    assert numbers(heard(link)) == [1]
    assert link.refusals == 0


def test_pauses_grow_to_their_limit_and_start_again_after_bytes(
        monkeypatch: pytest.MonkeyPatch) -> None:
    """0.2, 0.4 ... 5 s between tries; a link that spoke is tried quickly again."""
    monkeypatch.setattr(described, "BACKOFF_S", (0.2, 5.0))
    pauses: list[float] = []

    class Stop(threading.Event):
        def wait(self, timeout: float | None = None) -> bool:
            pauses.append(timeout or 0.0)
            return False

    link = ScriptedLink(LinkLost("x", "off"), frame(1), LinkLost("x", "off"), frame(2), refusals=6)
    source = DescribedSource(link, BINARY, link.clock)
    source.open()
    list(source.heard(Stop()))

    assert pauses == pytest.approx([0.2, 0.4, 0.8, 1.6, 3.2, 5.0, 5.0, 0.2])


def test_the_first_opening_that_fails_is_fatal() -> None:
    """A port that is not there at the start is told at once."""
    link = ScriptedLink(refusals=1)
    link.opened = 1
    with pytest.raises(SourceUnavailable, match="no such port"):
        DescribedSource(link, BINARY).open()


@pytest.mark.parametrize(("script", "words"), [
    ([None] * 40, "silent: nothing was heard for 3 s"),
    ([b"\x00\xf8\x80"] * 40, r"silent: no frame for 3 s; 48 bytes, .*check the baud rate"),
    ([bytes([*frame(1)[:-1], 0x77])] * 40, "silent: no frame for 3 s; .* none passed the check"),
])
def test_a_silence_is_told_once_with_what_was_heard(script: list[Step], words: str) -> None:
    """Nothing, noise, and frames with a wrong check are told apart."""
    found = events(heard(ScriptedLink(*script)))

    assert len(found) == 1
    assert re.match(words, found[0])


def test_a_second_silence_is_told_again() -> None:
    """A frame in between ends the first."""
    items = heard(ScriptedLink(frame(1), *[None] * 20, frame(2), *[None] * 20))

    assert [e.partition(":")[0] for e in events(items)] == ["silent", "silent"]


def test_a_silence_while_the_computer_slept_is_told_in_full() -> None:
    """The lid was closed: the first look afterwards tells how long nothing was heard."""
    link = ScriptedLink(frame(1), None)
    reading: Callable[[float], bytes] = link.read

    def asleep(timeout_s: float) -> bytes:
        link.now_s += 7200 if link.now_s > 100.1 else 0
        return reading(timeout_s)

    link.read = asleep  # type: ignore[method-assign]

    assert events(heard(link)) == ["silent: nothing was heard for 7200 s"]


def test_a_monitor_that_must_be_asked_is_asked_at_its_period() -> None:
    """Requests keep their beat, however long the answers take."""
    link = ScriptedLink(*[None] * 35)
    heard(link, ASKED)

    assert [data for _, data in link.asked] == [b"?"] * 4
    assert [at - link.asked[0][0] for at, _ in link.asked] == pytest.approx([0, 1, 2, 3], abs=0.11)


def test_several_requests_are_sent_in_turn() -> None:
    """Each once in a round, evenly spread, so that the answers do not meet."""
    link = ScriptedLink(*[None] * 65)
    heard(link, replace(BINARY, ask=Ask(sends=(b"a", b"b", b"c"), every_s=1.5)))

    assert [data for _, data in link.asked[:6]] == [b"a", b"b", b"c"] * 2
    assert [at - link.asked[0][0] for at, _ in link.asked[:4]] == pytest.approx(
        [0, 0.5, 1.0, 1.5], abs=0.06)


def test_after_a_stall_requests_do_not_come_in_a_burst() -> None:
    """A computer that slept asks once, not once for each period it missed."""
    link = ScriptedLink(*[None] * 11)
    reading: Callable[[float], bytes] = link.read

    def stalled(timeout_s: float) -> bytes:
        link.now_s += 7.3 if len(link.asked) == 1 else 0
        return reading(timeout_s)

    link.read = stalled  # type: ignore[method-assign]
    heard(link, ASKED)

    assert len(link.asked) <= 3


def test_stop_is_obeyed() -> None:
    """Once told to stop, nothing more is read."""
    link = ScriptedLink(*[frame(n) for n in range(50)])
    source, stop = DescribedSource(link, BINARY, link.clock), threading.Event()
    taken = []
    for item in source.heard(stop):
        taken.append(item)
        stop.set()

    assert len(numbers(taken)) == 1


def test_counts_add_up_over_losses() -> None:
    """What was good and bad is counted over the whole recording."""
    link = ScriptedLink(frame(1), LinkLost("x", "off"), b"junk" + frame(2))
    source = DescribedSource(link, BINARY, link.clock)
    list(source.heard(threading.Event()))

    assert (source.counts["frames"], source.counts["junk_bytes"]) == (2, 4)
    assert source.counts["heard_bytes"] == 2 * len(frame(1)) + 4


def test_columns_are_those_of_the_description() -> None:
    """The log has a column for everything the monitor can say."""
    source = DescribedSource(ScriptedLink(), BINARY)

    assert source.columns == BINARY.columns
    assert description_from_tables(BINARY.as_tables(), "x").columns == source.columns
