"""Plays rows on a line in their time, with faults, and writes down what it really did.

The truth file has one JSON object a line: ``time`` and ``monotonic_s`` of the deed, ``kind`` and,
where bytes were sent, ``hex``. Kinds: ``whole`` (a good frame), ``stale`` (a good frame whose
figures stand still), ``twice`` (its copy), ``torn``, ``wrong-check``, ``garbage``, ``lost`` (not
sent), ``misheard`` (at another baud rate), ``unplug``, ``plug``, ``unheard`` (the line was full,
for nobody listens), and the kinds of faults that last.
"""

from __future__ import annotations

import json
import random
import threading
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Final, Protocol, TextIO

from ..clock import Clock, iso_utc
from ..monitors import Description
from . import faults
from .faults import AWAY, FLAP_S, Fault
from .live import Row
from .row_faults import Teller
from .voices import voice

#: Before the cable is pulled, so that the listener has read what was sent. [s]
_LAST_WORDS_S: Final = 0.3
#: Longest look for a request. [s]
_LOOK_S: Final = 0.2
#: Falling behind by more than this (a sleeping laptop) sets the pace anew. [s]
_BEHIND_S: Final = 1.0


class Line(Protocol):
    """The monitor's end of what it speaks on."""

    @property
    def is_plugged(self) -> bool: ...

    def plug(self) -> None: ...

    def unplug(self) -> None: ...

    def write(self, data: bytes) -> bool:
        """Send bytes; false if nobody takes them."""
        ...

    def read(self, timeout_s: float) -> bytes:
        """What the listener sent, empty after the timeout."""
        ...


@dataclass(slots=True)
class Player:
    """A monitor on its line, which must be plugged in."""

    description: Description
    line: Line
    rng: random.Random
    script: Iterator[Fault] = field(default_factory=lambda: iter(()))
    truth: TextIO | None = None
    clock: Clock = field(default_factory=Clock)
    #: Good frames that went out.
    sent: int = 0
    _next: Fault | None = None
    _lasting: Fault | None = None
    _frame: bytes = b""
    _spoil: str = ""
    #: Held back: a frame to be sent after the next, and those of a burst.
    _later: bytes = b""
    _dammed: list[bytes] = field(default_factory=list)
    _teller: Teller = field(default_factory=Teller)

    @property
    def _kind(self) -> str:
        """The fault that lasts now, empty for none."""
        return self._lasting.kind if self._lasting else ""

    def play(self, rows: Iterable[Row], interval_s: float, stop: threading.Event) -> None:
        """Send one frame each interval until ``stop`` is set or the rows end.

        A monitor that has to be asked sends nothing by itself: it answers with the latest frame.
        """
        self._next = next(self.script, None)
        start_s = due_s = self.clock.steady()
        for row in rows:
            self._wait(due_s, stop)
            if stop.is_set():
                return
            now_s = self.clock.steady()
            self._begin_and_end_faults(now_s - start_s, stop)
            if self._kind != "stale":
                self._frame = voice(self.description, self._teller.tell(row, self._kind))
            if not self.description.ask:
                self._send()
            due_s = due_s + interval_s if now_s - due_s < _BEHIND_S else now_s + interval_s

    def _wait(self, due_s: float, stop: threading.Event) -> None:
        """Until the next frame is due; what has to be asked answers meanwhile."""
        ask = self.description.ask
        while (left_s := due_s - self.clock.steady()) > 0 and not stop.is_set():
            if ask and self.line.is_plugged:
                asked = self.line.read(min(left_s, _LOOK_S))
                if any(send in asked for send in ask.sends):
                    self._send()
            else:
                stop.wait(left_s)

    def _begin_and_end_faults(self, elapsed_s: float, stop: threading.Event) -> None:
        if self._lasting and elapsed_s >= self._lasting.end_s:
            self._end(self._lasting.kind)
            self._lasting = None
        elif self._lasting and self._lasting.kind == "flap":
            self._plug(is_plugged=(elapsed_s - self._lasting.at_s) // FLAP_S % 2 == 1)
        if self._lasting or self._next is None or elapsed_s < self._next.at_s:
            return
        fault, self._next = self._next, next(self.script, None)
        if fault.for_s:
            self._lasting = replace(fault, at_s=elapsed_s)
            self._tell(fault.kind)
        else:
            self._spoil = fault.kind
        if fault.kind in AWAY or fault.kind == "flap":
            stop.wait(_LAST_WORDS_S)
            self.line.unplug()

    def _end(self, kind: str) -> None:
        """Mend what lasted."""
        if kind in AWAY or kind == "flap":
            self._plug(is_plugged=True)
        dammed, self._dammed = b"".join(self._dammed), []
        if dammed:
            self._put("whole", dammed)

    def _plug(self, *, is_plugged: bool) -> None:
        if is_plugged and not self.line.is_plugged:
            self.line.plug()
            self._tell("plug")
        elif self.line.is_plugged and not is_plugged:
            self.line.unplug()

    def _send(self) -> None:
        """The frame of the moment, spoilt if a fault says so; nothing in silence."""
        if not self._frame or self._kind == "pause" or not self.line.is_plugged:
            return
        spoil, self._spoil = self._spoil, ""
        later, self._later = self._later, b""
        match spoil or self._kind:
            case "burst":
                self._dammed.append(self._frame)
            case "torn":
                self._put("torn", faults.torn(self._frame, self.rng))
            case "wrong-check":
                self._put("wrong-check", faults.bit_turned(self._frame, self.rng))
            case "wrong-baud":
                self._put("misheard", faults.misheard(self._frame))
            case "lost":
                self._tell("lost", self._frame)
            case "reordered":
                self._later = self._frame
            case kind:
                if kind == "garbage":
                    self._put("garbage", faults.garbage(self.rng))
                self._put("stale" if kind == "stale" else "whole", self._frame)
                if kind == "twice":
                    self._put("twice", self._frame)
        if later:
            self._put("whole", later)

    def _put(self, kind: str, data: bytes) -> None:
        is_heard = self.line.write(data)
        self.sent += is_heard and kind in ("whole", "stale")
        self._tell(kind if is_heard else "unheard", data)

    def _tell(self, kind: str, data: bytes = b"") -> None:
        if self.truth:
            time_ms, monotonic_s = self.clock.now()
            deed = {"time": iso_utc(time_ms), "monotonic_s": monotonic_s, "kind": kind}
            self.truth.write(json.dumps(deed | ({"hex": data.hex()} if data else {})) + "\n")
            self.truth.flush()
