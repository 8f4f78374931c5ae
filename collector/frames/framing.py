"""Cutting a byte stream into frames.

Every framer keeps one contract: ``feed(data)`` returns the frames that became whole, the rest
waits for more; however the stream is cut into pieces, the frames and the counts are the same. A
candidate that fails the check is not a frame: one byte of it is passed over and the search goes
on, so that junk which looks like the start of a frame, or a damaged frame, never swallows the
good frame behind it. What is passed over is counted, never raised. Memory is bounded by
``max_length`` and the size of one ``feed``.

A frame is what lies on the wire with its start and end bytes, but without line ends; of COBS
and SLIP it is the packet inside.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Literal, Protocol

from .place import Place
from .stuffing import COBS_END, SLIP_END, cobs_decoded, slip_decoded

Kind = Literal["line", "delimited", "fixed", "length", "cobs", "slip"]


@dataclass(frozen=True, slots=True)
class Framing:
    """How frames lie in the stream."""

    kind: Kind
    #: Bytes each frame begins with; may be empty where the kind finds frames without.
    start: bytes = b""
    #: Bytes each frame ends with (``delimited``), or that are sent behind it (``line``).
    end: bytes = b""
    #: Whole length of a ``fixed`` frame. [bytes]
    length: int = 0
    #: Where a ``length`` frame says how long it is.
    length_place: Place = field(default_factory=lambda: Place(0))
    #: Bytes of the whole frame that its length field does not count.
    length_adds: int = 0
    #: No frame is longer than this. [bytes]
    max_length: int = 512


@dataclass(slots=True)
class Skipped:
    """What a framer passed over."""

    #: Candidates that were whole but did not pass the check.
    failed_checks: int = 0
    #: Bytes that belong to no frame.
    junk_bytes: int = 0


class Framer(Protocol):
    """Cuts a stream into frames."""

    skipped: Skipped

    def feed(self, data: bytes) -> list[bytes]:
        """Frames that these bytes made whole, in order."""
        ...


#: Tells whether a candidate is a frame.
Test = Callable[[bytes], bool]


def open_framer(framing: Framing, is_good: Test, min_length: int = 1) -> Framer:
    """A framer for one stream; candidates shorter than ``min_length`` are not frames."""
    if framing.kind in ("fixed", "length"):
        return SizedFramer(framing, is_good, min_length)
    if framing.kind == "delimited":
        return DelimitedFramer(framing, is_good, min_length)
    return SplitFramer(framing, is_good)


class SizedFramer:
    """Frames whose start tells their length: ``fixed`` and ``length``."""

    def __init__(self, framing: Framing, is_good: Test, min_length: int) -> None:
        self.skipped = Skipped()
        self._framing = framing
        self._is_good = is_good
        self._min_length = max(min_length, len(framing.start), 1)
        self._buffer = bytearray()

    def feed(self, data: bytes) -> list[bytes]:
        self._buffer += data
        frames = []
        at = 0
        while (begin := self._search(at)) is not None:
            size = self._size_at(begin)
            if begin + size > len(self._buffer):
                break
            candidate = bytes(self._buffer[begin:begin + size])
            if size and self._is_good(candidate):
                frames.append(candidate)
                self.skipped.junk_bytes += begin - at
                at = begin + size
            else:
                self.skipped.failed_checks += size > 0
                self.skipped.junk_bytes += begin + 1 - at
                at = begin + 1
        else:
            begin = max(at, len(self._buffer) - max(0, len(self._framing.start) - 1))
        self.skipped.junk_bytes += begin - at
        del self._buffer[:begin]
        return frames

    def _search(self, at: int) -> int | None:
        begin = self._buffer.find(self._framing.start, at)
        return begin if 0 <= begin < len(self._buffer) else None

    def _size_at(self, begin: int) -> int:
        """Length of the frame that starts here, 0 if none can; more than is there if unknown."""
        framing = self._framing
        if framing.kind == "fixed":
            return framing.length
        place = framing.length_place
        head = self._buffer[begin:begin + place.at + place.length]
        if len(head) < place.at + place.length:
            return len(self._buffer) + 1
        size = place.read(head) + framing.length_adds
        return size if self._min_length <= size <= framing.max_length else 0


class DelimitedFramer:
    """Frames between start and end bytes, which may also turn up inside."""

    def __init__(self, framing: Framing, is_good: Test, min_length: int) -> None:
        self.skipped = Skipped()
        self._framing = framing
        self._is_good = is_good
        self._min_length = max(min_length, len(framing.start) + len(framing.end))
        self._buffer = bytearray()
        #: Where the search for the next end goes on.
        self._searched = 0

    def feed(self, data: bytes) -> list[bytes]:
        self._buffer += data
        end = self._framing.end
        frames = []
        while (at := self._buffer.find(end, self._searched)) >= 0:
            self._searched = at + 1
            if frame := self._frame_until(at + len(end)):
                frames.append(frame)
                self._drop(at + len(end), len(frame))
        self._searched = max(self._searched, len(self._buffer) - len(end) + 1)
        self._drop(max(0, len(self._buffer) - self._framing.max_length))
        return frames

    def _frame_until(self, stop: int) -> bytes:
        """The longest good frame that ends here, empty if there is none."""
        begin = max(0, stop - self._framing.max_length) - 1
        is_candidate = False
        last = stop - self._min_length + len(self._framing.start)
        while (begin := self._buffer.find(self._framing.start, begin + 1, last)) >= 0:
            candidate = bytes(self._buffer[begin:stop])
            if self._is_good(candidate):
                return candidate
            is_candidate = True
        self.skipped.failed_checks += is_candidate
        return b""

    def _drop(self, count: int, good: int = 0) -> None:
        del self._buffer[:count]
        self.skipped.junk_bytes += count - good
        self._searched = max(0, self._searched - count)


class SplitFramer:
    """Frames between delimiters that never turn up inside: ``line``, ``cobs``, ``slip``."""

    def __init__(self, framing: Framing, is_good: Test) -> None:
        self.skipped = Skipped()
        self._max_length = framing.max_length
        self._is_good = is_good
        self._split = {"line": _LINE_END, "cobs": _COBS_END, "slip": _SLIP_END}[framing.kind]
        self._candidates = self._unwrapping(framing)
        self._rest = b""

    def _unwrapping(self, framing: Framing) -> Callable[[bytes], Iterator[Candidate]]:
        if framing.kind == "line" and framing.start:
            return lambda piece: _from_each(framing.start, piece, framing.max_length)
        unwrap = {"cobs": cobs_decoded, "slip": slip_decoded}.get(framing.kind, lambda line: line)
        return lambda piece: _unwrapped(piece, unwrap, framing.max_length)

    def feed(self, data: bytes) -> list[bytes]:
        *pieces, self._rest = self._split.split(self._rest + data)
        frames = [frame for piece in pieces if piece and (frame := self._frame_in(piece))]
        # One byte more than a frame can have: enough to know later that it was too long.
        excess = len(self._rest) - self._max_length - 1
        if excess > 0:
            self.skipped.junk_bytes += excess
            self._rest = self._rest[excess:]
        return frames

    def _frame_in(self, piece: bytes) -> bytes:
        is_candidate = False
        for candidate, junk_bytes in self._candidates(piece):
            if self._is_good(candidate):
                self.skipped.junk_bytes += junk_bytes
                return candidate
            is_candidate = True
        self.skipped.failed_checks += is_candidate
        self.skipped.junk_bytes += len(piece)
        return b""


_LINE_END = re.compile(rb"[\r\n]")
_COBS_END = re.compile(re.escape(COBS_END))
_SLIP_END = re.compile(re.escape(SLIP_END))


#: What may be a frame, and how many bytes of its piece stand before it.
Candidate = tuple[bytes, int]


def _from_each(start: bytes, line: bytes, max_length: int) -> Iterator[Candidate]:
    """The line from each start mark in it, the last mark first: junk comes before a frame."""
    at = line.rfind(start)
    while at >= 0 and len(line) - at <= max_length:
        yield line[at:], at
        at = line.rfind(start, 0, at + len(start) - 1)


def _unwrapped(
    piece: bytes, unwrap: Callable[[bytes], bytes | None], max_length: int,
) -> Iterator[Candidate]:
    packet = unwrap(piece) if len(piece) <= max_length else None
    if packet:
        yield packet, 0
