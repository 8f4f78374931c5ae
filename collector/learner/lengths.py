"""Frames of truly varying length, told by one or two bytes behind their start byte."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..frames.place import Place
from .codings import BYTE_ORDERS
from .stream import Bytes, Stream

#: Where the length may stand, how it may be written, and bytes of the whole frame that it may
#: not count.
_PLACES: Final = tuple(Place(at) for at in range(1, 6)) + tuple(
    Place(at, 2, order) for at in range(1, 6) for order in BYTE_ORDERS)
_ADDS: Final = range(9)
_SHORTEST: Final = 5
_LONGEST: Final = 512
_SAMPLE: Final = 20_000
#: Chains that are walked through the whole capture.
_WALKED_MOST: Final = 12
_EXPLAINED: Final = 0.9
#: Lengths that are all multiples of this many bytes or more are hardly so by chance.
_MULTIPLES: Final = 8
#: With more frames of one size than this, the others are damage.
_ONE_SIZE: Final = 0.96


Whole = NDArray[np.int64]


@dataclass(frozen=True)
class Chain:
    """Frames one behind the other, each with its length in itself."""

    start: int
    place: Place
    adds: int
    #: First byte and length of each frame.
    begins: list[int]
    sizes: list[int]
    explained: float
    #: Share of the frames that begin where a chunk does.
    on_chunks: float

    @property
    def is_doubtful(self) -> bool:
        """Whether zeros alone, or messages of one length one behind the other, look so too."""
        return self.start == 0 or math.gcd(*self.sizes) >= _MULTIPLES


def chains(stream: Stream) -> list[Chain]:
    """Ways to see frames of several lengths, the best first."""
    if len(stream.data) < 200:
        return []
    found = [chain for start, place, adds in _likely(stream.bytes)
             if (chain := _walk(stream, start, place, adds)) is not None]
    return sorted(found, key=lambda c: (-round(c.explained, 2), -c.on_chunks))


def _likely(data: Bytes) -> Iterator[tuple[int, Place, int]]:
    """Start byte, place and bytes not counted, for which most of a sample is explained."""
    middle = max(0, len(data) // 2 - _SAMPLE // 2)
    sample = data[middle:middle + _SAMPLE].astype(np.int64)
    scored = []
    for place in _PLACES:
        written = _written(sample, place)
        here = np.arange(len(written))
        for adds in _ADDS:
            size = written + adds
            there = here + size
            good = (size >= max(_SHORTEST, place.reach)) & (size <= _LONGEST) & (
                there < len(sample))
            same = good & (sample[np.minimum(there, len(sample) - 1)] == sample[here])
            cover = np.bincount(sample[here], np.where(same, size, 0), minlength=256)
            share = cover / len(sample)
            for start in np.flatnonzero(share > 0.8).tolist():
                kept = float(same[sample[here] == start].mean())
                scored.append((kept, start, place, adds))
    # One byte will do where the other of two is always zero.
    scored = sorted(scored, key=lambda s: (-s[0], s[2].length, -s[1], -s[2].at, -s[3]))
    for _, start, place, adds in scored[:_WALKED_MOST]:
        yield start, place, adds


def _written(sample: Whole, place: Place) -> Whole:
    """The length that each byte would tell if a frame began there."""
    if place.length == 1:
        return sample[place.at:]
    first, second = sample[place.at:-1], sample[place.at + 1:]
    return first << 8 | second if place.order == "big" else second << 8 | first


def _walk(stream: Stream, start: int, place: Place, adds: int) -> Chain | None:
    data = stream.data
    begins, sizes = [], []
    begin = data.find(start)
    within, spare = 0, (1 - _EXPLAINED) * len(data) + 1
    while 0 <= begin <= len(data) - place.reach:
        # So much was passed over already that the rest cannot make up for it.
        if begin - within > spare:
            return None
        size = place.read(data[begin:begin + place.reach]) + adds
        stop = begin + size
        if max(_SHORTEST, place.reach) <= size <= _LONGEST and (
                stop == len(data) or (stop < len(data) and data[stop] == start)):
            begins.append(begin)
            sizes.append(size)
            within += size
            begin = stop
        else:
            begin = data.find(start, begin + 1)
    explained = within / len(data)
    if explained < _EXPLAINED or len(sizes) < 20 or max(map(sizes.count, set(sizes))) > (
            _ONE_SIZE * len(sizes)):
        return None
    return Chain(start, place, adds, begins, sizes, explained,
                 float(np.isin(begins, stream.starts).mean()))
