"""A link and a monitor description joined: the only place where bytes become samples."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict
from typing import TYPE_CHECKING, Final

from ..changes import Changes
from ..clock import Clock
from ..errors import LinkLost, SourceUnavailable
from ..frames.stream import StreamDecoder, open_decoder
from ..gaps import NOTHING_HEARD
from ..rawfile import Chunk
from ..record import Sample
from ..running_number import RunningNumber
from ..standstill import Standstill
from . import Heard, Link
from .serial_ports import adapter_at

if TYPE_CHECKING:
    from ..monitors.schema import Description

#: Longest single wait for bytes: how soon a stop is obeyed. [s]
WAIT_S: Final = 0.2
#: First and longest pause before a lost link is opened again. [s] Chosen here: trying costs
#: next to nothing, and what a monitor says while nobody listens is lost.
BACKOFF_S: Final = (0.2, 2.0)


class DescribedSource:
    """Listens to one monitor, asks it where it must be asked, and comes back after a loss.

    Bytes that arrive together are one ``Chunk``; the samples in them carry its time. A frame that
    does not pass its check is counted and otherwise ignored, as is one that was sent twice under
    the same running number.
    """

    def __init__(self, link: Link, description: Description, clock: Clock | None = None) -> None:
        self.name = link.name
        self.columns = description.columns
        #: Frames and bytes, good and bad, since the source was made; keys as in ``Decoder`` and
        #: ``RunningNumber``.
        self.counts: Counter[str] = Counter()
        self.clock = clock or Clock()
        self._link = link
        self._description = description
        self._pause_s = BACKOFF_S[0]
        self._adapter = ""

    def open(self) -> None:
        """Open the link; raises ``SourceUnavailable``."""
        self._link.open()
        self._adapter = adapter_at(self.name)

    def close(self) -> None:
        """Let go of the link."""
        self._link.close()

    def heard(self, stop: threading.Event) -> Iterator[Heard]:
        """Everything the link brings, with losses, silences and changes as events."""
        changes = Changes()
        for item in self._connections(stop):
            if isinstance(item, Chunk):
                yield item
            else:
                yield from changes.take(item)
        yield from changes.rest()

    def _connections(self, stop: threading.Event) -> Iterator[Heard]:
        """One connection after the other."""
        while not stop.is_set():
            decoder, number = open_decoder(self._description), RunningNumber()
            try:
                yield from self._listen(decoder, number, stop)
            except EOFError:
                return
            except LinkLost as loss:
                yield from self._bring_back(loss, stop)
            finally:
                self.counts.update(asdict(decoder.counts))
                self._count_numbers(number)

    def _count_numbers(self, number: RunningNumber) -> None:
        """Who asks decides which numbers there are: then none is lost."""
        is_streamed = self._description.ask is None and self._description.transport.kind in (
            "serial", "ble")
        self.counts.update(number.counts if is_streamed
                           else {"repeated_frames": number.counts["repeated_frames"]})

    def _listen(self, decoder: StreamDecoder, number: RunningNumber,
                stop: threading.Event) -> Iterator[Heard]:
        asking, standstill = _Asking(self._link, self._description), Standstill()
        silence = _Silence(self._description, decoder, self.clock.now()[1])
        while not stop.is_set():
            asking.ask_when_due(self.clock.now()[1])
            data = self._link.read(asking.wait_s)
            now = self.clock.now()
            rows = decoder.feed(data)
            if data:
                self._pause_s = BACKOFF_S[0]
                yield Chunk(*now, data)
            for sample in (Sample(*now, values) for values in rows):
                if number.is_repeat(sample):
                    continue
                yield sample
                if words := standstill.words(sample):
                    yield Sample(*now, event=f"stale: {words}")
            if words := silence.words(now[1], len(data), bool(rows)):
                yield Sample(*now, event=f"silent: {words}")

    def _bring_back(self, loss: LinkLost, stop: threading.Event) -> Iterator[Heard]:
        """Report the loss, open the link again with growing pauses, report its return."""
        lost = self.clock.now()
        yield Sample(*lost, event=f"link lost: {loss.found}")
        self._link.close()
        while not stop.wait(self._pause_s):
            self._pause_s = min(2 * self._pause_s, BACKOFF_S[1])
            try:
                self._link.open()
            except SourceUnavailable:
                continue
            back = self.clock.now()
            yield Sample(*back, event=f"link back: after {back[1] - lost[1]:.1f} s")
            before, self._adapter = self._adapter, adapter_at(self.name)
            if before and self._adapter and before != self._adapter:
                yield Sample(*back, event="changed: another adapter is plugged in than before")
            return


class _Asking:
    """Sends the requests of a monitor that speaks only when asked, in turn, each at its time."""

    def __init__(self, link: Link, description: Description) -> None:
        self._link = link
        self._ask = description.ask
        self._due_s: float | None = None
        self._turn = 0
        #: Waits are cut short so that requests keep their time.
        self.wait_s = WAIT_S if self._ask is None else min(WAIT_S, self._ask.step_s / 10)

    def ask_when_due(self, now_s: float) -> None:
        if self._ask is None or (self._due_s is not None and now_s < self._due_s):
            return
        self._link.write(self._ask.sends[self._turn])
        self._turn = (self._turn + 1) % len(self._ask.sends)
        # Keep the beat; after a stall start a new one rather than catch up with a burst.
        due_s = now_s if self._due_s is None else self._due_s
        late = now_s - due_s > self._ask.step_s
        self._due_s = (now_s if late else due_s) + self._ask.step_s


class _Silence:
    """Notices, once for each silence, that no frame came for too long."""

    def __init__(self, description: Description, decoder: StreamDecoder, now_s: float) -> None:
        self._limit_s = description.transport.silence_s
        self._decoder = decoder
        self._frame_s = now_s
        self._bytes = 0
        self._is_told = False

    def words(self, now_s: float, count: int, has_frame: bool) -> str:
        """What to say now, empty for nothing."""
        if has_frame:
            self._frame_s, self._bytes, self._is_told = now_s, 0, False
            return ""
        self._bytes += count
        passed_s = now_s - self._frame_s  # far more than the limit if the computer slept
        if self._is_told or passed_s <= self._limit_s:
            return ""
        self._is_told = True
        if self._bytes == 0:
            return f"{NOTHING_HEARD} for {passed_s:.0f} s"
        return f"no frame for {passed_s:.0f} s; {self._decoder.describe_junk()}"
