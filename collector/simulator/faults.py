"""What goes wrong between a monitor and its listener, as scripted by seed or by hand."""

from __future__ import annotations

import heapq
import random
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final

from ..clock import Clock
from ..errors import PackhandError

#: By kind: what it does, and how long it lasts, shortest and longest. [s]
FaultKinds = Mapping[str, tuple[str, float, float]]

#: What can go wrong with every monitor.
KINDS: Final[FaultKinds] = {
    "unplug": ("the cable is pulled, and put back", 1.0, 4.0),
    "flap": ("the link comes and goes", 4.0, 8.0),
    "swap": ("the cable is pulled, and put back on another pack, for good", 1.0, 4.0),
    "garbage": ("random bytes between two frames", 0.0, 0.0),
    "torn": ("a frame breaks off in the middle", 0.0, 0.0),
    "wrong-check": ("one bit of a frame is turned", 0.0, 0.0),
    "stale": ("the figures stand still, the frames go on", 3.0, 8.0),
    "pause": ("the monitor says nothing", 6.0, 10.0),
    "twice": ("a frame is sent twice", 0.0, 0.0),
    "missing": ("percent, hours and temperatures are not told", 3.0, 8.0),
    "cells": ("one cell fewer is told", 5.0, 10.0),
    "unit": ("volts are told in tenths", 5.0, 10.0),
    "scale": ("pack volts are told 5 % too high", 200.0, 300.0),
    "wrap": ("pack volts begin anew at 32.768 V", 200.0, 300.0),
    "frozen": ("all figures stand still, the running number goes on", 200.0, 300.0),
    "stuck-volts": ("pack volts stand still, all else goes on", 200.0, 300.0),
    "stuck-amps": ("amps stand still, all else goes on", 200.0, 300.0),
    "late-volts": ("volts are told a frame after their amps", 200.0, 300.0),
    "late-sign": ("the amps' direction is told a frame late", 200.0, 300.0),
    "turned": ("amps are told with the other sign", 200.0, 300.0),
    "zero": ("amps are told 2 A too high", 200.0, 300.0),
    "gain": ("amps are told a tenth too large", 200.0, 300.0),
    "coarse": ("amps and volts are told in whole numbers", 200.0, 300.0),
    "clipped": ("amps are never told beyond 60 A", 200.0, 300.0),
    "stuck-cell": ("a cell's figure stands still, all else goes on", 200.0, 300.0),
    "dead-cell": ("a cell is told as 1.7 V, as without its sense lead", 200.0, 300.0),
    "twin-cell": ("a cell's figure is told in its neighbour's place, too", 200.0, 300.0),
    "order": ("the cells are told in the order from the other end", 200.0, 300.0),
}
#: What can go wrong beside these, by the kind of transport.
MORE_KINDS: Final[Mapping[str, FaultKinds]] = {
    "serial": {"lost": ("a frame is not sent", 0.0, 0.0),
               "reordered": ("a frame is sent after the next one", 0.0, 0.0),
               "burst": ("frames are held back, then sent at once", 1.0, 3.0),
               "wrong-baud": ("the line is set to half the baud rate", 5.0, 8.0)},
    "modbus": {"late": ("an answer comes too late", 0.0, 0.0),
               "busy": ("a request is refused for want of time", 0.0, 0.0),
               "other-unit": ("another unit answers", 0.0, 0.0)},
    "ble": {"off": ("Bluetooth is switched off, and on again", 1.0, 4.0)},
    "gatt": {"off": ("Bluetooth is switched off, and on again", 1.0, 4.0)},
}
#: While the link comes and goes: one way or the other for so long. [s]
FLAP_S: Final = 0.4
#: Faults in which the link is away.
AWAY: Final = ("unplug", "swap")
#: From one fault to the next where a seed decides. [s]
_APART_S: Final = (4.0, 12.0)
_GARBAGE_BYTES: Final = (5, 60)


@dataclass(frozen=True, slots=True, order=True)
class Fault:
    """One fault, in seconds since the monitor was switched on."""

    at_s: float
    kind: str = field(compare=False)
    for_s: float = field(compare=False)

    @property
    def end_s(self) -> float:
        return self.at_s + self.for_s


def script(wishes: Iterable[str], seed: int, known: FaultKinds = KINDS) -> Iterator[Fault]:
    """Faults in the order of their times.

    Parameters
    ----------
    wishes
        ``KIND`` comes again and again without end, ``KIND@SECONDS`` once, then;
        ``KIND@SECONDS+SECONDS`` says how long it lasts too.

    Raises
    ------
    PackhandError
        If a wish names no kind, or no times behind the ``@``.
    """
    rng, kinds, once = random.Random(f"once {seed}"), [], []
    for wish in wishes:
        kind, at, times = wish.partition("@")
        if kind not in known:
            raise PackhandError("--fault", f"no kind {kind!r}", f"known: {', '.join(known)}")
        if at:
            once.append(_at(kind, times, _lasting(known[kind], rng)))
        else:
            kinds.append(kind)
    return heapq.merge(sorted(once),
                       _again_and_again(kinds, known, random.Random(f"again {seed}")))


def _at(kind: str, times: str, usual_s: float) -> Fault:
    at, plus, lasting = times.partition("+")
    try:
        return Fault(float(at), kind, float(lasting) if plus else usual_s)
    except ValueError:
        raise PackhandError("--fault", f"{kind}@{times}: {times!r} is not a number of seconds",
                            f"write {kind}, {kind}@20 or {kind}@20+3") from None


def _lasting(kind: tuple[str, float, float], rng: random.Random) -> float:
    _, shortest, longest = kind
    return rng.uniform(shortest, longest)


def _again_and_again(kinds: list[str], known: FaultKinds,
                     rng: random.Random) -> Iterator[Fault]:
    at_s = 0.0
    while kinds:
        at_s += rng.uniform(*_APART_S)
        kind = rng.choice(kinds)
        fault = Fault(at_s, kind, _lasting(known[kind], rng))
        yield fault
        at_s = fault.end_s


def kinds_for(transport: str) -> FaultKinds:
    """What can go wrong with a monitor, by its kind of transport."""
    return {**KINDS, **MORE_KINDS.get(transport, {})}


def torn(frame: bytes, rng: random.Random) -> bytes:
    """The beginning of a frame, at least a byte and never all of it."""
    return frame[:rng.randrange(1, len(frame) - 1)]


def bit_turned(frame: bytes, rng: random.Random) -> bytes:
    """The frame with one bit turned, not in its last byte: that may be a line's end."""
    place, bit = rng.randrange(len(frame) - 1), rng.randrange(8)
    return frame[:place] + bytes([frame[place] ^ 1 << bit]) + frame[place + 1:]


def misheard(data: bytes, ratio: float = 0.5) -> bytes:
    """What a receiver hears whose baud rate is ``ratio`` times the sender's.

    Bit by bit as a receiver samples: from the edge of the start bit on, in the middle of where it
    believes the bits to be, low bit first; where the stop bit is not one, it tells a zero byte.
    """
    line = [bit for byte in data for bit in (0, *(byte >> n & 1 for n in range(8)), 1)]
    heard, at_s, bit_s = bytearray(), 0.0, 1 / ratio

    def level(moment: float) -> int:
        return line[int(moment)] if moment < len(line) else 1

    while at_s < len(line):
        if level(at_s):
            at_s = float(int(at_s) + 1)
            continue
        bits = [level(at_s + (n + 0.5) * bit_s) for n in range(10)]
        heard.append(sum(bit << n for n, bit in enumerate(bits[1:9])) if bits[9] else 0)
        at_s += 9.5 * bit_s
    return bytes(heard)


def garbage(rng: random.Random) -> bytes:
    """Random bytes."""
    return rng.randbytes(rng.randrange(*_GARBAGE_BYTES))


def stepping_clock(after_s: float, step_s: float, clock: Clock | None = None) -> Clock:
    """A clock that somebody sets: its wall time jumps by ``step_s`` after ``after_s``.

    The steady clock runs on. For the recorder, whose clock no monitor can set.
    """
    clock = clock or Clock()
    end_s = clock.steady() + after_s
    return Clock(lambda: clock.wall() + (step_s if clock.steady() >= end_s else 0.0), clock.steady)
