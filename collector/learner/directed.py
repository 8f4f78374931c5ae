"""Amps told as a size, with a flag elsewhere in the frame that says which way they flow."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from .candidates import Candidate, Hunt, hunt
from .codings import Figures
from .columns import BinaryColumns, Flag
from .stream import Bytes
from .windows import Window, log10_chance

Signs = NDArray[np.bool_]

#: A flag byte has no more codes than this.
_CODES_MOST: Final = 6
#: A bit that turns more often than this, from frame to frame, is noise.
_TURNS_MOST: Final = 0.1
#: Sizes looked at, the plainest and most telling first, and flags of each.
_SIZES_MOST: Final = 40
_FLAGS_MOST: Final = 8
#: What a flag costs in belief beside a plain figure, and at most where it turns large amps over
#: at once. [log10]
_FLAG_COST: Final = 0.8
_LEAP_COST: Final = 3.0


@dataclass(frozen=True)
class _Seen:
    """A flag, and in which frames it means a minus on the display."""

    flag: Flag
    is_minus: Signs


def hunt_directed(columns: BinaryColumns, column: str, windows: Sequence[Window]) -> Hunt:
    """Candidates that are unsigned sizes under a flag, the sign as displayed."""
    sizes = hunt(columns, column, [replace(w, value=abs(w.value)) for w in windows])
    plain = [c for c in sizes.candidates if c.scale > 0 and c.spot.form is not None
             and c.spot.form.coding in ("unsigned", "bcd", "digits") and c.values.min() >= 0]
    plain = sorted(plain, key=lambda c: -c.score)[:_SIZES_MOST]
    flags = list(_flags(columns)) if plain else []
    found = [c for size in plain
             for c in _under_flags(size, _beside(columns, size, flags), windows)]
    return Hunt(found, sizes.tried, sizes.is_crowded)


def _flags(columns: BinaryColumns) -> Iterator[_Seen]:
    """Single bits and bytes of few codes that turn now and then, each trace once."""
    known: set[bytes] = set()
    for at in range(columns.frames.shape[1]):
        byte = columns.frames[:, at]
        codes = np.unique(byte)
        if at in columns.taken or len(codes) == 1:
            continue
        tries: list[tuple[int, Bytes, tuple[int, ...]]] = [
            (1 << k, (byte >> k & 1).astype(np.uint8), (0, 1)) for k in range(8)]
        if len(codes) <= _CODES_MOST:
            tries.append((0, byte, tuple(int(code) for code in codes)))
        for mask, said, values in tries:
            for code in values:
                is_minus = said == code
                turns = np.mean(is_minus[1:] != is_minus[:-1])
                if 0 < turns <= _TURNS_MOST and is_minus.tobytes() not in known:
                    known.add(is_minus.tobytes())
                    others = [value for value in values if value != code]
                    yield _Seen(Flag(at, mask, code, others[0] if len(others) == 1 else None),
                                is_minus)


def _beside(columns: BinaryColumns, size: Candidate, flags: Sequence[_Seen]) -> list[_Seen]:
    """The flags in the same message as a size."""
    if columns.kinds is None:
        return list(flags)
    block = columns.kinds.block_of(min(size.spot.bytes))
    return [replace(seen, flag=replace(seen.flag, at=seen.flag.at - block.base)) for seen in flags
            if block.base <= seen.flag.at < block.base + block.length]


def _under_flags(size: Candidate, flags: Sequence[_Seen],
                 windows: Sequence[Window]) -> Iterator[Candidate]:
    """The size with each flag that agrees with all typed signs, the calmest ones."""
    found = []
    for seen in flags:
        values = np.where(seen.is_minus, -size.values, size.values) + 0.0
        if all(window.shows(values[window.rows]) for window in windows):
            found.append((_leaps(values), seen.flag, values))
    found = sorted(found, key=lambda one: one[0])[:_FLAGS_MOST]
    large = float(np.percentile(size.values, 95)) + 1e-9
    for leaps, flag, values in found:
        leap_cost = min(_LEAP_COST, 5 * (leaps - found[0][0]) / large)
        change = log10_chance(values, windows, 1) - log10_chance(
            size.values, [replace(w, value=abs(w.value)) for w in windows], 1)
        yield replace(size, values=values, flag=flag, log10_p=size.log10_p + change,
                      cost=size.cost + _FLAG_COST + 0.5 * math.log10(max(len(flags), 1)),
                      support=size.support - leap_cost)


def _leaps(values: Figures) -> float:
    """Amps passed over where the sign turns: little, where a flag turns with the current."""
    turns = values[1:] * values[:-1] < 0
    return float(2 * np.minimum(np.abs(values[1:]), np.abs(values[:-1]))[turns].sum())


def direction_table(flag: Flag, is_minus_out: bool) -> dict[str, Any]:
    """The ``direction`` of a description; ``out`` is what flows out of the pack.

    Where another code than the display's minus means out and several do, the display's sign
    stays.
    """
    out = flag.code if is_minus_out or flag.other is None else flag.other
    return {"at": flag.at, **({"mask": flag.mask} if flag.mask else {}), "out": out}
