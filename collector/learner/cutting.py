"""From a stream to frames: the ways it may be cut, and the one that explains it.

A cut is judged by how much of the stream lies in whole frames; where a check rule is found that
nearly all frames keep, that settles it. Frames that tell their length are tried first, then
packets between delimiters, then frames of one length, then messages of one length in a round.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..frames.framing import Framing
from ..frames.stuffing import cobs_decoded, slip_decoded
from .check_search import FoundCheck, find_check
from .kinds import Kinds, find_code, side_by_side
from .lengths import Chain, chains
from .periods import Comb, comb_of, likely_lengths, parts
from .stream import Bytes, Places, Stream, Times

#: A cut has to explain so much of the stream to be considered.
EXPLAINED: Final = 0.5
#: Start bytes written into a description.
_START_MOST: Final = 4
#: Frames without which nothing is told, and the share of one length that is no accident.
_LEAST: Final = 20
_COMMON: Final = 0.02
#: Chains of frames with a length byte that are looked at.
_CHAINS_MOST: Final = 6
#: A silence longer than this share of the time between frames ends one. Chosen here.
_SILENCE: Final = 0.5
#: A chance of a check rule below this settles the cut. [log10]
_SETTLED: Final = -6.0


@dataclass(frozen=True)
class Cut:
    """One way to see frames in the stream, laid out as rows of one length."""

    framing: Framing
    check: FoundCheck | None
    #: Whole frames that keep the check, one a row. [frames, bytes]
    frames: Bytes
    #: When each was whole. [s, Unix]
    times_s: Times
    #: Share of the stream's bytes inside these frames.
    explained: float
    #: What lies where in ``frames``, where they are several kinds of message side by side.
    kinds: Kinds | None = None

    @property
    def taken(self) -> set[int]:
        """Bytes of the frame that hold the check value, or part kinds of messages."""
        if self.kinds is not None:
            return self.kinds.taken
        if self.check is None:
            return set()
        at = self.check.check.at + self.frames.shape[1]
        return set(range(at, at + self.check.check.size))


def binary_cuts(stream: Stream) -> list[Cut]:
    """Ways to cut a stream that is not text, the best first; empty where none explains it."""
    # Messages in a fixed round are frames of one length too: their own lengths tell more.
    linked = [cut for chain in chains(stream)[:_CHAINS_MOST]
              if (cut := _linked(stream, chain)) is not None]
    settled = [cut for cut in linked
               if cut.check and cut.check.log10_chance < _SETTLED and cut.explained > 0.9
               and cut.check.check.at == -cut.check.check.size]
    if settled:
        return sorted(settled, key=_rank)
    cuts = []
    for cut in _ways(stream):
        if cut.explained >= EXPLAINED:
            cuts.append(cut)
        if cut.check and cut.check.log10_chance < _SETTLED and cut.explained > 0.95:
            return sorted(cuts, key=_rank)
    return sorted(cuts + linked, key=_rank)


def _rank(cut: Cut) -> tuple[float, ...]:
    is_checked = cut.check is not None and cut.check.log10_chance < _SETTLED
    # Packets between delimiters have one length only where nothing in them had to be stuffed:
    # seen as frames of that length they would be lost later.
    is_stuffed = cut.framing.kind in ("cobs", "slip")
    return (not is_checked, -cut.explained - 0.03 * is_stuffed, cut.frames.shape[1])


def _ways(stream: Stream) -> Iterator[Cut]:
    for kind, decode, end in (("slip", slip_decoded, b"\xc0"), ("cobs", cobs_decoded, b"\0")):
        yield from _stuffed(stream, Framing(kind), decode, end)  # type: ignore[arg-type]
    combs: list[Comb] = []
    for length in likely_lengths(stream.bytes):
        comb = comb_of(stream, length)
        if comb is None:
            continue
        combs.append(comb)
        for cut in _periodic(stream, comb):
            yield from _in_parts(stream, comb, cut)
            yield _parted(cut)
    for part in (part for comb in combs for part in parts(stream, comb)):
        # Any part of a round of frames looks like frames: only proof makes it one.
        yield from (cut for cut in map(_parted, _periodic(stream, part))
                    if cut.check or (cut.kinds and cut.framing.start))


def _late(stream: Stream, ends: Places) -> int:
    """Bytes at the end of the frames that came after a silence: a start mark was taken for the
    tail of the frame before, and all figures would be a frame late."""
    if len(ends) < 2:
        return 0
    silence_s = _SILENCE * np.median(np.diff(stream.time_of(ends)))
    for count in range(1, _START_MOST + 1):
        last = ends[ends >= count] - count
        took_s = np.median(stream.time_of(last + 1) - stream.time_of(last))
        if took_s > silence_s > 0:
            return count
    return 0


def _in_parts(stream: Stream, comb: Comb, cut: Cut) -> Iterator[Cut]:
    """Shorter frames that keep a check as well: a CRC of a round of frames fits them all."""
    for part in parts(stream, comb) if cut.check else ():
        if find_check(cut.frames.reshape(-1, part.length)):
            yield from map(_parted, _periodic(stream, part))


# ------------------------------------------------ packets between delimiters

def _stuffed(stream: Stream, framing: Framing, decode: Callable[[bytes], bytes | None],
             end: bytes) -> Iterator[Cut]:
    """COBS or SLIP, where nearly all pieces decode and have one of few lengths."""
    pieces = stream.data.split(end)
    stops = np.cumsum([len(piece) + 1 for piece in pieces]) - 1
    packets = [(decode(piece), stop) for piece, stop in zip(pieces, stops, strict=True)
               if len(piece) > 3]
    sizes = Counter(len(packet) for packet, _ in packets if packet)
    common = {size for size, count in sizes.items()
              if size >= 4 and count >= max(_LEAST, _COMMON * len(packets))}
    whole = [(packet, stop - 1) for packet, stop in packets if packet and len(packet) in common]
    if len(whole) < max(6, 0.8 * len(packets)):
        return
    frames, ends = [packet for packet, _ in whole], np.array([stop for _, stop in whole])
    if _late(stream, ends):  # a start mark that holds the delimiter
        return
    if len(common) > 1:
        cut = _of_several_lengths(stream, framing, frames, ends)
    else:
        table = np.frombuffer(b"".join(frames), np.uint8).reshape(len(frames), -1)
        cut = _parted(_checked(stream, framing, table, ends))
    if cut:
        count = len(frames) if cut.kinds else len(cut.frames)
        yield replace(cut, explained=count / len(packets))


# ------------------------------------------------ frames of one length

def _periodic(stream: Stream, comb: Comb) -> Iterator[Cut]:
    """The phase at which a check rule holds, else the likeliest one."""
    data = stream.bytes
    first: Cut | None = None
    for phase in comb.phases or [0]:
        frames, at = comb.frames(data, phase)
        if len(frames) < 6:
            continue
        if late := _late(stream, at + comb.length - 1):
            at = at[at >= late] - late
            frames = data[at[:, None] + np.arange(comb.length)]
        cut = _checked(stream, Framing("fixed", length=comb.length), frames,
                       at + comb.length - 1)
        if cut.check:
            yield cut
            return
        first = first or cut
    if first:
        yield first


def _parted(cut: Cut) -> Cut:
    """The frames of one length as kinds of message side by side, where they are several."""
    frames = [row.tobytes() for row in cut.frames]
    code_at = find_code(frames) if len(frames) >= _LEAST else None
    if code_at is None:
        return cut
    tail = -cut.check.check.at if cut.check else 0
    wide, times_s, kinds = side_by_side(frames, cut.times_s, tail, code_at)
    framing = cut.framing
    if framing.kind == "fixed":
        framing = replace(framing, start=_common_front(frames, code_at))
    return replace(cut, framing=framing, frames=wide, times_s=times_s, kinds=kinds)


def _checked(stream: Stream, framing: Framing, frames: Bytes, ends: Places) -> Cut:
    """The frames that keep the check, if they have one."""
    total = len(stream.data)
    found = find_check(frames)
    if found:
        good = np.array([found.check.is_good(row.tobytes()) for row in frames])
        frames, ends = frames[good], ends[good]
    return Cut(framing, found, frames, stream.time_of(ends),
               min(1.0, frames.size / max(total, 1)))


# ------------------------------------------------ frames of several lengths

def _linked(stream: Stream, chain: Chain) -> Cut | None:
    """Frames that tell their length."""
    begins, sizes = np.array(chain.begins), np.array(chain.sizes)
    late = _late(stream, begins + sizes - 1)
    begins, sizes = begins[begins >= late] - late, sizes[begins >= late]
    frames = [stream.data[at:at + size] for at, size in zip(begins, sizes, strict=True)]
    place = replace(chain.place, at=chain.place.at + late)
    framing = Framing("length", start=_common_front(frames, place.at),
                      length_place=place, length_adds=chain.adds)
    cut = _of_several_lengths(stream, framing, frames, begins + sizes - 1,
                              range(place.at, place.reach))
    return None if cut and chain.is_doubtful and not cut.check else cut


def _of_several_lengths(stream: Stream, framing: Framing, frames: list[bytes], ends: Places,
                        lengths: Sequence[int] = ()) -> Cut | None:
    """Their check, and their kinds side by side; bytes at ``lengths`` tell how long they are."""
    found = _check_of_lengths(frames)
    if found:
        good = [n for n, frame in enumerate(frames) if found.check.is_good(frame)]
        frames, ends = [frames[n] for n in good], ends[good]
    if len(frames) < _LEAST:
        return None
    tail = -found.check.at if found else 0
    wide, times_s, kinds = side_by_side(frames, stream.time_of(ends), tail,
                                        find_code(frames, lengths))
    explained = sum(map(len, frames)) / len(stream.data)
    return Cut(framing, found, wide, times_s, min(1.0, explained), kinds)


def _check_of_lengths(frames: list[bytes]) -> FoundCheck | None:
    """The rule that frames of the commonest length keep, and those of others too."""
    length, _ = Counter(map(len, frames)).most_common(1)[0]
    some = [np.frombuffer(frame, np.uint8) for frame in frames if len(frame) == length]
    found = find_check(np.array(some))
    if found is None:
        return None
    step = max(1, len(frames) // 400)
    kept = np.mean([found.check.is_good(frame) for frame in frames[::step]])
    return found if kept > 0.9 else None


def _common_front(frames: list[bytes], stop: int) -> bytes:
    """The bytes before the length byte that all frames share."""
    size = 0
    while size < stop and len({frame[size] for frame in frames}) == 1:
        size += 1
    return frames[0][:size]


def with_start(cut: Cut, used: set[int]) -> Framing:
    """The framing with its start bytes: constant ones in front that no field uses.

    A check of 16 bits or more finds frames without them; then none are taken, because a byte
    that was constant in one capture may be a slow figure.
    """
    if cut.framing.kind != "fixed" or cut.kinds or (
            cut.check and cut.check.check.rule.width > 8):
        return cut.framing
    stays = (cut.frames == cut.frames[0]).all(axis=0)
    size = 0
    while size < _START_MOST and stays[size] and size not in used | cut.taken:
        size += 1
    return Framing("fixed", start=cut.frames[0, :size].tobytes(), length=cut.framing.length)
