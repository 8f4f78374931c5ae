"""Frames of one length in a stream of bytes that nobody described: how long, and where.

The stream is compared with itself some bytes later: at the length of a frame, constants, high
bytes and slow figures meet themselves, so that far more bytes are equal than at other distances.
From a clean stretch on, each frame is then found by its likeness to the one before, also behind
junk or a torn one.
"""

from __future__ import annotations

from collections.abc import Iterator
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
#: Bytes of one place that differ by no more than this from frame to frame are alike: constants,
#: high bytes, slow figures.
_NEAR: Final = 2
#: A silence this long, as a share of the time from frame to frame, parts bursts ...
_BURST_SHARE: Final = 0.4
#: ... and bursts of one length are frames where they hold so much of the stream.
_BURSTS_LEAST: Final = 0.9
#: Messages in a round of several kinds, and the shortest looked for. [bytes]
_PARTS_MOST: Final = 12
_PART_LEAST: Final = 6
#: Frames that a run needs to be more than a chance.
_RUN_LEAST: Final = 3
#: Frames at the end of a run that its neighbour is compared with.
_EDGE: Final = 12
#: Where so many frames, and such a share of all, are unlike the one before and stand nowhere near
#: one length on, frames have another length.
_DOUBTS_LEAST: Final = 500
_DOUBTS_SHARE: Final = 0.4


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


def comb_of(stream: Stream, length: int) -> Comb | None:
    """The frames of a likely length, ``None`` where there are none."""
    return _bursts(stream, length) or _comb(stream, stream.bytes, length)


def parts(stream: Stream, whole: Comb) -> Iterator[Comb]:
    """Shorter frames that follow one another within these, the shortest first."""
    for count in range(min(_PARTS_MOST, whole.length // _PART_LEAST), 1, -1):
        size, odd = divmod(whole.length, count)
        if odd:
            continue
        teeth = np.unique(whole.teeth[:, None] + size * np.arange(count))
        phases = dict.fromkeys(phase % size for phase in whole.phases)
        yield _bursts(stream, size, count) or Comb(size, teeth, list(phases), whole.covered)


def likely_lengths(data: Bytes, most: int = 4) -> list[int]:
    """The likeliest frame lengths, best first. [bytes]"""
    return _likely_lengths(data)[:most]


def _bursts(stream: Stream, length: int, most: int = 1) -> Comb | None:
    """Frames with silence between them, where nearly all bursts are one, or up to ``most``."""
    span_s = float(stream.times_s[-1] - stream.times_s[0])
    silence_s = _BURST_SHARE * span_s * length / max(len(stream.data), 1)
    begins = np.diff(stream.times_s, prepend=-np.inf) > silence_s
    at = stream.starts[begins]
    counts, odd = np.divmod(np.diff(at, append=len(stream.data)), length)
    counts[(odd > 0) | (counts > most)] = 0
    covered = int(counts.sum()) * length / max(len(stream.data), 1)
    if counts.sum() < 6 or covered < _BURSTS_LEAST:
        return None
    within = np.concatenate([np.arange(count) for count in counts])
    return Comb(length, np.repeat(at, counts) + length * within, [0], covered)


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
    runs = _runs(stream, data, length)
    if not runs:
        return None
    teeth = _filled(np.concatenate(runs), length)
    longest = max(runs, key=len)[:2000]
    stays = _staying(data[longest[:, None] + np.arange(length)])
    return Comb(length, teeth, _phases(stream, stays, teeth, length),
                min(1.0, len(teeth) * length / len(data)))


def _staying(frames: Bytes) -> NDArray[np.bool_]:
    """Which bytes hardly ever change from frame to frame and are mostly one value."""
    usual = np.median(frames, axis=0).astype(np.uint8)
    stays: NDArray[np.bool_] = (frames == usual).mean(axis=0) > 0.97
    return stays


def _clean_stretch(data: Bytes, length: int) -> int:
    """Where the most bytes meet themselves one frame later, over a stretch of frames."""
    same = (data[:-length] == data[length:]).astype(np.int32)
    span = min(_STRETCH * length, len(same) - 1)
    total = np.concatenate([[0], np.cumsum(same)])
    begin = int(np.argmax(total[span:] - total[:-span]))
    return min(begin, len(data) - _STRETCH * length) if len(data) >= _STRETCH * length else 0


def _runs(stream: Stream, data: Bytes, length: int) -> list[Places]:
    """Stretches of frames one behind the other, all with the same byte in front."""
    runs = [run for run in _walks(data, _clean_stretch(data, length), length)
            if len(run) >= _RUN_LEAST]
    if not runs:
        return []
    first = int(np.argmax([len(run) for run in runs]))
    # Cells are alike among themselves, so that a walk can slip by one of them at a break. Many
    # frames on both sides tell better: each run is turned until it meets its neighbour.
    # Where the link brings frames in chunks, their beginnings tell best of all.
    beat = _beat(stream, runs[first], length)
    for n in (*range(first + 1, len(runs)), *range(first - 1, -1, -1)):
        near, edge = (runs[n - 1][-_EDGE:], runs[n][:_EDGE]) if n > first else (
            runs[n + 1][:_EDGE], runs[n][-_EDGE:])
        own = _beat(stream, runs[n], length)
        turn = _turn(_pattern(data, near, length), _pattern(data, edge, length)) \
            if beat is None or own is None else _wrapped(own - beat, length)
        turned = runs[n] + turn
        runs[n] = turned[(turned >= 0) & (turned + length <= len(data))]
    return [run for run in runs if len(run)]


def _filled(teeth: Places, length: int) -> Places:
    """With the frames between runs that fit whole: those that were in doubt and too few."""
    steps = np.diff(teeth)
    gaps = np.flatnonzero((steps > length) & (steps % length == 0))
    between = [np.arange(teeth[n] + length, teeth[n + 1], length) for n in gaps]
    return np.sort(np.concatenate([teeth, *between]))


def _pattern(data: Bytes, teeth: Places, length: int) -> NDArray[np.float64]:
    usual: NDArray[np.float64] = np.median(data[teeth[:, None] + np.arange(length)], axis=0)
    return usual


def _turn(wanted: NDArray[np.float64], found: NDArray[np.float64]) -> int:
    """How many bytes later the found frames have to begin to look as wanted; may be negative."""
    length = len(wanted)
    turns = np.arange(length)
    turned = found[(turns[:, None] + turns) % length]
    likeness = (np.abs(turned - wanted) < _NEAR).mean(axis=1)
    turn = int(np.argmax(likeness)) if likeness.max() > likeness[0] + 0.05 else 0
    return _wrapped(turn, length)


def _wrapped(turn: int, length: int) -> int:
    """The same turn of the cycle as the shortest way, forth or back."""
    return (turn + length // 2) % length - length // 2


def _beat(stream: Stream, run: Places, length: int) -> int | None:
    """Where in the cycle chunks begin after a silence, ``None`` where that is nowhere special."""
    inside = slice(*np.searchsorted(stream.starts, [run[0], run[-1] + length]))
    votes = _votes(stream, (stream.starts[inside] - run[0]) % length, inside, length)
    best = int(np.argmax(votes))
    return best if votes[best] > 0.7 * votes.sum() > 0 else None


def _votes(stream: Stream, phases: Places, which: slice | NDArray[np.bool_],
           length: int) -> NDArray[np.float64]:
    """Seconds of silence before the chunks that begin at each phase of the cycle."""
    silence_s = np.diff(stream.times_s, prepend=stream.times_s[0])[which]
    votes = np.bincount(phases, np.clip(silence_s, 0, 5), minlength=length)
    return votes.astype(np.float64)


def _walks(data: Bytes, begin: int, length: int) -> list[Places]:
    """From the clean stretch to both ends, each frame found by its likeness to the one before."""
    signed = data.astype(np.int16)
    stretch = signed[begin:begin + _STRETCH * length]
    usual = float(np.mean(np.abs(stretch[length:] - stretch[:-length]) <= _NEAR))
    forth = _walk(signed, begin, length, usual)
    back = _walk(signed[::-1], len(data) - begin - length, length, usual)
    mirrored = [[len(data) - length - at for at in reversed(run)] for run in reversed(back)]
    runs = [*mirrored[:-1], mirrored[-1][:-1] + forth[0], *forth[1:]]
    return [np.array(run, dtype=np.int64) for run in runs]


def _walk(data: NDArray[np.int16], begin: int, length: int, usual: float) -> list[list[int]]:
    """One cycle on as long as that is a frame; a new run where there is any doubt.

    Left where there is so much doubt that frames have another length.
    """
    runs = [[begin]]
    last, at = data[begin:begin + length], begin + length
    doubts = 0
    while at + length <= len(data) and doubts < max(
            _DOUBTS_LEAST, _DOUBTS_SHARE * (at - begin) / length):
        here = data[at:at + length]
        likeness = np.count_nonzero(np.abs(here - last) <= _NEAR) / length
        if likeness < 0.75 * usual:
            slip, best = _slip(data, last, at)
            # Many bytes may change at once, as when a drive begins: that is no slip.
            # One of the next kind of message is as far on as it should be.
            doubts += slip == 0 or slip % length != 0
            if best > likeness:
                runs.append([])
            if best > likeness + 0.15:
                at += slip
                here = data[at:at + length]
        usual += 0.05 * (likeness - usual)
        runs[-1].append(at)
        last, at = here, at + length
    return runs


def _slip(data: NDArray[np.int16], last: NDArray[np.int16], at: int) -> tuple[int, float]:
    """How far from where it is due a frame like the last one begins, and how alike it is.

    A torn frame brings the next one early, junk brings it late.
    """
    length = len(last)
    low, high = max(1 - length, -at), min(length, len(data) - length - at + 1)
    windows = np.lib.stride_tricks.sliding_window_view(data[at + low:at + high + length - 1],
                                                       length)
    likeness = (np.abs(windows - last) <= _NEAR).mean(axis=1)
    best = int(np.argmax(likeness))
    return low + best, float(likeness[best])


def _phases(stream: Stream, stays: NDArray[np.bool_], teeth: Places, length: int) -> list[int]:
    """Where chunks begin after the longest silence, then where runs of constant bytes begin."""
    before = np.searchsorted(teeth, stream.starts, side="right") - 1
    inside = stream.starts - teeth[np.maximum(before, 0)]
    good = (before >= 0) & (inside < length)
    votes = _votes(stream, inside[good], good, length)
    by_chunks = [int(n) for n in np.argsort(-votes, kind="stable")[:3]
                 if votes[n] > 0.1 * votes.sum()]
    runs = [n for n in range(length) if stays[n] and not stays[n - 1]]
    size = {n: next(k for k in range(1, length + 1) if not stays[(n + k) % length]
                    or k == length) for n in runs}
    by_runs = sorted(runs, key=lambda n: -size[n])[:6]
    return list(dict.fromkeys([*by_chunks, *by_runs]))
