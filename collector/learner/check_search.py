"""Which check rule the frames keep, which bytes it covers and where it stands.

Sums, exclusive or and CRCs are linear: whatever the start value and the final inversion, they
add one constant to the check value of all frames of a length. So each rule is tried on what is
left after that constant, ``left = written - computed``, which has to be the same in every frame;
start values come out of the data instead of being guessed. CRC polynomials are those of the
public catalogue in ``frames.checks``.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..frames.checks import CATALOGUE, Check, Crc, Rule, Sum, Xor
from ..frames.place import Order
from .stream import Bytes

Words = NDArray[np.int64]

#: Frames that a rule is tried on first.
_SAMPLE: Final = 96
#: Share of frames that have to keep a rule; the rest was damaged on the way.
_KEPT: Final = 0.9
#: Bytes at the front that a check may leave out, such as start bytes and an address.
_STARTS: Final = 5
#: A check over fewer bytes than this is none. [bytes]
_COVERED_LEAST: Final = 3
#: Bytes behind the check value, such as end bytes.
_TAILS: Final = 3
#: Tables of what bytes add to a CRC are made for so many bytes at once.
_TABLE_STEP: Final = 128


@dataclass(frozen=True)
class FoundCheck:
    """A check rule that the frames keep."""

    check: Check
    #: Share of the frames that keep it.
    kept: float
    #: How many rules, places and ranges would have fitted by chance. [log10]
    log10_chance: float


def find_check(frames: Bytes) -> FoundCheck | None:
    """The rule that the rows of ``frames`` keep, ``None`` where there is none.

    Parameters
    ----------
    frames
        One frame a row, all of one length, damaged ones among them. [frames, bytes]
    """
    distinct = sorted({row.tobytes() for row in frames})
    some = distinct[::max(1, len(distinct) // _SAMPLE)]
    if len(some) < 6:
        return None
    sample = np.frombuffer(b"".join(some), np.uint8).reshape(len(some), -1)
    tried = 0
    found: list[FoundCheck] = []
    for check, left, width in _left_over(sample):
        tried += 1
        most, kept = _commonest(left)
        if kept < _KEPT - 0.05:
            continue
        if full := _confirmed(check, most, frames, width * (len(sample) * kept - 1)):
            found.append(full)
    if not found:
        return None
    best = max(found, key=_rank)
    return FoundCheck(best.check, best.kept, best.log10_chance + math.log10(tried))


def _rank(found: FoundCheck) -> tuple[float, ...]:
    """The widest, then the one without start value, then the one that covers most."""
    rule = found.check.rule
    return (round(found.kept, 2), _is_usual(rule), rule.width, -found.check.start)


def _is_usual(rule: Rule) -> bool:
    """Whether it is in the catalogue, or a plain sum, also with all bits turned over."""
    if isinstance(rule, Crc):
        return rule in CATALOGUE.values()
    top = (1 << rule.width) - 1
    return isinstance(rule, Sum | Xor) and rule.init == 0 and rule.xorout in (0, top)


def _confirmed(check: Check, left: int, frames: Bytes, bits: float) -> FoundCheck | None:
    """The rule with its start value, if the frames of the whole capture keep it."""
    complete = _with_constant(check, left, frames)
    some = frames[::max(1, len(frames) // 400)]
    kept = float(np.mean([complete.is_good(row.tobytes()) for row in some]))
    if kept < _KEPT:
        return None
    return FoundCheck(complete, kept, -bits * math.log10(2))


def _commonest(left: Words) -> tuple[int, float]:
    """The value that more than half have, and the share that has it; else any, and its share."""
    middle = np.partition(left, len(left) // 2)[len(left) // 2]
    return int(middle), float(np.count_nonzero(left == middle) / len(left))


# ------------------------------------------------ every rule, and what it leaves over

def _left_over(frames: Bytes) -> Iterator[tuple[Check, Words, int]]:
    """Each rule at each place over each range: what its constant would have to be, per frame."""
    length = frames.shape[1]
    moves = (frames != frames[0]).any(axis=0)
    for tail in range(min(_TAILS, length - 4) + 1):
        yield from _sums(frames, moves, length - tail)
        yield from _crcs(frames, moves, length - tail)


def _written(frames: Bytes, stop: int, size: int, order: Order) -> Words:
    columns = range(stop - size, stop)
    value = np.zeros(len(frames), dtype=np.int64)
    for column in columns if order == "big" else reversed(columns):
        value = value << 8 | frames[:, column]
    return value


def _sums(frames: Bytes, moves: NDArray[np.bool_], stop: int) -> Iterator[tuple[Check, Words, int]]:
    length = frames.shape[1]
    for size in (1, 2):
        at, mask = stop - size, (1 << 8 * size) - 1
        if not moves[at:stop].all():
            continue
        for start in range(min(_STARTS, at - _COVERED_LEAST + 1)):
            total = frames[:, start:at].astype(np.int64).sum(axis=1)
            for order in _orders(size):
                written = _written(frames, stop, size, order)
                for rule, left in ((Sum(8 * size), written - total),
                                   (Sum(8 * size, 0, 0, True), written + total)):
                    yield Check(rule, at - length, start, at - length, order), left & mask, 8 * size
            if size == 1:
                folded = np.bitwise_xor.reduce(frames[:, start:at], axis=1)
                yield (Check(Xor(), at - length, start, at - length, "big"),
                       _written(frames, stop, 1, "big") ^ folded, 8)


def _orders(size: int) -> tuple[Order, ...]:
    return ("big", "little") if size > 1 else ("big",)


_POLYNOMIALS: Final = sorted({(crc.width, crc.poly, crc.is_reflected)
                              for crc in CATALOGUE.values()})


def _crcs(frames: Bytes, moves: NDArray[np.bool_], stop: int) -> Iterator[tuple[Check, Words, int]]:
    length = frames.shape[1]
    # Constant bytes in front do not show in what is left over: one start stands for all.
    starts = [n for n in range(_STARTS) if n == 0 or moves[n - 1]]
    for width, poly, is_reflected in _POLYNOMIALS:
        size = width // 8
        at = stop - size
        if not moves[at:stop].all():
            continue
        rule = Crc(width, poly, 0, is_reflected)
        shares = _shares(rule, frames[:, :at])
        for start in (n for n in starts if at - n >= _COVERED_LEAST):
            left = np.bitwise_xor.reduce(shares[:, start:], axis=1)
            for order in _orders(size):
                yield (Check(rule, at - length, start, at - length, order),
                       _written(frames, stop, size, order) ^ left, width)


def _shares(rule: Crc, data: Bytes) -> Words:
    """What each byte adds to the CRC of its row, from a register of zero, without inversion.

    A CRC is linear: that of any end of the row is the exclusive or of its bytes' shares.
    """
    length = data.shape[1]
    behind = np.arange(length)[::-1]
    found: Words = _tables(rule, -(-length // _TABLE_STEP) * _TABLE_STEP)[behind, data]
    return found


@functools.cache
def _tables(rule: Crc, length: int) -> Words:
    """The CRC of each byte with 0, 1, 2, ... zero bytes behind it. [zero bytes, byte]"""
    first = np.array([rule.compute(bytes([n])) for n in range(256)], dtype=np.int64)
    tables = [first]
    shift, mask = rule.width - 8, (1 << rule.width) - 1
    for _ in range(length - 1):
        register = tables[-1]
        tables.append(register >> 8 ^ first[register & 0xFF] if rule.is_reflected
                      else register << 8 & mask ^ first[register >> shift])
    return np.array(tables)


# ------------------------------------------------ the constant, as start value and inversion

def _with_constant(check: Check, left: int, frames: Bytes) -> Check:
    """The same check with its start value or inversion filled in."""
    rule = check.rule
    if isinstance(rule, Crc):
        return _named_crc(check, rule, frames) or _replace(
            check, Crc(rule.width, rule.poly, 0, rule.is_reflected, left))
    if isinstance(rule, Xor):
        return _replace(check, Xor(xorout=left))
    if not isinstance(rule, Sum):
        return check
    top = (1 << rule.width) - 1
    if rule.is_negated and left == top:
        # -total - 1 is the total with all bits turned over.
        return _replace(check, Sum(rule.width, 0, top))
    init = -left & top if rule.is_negated else left
    return _replace(check, Sum(rule.width, init, 0, rule.is_negated))


def _named_crc(check: Check, rule: Crc, frames: Bytes) -> Check | None:
    """The catalogue's CRC of this polynomial that fits, with the range it covers."""
    some = [row.tobytes() for row in frames[::max(1, len(frames) // 40)]]
    for start in range(check.start, _STARTS):
        for crc in CATALOGUE.values():
            if (crc.width, crc.poly, crc.is_reflected) == (
                    rule.width, rule.poly, rule.is_reflected):
                tried = Check(crc, check.at, start, check.stop, check.order)
                if np.mean([tried.is_good(frame) for frame in some]) > _KEPT - 0.05:
                    return tried
    return None


def _replace(check: Check, rule: Sum | Xor | Crc) -> Check:
    return Check(rule, check.at, check.start, check.stop, check.order)
