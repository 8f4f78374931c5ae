"""Frames of truly varying length, told by a length byte behind their start byte."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from .stream import Bytes, Stream

#: Where the length byte may stand, and bytes of the whole frame that it may not count.
_PLACES: Final = range(1, 6)
_ADDS: Final = range(9)
_SHORTEST: Final = 5
_SAMPLE: Final = 20_000
#: Chains that are walked through the whole capture.
_WALKED_MOST: Final = 12
_EXPLAINED: Final = 0.9
#: With more frames of one size than this, the others are damage.
_ONE_SIZE: Final = 0.96


@dataclass(frozen=True)
class Chain:
    """Frames one behind the other, each with its length in itself."""

    start: int
    at: int
    adds: int
    #: First byte and length of each frame.
    begins: list[int]
    sizes: list[int]
    explained: float
    #: Share of the frames that begin where a chunk does.
    on_chunks: float


def chains(stream: Stream) -> list[Chain]:
    """Ways to see frames of several lengths, the best first."""
    if len(stream.data) < 200:
        return []
    found = [chain for start, at, adds in _likely(stream.bytes)
             if (chain := _walk(stream, start, at, adds)) is not None]
    return sorted(found, key=lambda c: (-round(c.explained, 2), -c.on_chunks))


def _likely(data: Bytes) -> Iterator[tuple[int, int, int]]:
    """Start byte, place and bytes not counted, for which most of a sample is explained."""
    middle = max(0, len(data) // 2 - _SAMPLE // 2)
    sample = data[middle:middle + _SAMPLE].astype(np.int64)
    scored = []
    for at in _PLACES:
        here = np.arange(len(sample) - at)
        for adds in _ADDS:
            size = sample[at:] + adds
            there = here + size
            good = (size >= _SHORTEST) & (size > at) & (there < len(sample))
            same = good & (sample[np.minimum(there, len(sample) - 1)] == sample[here])
            cover = np.bincount(sample[here], np.where(same, size, 0), minlength=256)
            share = cover / len(sample)
            for start in np.flatnonzero(share > 0.8).tolist():
                kept = float(same[sample[here] == start].mean())
                scored.append((kept, start, at, adds))
    for _, start, at, adds in sorted(scored, reverse=True)[:_WALKED_MOST]:
        yield start, at, adds


def _walk(stream: Stream, start: int, at: int, adds: int) -> Chain | None:
    data = stream.data
    begins, sizes = [], []
    place = data.find(start)
    while 0 <= place < len(data) - at:
        size = data[place + at] + adds
        stop = place + size
        if size >= _SHORTEST and size > at and (
                stop == len(data) or (stop < len(data) and data[stop] == start)):
            begins.append(place)
            sizes.append(size)
            place = stop
        else:
            place = data.find(start, place + 1)
    explained = sum(sizes) / len(data)
    if explained < _EXPLAINED or len(sizes) < 20 or max(map(sizes.count, set(sizes))) > (
            _ONE_SIZE * len(sizes)):
        return None
    return Chain(start, at, adds, begins, sizes, explained,
                 float(np.isin(begins, stream.starts).mean()))
