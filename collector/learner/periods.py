"""Frames of one length in a stream of bytes that nobody described: how long, and where.

The stream is compared with itself some bytes later: at the length of a frame, constants, high
bytes and slow figures meet themselves, so that far more bytes are equal than at other distances.
From a clean stretch on, each frame is then found by its likeness to the one before, also behind
junk or a torn one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from .stream import Bytes, Places, Stream

#: Shortest and longest frame looked for. [bytes]
LENGTHS: Final = (4, 260)
#: Bytes of the stream compared with themselves; more do not make the answer better.
_SAMPLE: Final = 40_000
#: Frames in the clean stretch that the search starts from.
_STRETCH: Final = 24
#: Share of the staying bytes that a frame has in common with the one before without a doubt ...
_ALIKE: Final = 0.75
#: ... and at the least.
_ALIKE_LEAST: Final = 0.4


@dataclass(frozen=True)
class Comb:
    """Frames of one length; where within the cycle a frame begins is not known yet."""

    length: int
    #: Places in the stream one cycle apart, except where something is in between.
    teeth: Places
    #: Places within the cycle where frames may begin, the likeliest first.
    phases: list[int]
    #: Share of the stream's bytes that lie in whole cycles.
    covered: float

    def frames(self, data: Bytes, phase: int) -> tuple[Bytes, Places]:
        """Whole cycles from this phase on as rows, and the place where each begins."""
        at = self.teeth + phase
        whole = np.flatnonzero(np.diff(self.teeth) == self.length)
        # A cycle that starts at phase p needs the next tooth where it expects it.
        at = at[whole] if phase else at
        at = at[(at >= 0) & (at + self.length <= len(data))]
        return data[at[:, None] + np.arange(self.length)], at


def combs(stream: Stream, most: int = 4) -> list[Comb]:
    """Frame lengths that explain the stream, the one that explains most first."""
    data = stream.bytes
    found = [comb for length in _likely_lengths(data)[:most]
             if (comb := _comb(stream, data, length)) is not None]
    return sorted(found, key=lambda comb: (-round(comb.covered, 1), comb.length))


def _likely_lengths(data: Bytes) -> list[int]:
    """Distances at which the stream meets itself best, without multiples of a better one."""
    middle = max(0, len(data) // 2 - _SAMPLE // 2)
    sample = data[middle:middle + _SAMPLE]
    longest = min(LENGTHS[1], len(sample) // 6)
    lengths = np.arange(LENGTHS[0], longest + 1)
    if not len(lengths):
        return []
    same = np.array([np.mean(sample[:-n] == sample[n:]) for n in lengths])
    likely = lengths[same >= 0.8 * same.max()][:40].tolist()
    by_share = {int(n): float(share) for n, share in zip(lengths, same, strict=True)}
    kept: list[int] = []
    for n in sorted(likely, key=lambda n: (-round(by_share[n], 2), n)):
        if not any(n % k == 0 and by_share[n] < by_share[k] + 0.03 for k in kept):
            kept.append(n)
    return kept


def _comb(stream: Stream, data: Bytes, length: int) -> Comb | None:
    begin = _clean_stretch(data, length)
    stretch = data[begin:begin + _STRETCH * length].reshape(-1, length)
    stays = (stretch == stretch[0]).mean(axis=0) > 0.95
    if stays.sum() < 2:
        return None
    teeth = _teeth(data, stays, begin, length)
    if len(teeth) < 6:
        return None
    return Comb(length, teeth, _phases(stream, stays, teeth, length),
                len(teeth) * length / len(data))


def _clean_stretch(data: Bytes, length: int) -> int:
    """Where the most bytes meet themselves one frame later, over a stretch of frames."""
    same = (data[:-length] == data[length:]).astype(np.int32)
    span = min(_STRETCH * length, len(same) - 1)
    total = np.concatenate([[0], np.cumsum(same)])
    begin = int(np.argmax(total[span:] - total[:-span]))
    return min(begin, len(data) - _STRETCH * length) if len(data) >= _STRETCH * length else 0


def _teeth(data: Bytes, stays: NDArray[np.bool_], begin: int, length: int) -> Places:
    """From the clean stretch to both ends, each frame found by its likeness to the one before."""
    columns = np.flatnonzero(stays)
    forth = _walk(data, columns, begin, length)
    back = _walk(data[::-1], length - 1 - columns[::-1], len(data) - begin - length, length)
    return np.array([*(len(data) - length - at for at in reversed(back[1:])), *forth],
                    dtype=np.int64)


def _walk(data: Bytes, columns: Places, begin: int, length: int) -> list[int]:
    """One cycle on as long as that is a frame, else on to the likeliest place within a cycle."""
    teeth = [begin]
    last, at = data[begin + columns], begin + length
    while at + length <= len(data):
        here = data[at + columns]
        if np.count_nonzero(here == last) < _ALIKE * len(columns):
            shifts = np.arange(min(length, len(data) - length - at + 1))
            likeness = (data[at + shifts[:, None] + columns] == last).mean(axis=1)
            best = int(np.argmax(likeness))
            if likeness[best] < _ALIKE_LEAST:
                at += length
                continue
            # Many bytes may change at once, as when a drive begins: stay unless there is better.
            at += best if likeness[best] > likeness[0] + 0.15 else 0
            here = data[at + columns]
        teeth.append(at)
        last, at = here, at + length
    return teeth


def _phases(stream: Stream, stays: NDArray[np.bool_], teeth: Places, length: int) -> list[int]:
    """Where chunks begin, then where runs of constant bytes begin."""
    before = np.searchsorted(teeth, stream.starts, side="right") - 1
    inside = stream.starts[before >= 0] - teeth[before[before >= 0]]
    votes = np.bincount(inside[inside < length], minlength=length)
    by_chunks = [int(n) for n in np.argsort(-votes, kind="stable")[:3]
                 if votes[n] > 0.1 * len(teeth)]
    runs = [n for n in range(length) if stays[n] and not stays[n - 1]]
    size = {n: next(k for k in range(1, length + 1) if not stays[(n + k) % length]
                    or k == length) for n in runs}
    by_runs = sorted(runs, key=lambda n: -size[n])[:6]
    return list(dict.fromkeys([*by_chunks, *by_runs]))
