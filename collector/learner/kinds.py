"""Several kinds of message in one stream, laid side by side as one wide frame.

Each row holds the latest message of every kind, so that volts of one and amps of another are
looked at together. A row comes with each message of the most frequent kind.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from .stream import Bytes, Times

#: The code of a message stands among its first bytes.
_FRONT: Final = 8
_KINDS_MOST: Final = 8
#: Messages of a kind without which it is damage.
_LEAST: Final = 8
#: How much more bytes have to equal the message before of the same kind than the one before.
_GAIN: Final = 0.06
_FIRST: Final = 0.7
#: A code is one of few in nearly all messages, and turns often.
_KNOWN: Final = 0.98
_TURNS: Final = 0.1


@dataclass(frozen=True)
class Block:
    """Where the messages of one kind lie in the wide frame."""

    code: int | None
    base: int
    length: int


@dataclass(frozen=True)
class Kinds:
    """The byte that tells kinds apart, and where each lies in the wide frame."""

    at: int
    blocks: tuple[Block, ...]
    #: In which rows a message of each block was new. [rows, blocks]
    is_new: NDArray[np.bool_]

    @property
    def taken(self) -> set[int]:
        """Bytes of the wide frame that are no figures: codes, and what parts the blocks."""
        parts = {block.base + block.length for block in self.blocks}
        return parts | {block.base + self.at for block in self.blocks if block.code is not None}

    def block_of(self, place: int) -> Block:
        """The block that a byte of the wide frame lies in."""
        return next(b for b in reversed(self.blocks) if b.base <= place)

    def is_new_at(self, base: int) -> NDArray[np.bool_]:
        """In which rows the message was new whose block begins there."""
        found: NDArray[np.bool_] = self.is_new[:, [b.base for b in self.blocks].index(base)]
        return found


def find_code(frames: Sequence[bytes], lengths: Sequence[int] = ()) -> int | None:
    """The byte that tells kinds of messages apart, ``None`` where there is one kind.

    The bytes at ``lengths`` tell the frame's length: one is the code only where no other is.
    """
    size = min(map(len, frames))
    fronts = np.array([np.frombuffer(frame[:size], np.uint8) for frame in frames])
    gains: dict[int, float] = {}
    for at in (*(n for n in range(min(_FRONT, size - 1)) if n not in lengths), *lengths):
        if at in lengths and gains:
            break
        rest = np.delete(fronts, [at, *lengths], axis=1)
        codes, counts = np.unique(fronts[:, at], return_counts=True)
        common = codes[counts >= max(_LEAST, 0.02 * len(frames))]
        is_known = np.isin(fronts[:, at], common)
        turns = float((fronts[1:, at] != fronts[:-1, at]).mean())
        if (not 2 <= len(common) <= _KINDS_MOST
                or is_known.mean() < _KNOWN or turns < _TURNS):
            continue
        usual = float((rest[1:] == rest[:-1]).mean())
        groups = [rest[fronts[:, at] == code] for code in common]
        same = sum(float((group[1:] == group[:-1]).mean()) * len(group) for group in groups)
        gain = same / sum(map(len, groups)) - usual
        if gain > _GAIN:
            gains[at] = gain
    # A figure behind the code may part the messages once more: the first byte is the code.
    return next((at for at, gain in gains.items() if gain > _FIRST * max(gains.values())), None)


def side_by_side(frames: Sequence[bytes], times_s: Times, tail: int,
                 code_at: int | None) -> tuple[Bytes, Times, Kinds]:
    """Wide frames, when each was whole, and what lies where.

    Parameters
    ----------
    frames
        Whole messages in order.
    times_s
        When each was whole. [s, Unix]
    tail
        Bytes at the end that are a check.
    code_at
        The byte that tells kinds apart, ``None`` for one kind of varying length.
    """
    codes = np.array([0 if code_at is None else frame[code_at] for frame in frames])
    values, counts = np.unique(codes, return_counts=True)
    common = [int(v) for v, n in zip(values, counts, strict=True)
              if n >= max(_LEAST, 0.02 * len(frames))]
    latest, blocks, parts = [], [], []
    base = 0
    for code in common:
        own = np.flatnonzero(codes == code).tolist()
        length = min(len(frames[n]) for n in own) - tail
        table = np.array([np.frombuffer(frames[n][:length] + b"\0", np.uint8) for n in own])
        latest.append(np.searchsorted(own, np.arange(len(frames)), side="right") - 1)
        blocks.append(Block(None if code_at is None else code, base, length))
        parts.append(table)
        base += length + 1
    is_row = (codes == _pace(codes, common, times_s)) & (np.min(latest, axis=0) >= 0)
    rows = np.flatnonzero(is_row)
    wide = np.hstack([table[seen[rows]] for table, seen in zip(parts, latest, strict=True)])
    is_new = np.stack([np.diff(seen[rows], prepend=-1) > 0 for seen in latest], axis=1)
    return wide, times_s[rows], Kinds(code_at or 0, tuple(blocks), is_new)


def _pace(codes: NDArray[np.int64], common: Sequence[int], times_s: Times) -> int:
    """The kind that comes most often, the last of those that come together."""
    counts = {code: int((codes == code).sum()) for code in common}
    often = [code for code in common if counts[code] > 0.9 * max(counts.values())]
    silence_s = np.diff(times_s, append=times_s[-1])
    return max(often, key=lambda code: float(np.median(silence_s[codes == code])))
