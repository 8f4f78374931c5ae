"""Binary fields: places in a frame to figures and words, and back.

A field gives figures for one or more columns. It reads what is there and judges nothing but
"missing": a sentinel, looked at before scaling, or bits that are no number leave the column out
of the row. A figure outside its plausible range stays.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Protocol, TypeVar

from .place import CODINGS, Place, Reader, places_from, reader_of
from .scaling import Scaling

#: One decoded frame: figures and words by column; a missing one is absent.
Row = dict[str, float | str]
Values = Mapping[str, float | str]

Said = TypeVar("Said")


class Field(Protocol):
    """Part of a binary frame."""

    @property
    def columns(self) -> tuple[str, ...]:
        """The quantity columns it can fill."""
        ...

    @property
    def reach(self) -> int:
        """The shortest frame that holds it. [bytes]"""
        ...

    def read_into(self, row: Row, frame: bytes) -> None:
        """Add what the frame says; it is at least ``reach`` bytes long."""
        ...

    def write_into(self, frame: bytearray, values: Values) -> None:
        """Put figures in; raises ``ValueError`` for one that does not fit."""
        ...


class _Memo(dict[int, Said]):
    """What bits say, by the bits: a monitor sends the same ones again and again."""

    #: Beyond this many the rest is worked out each time.
    _ROOM = 1 << 16

    def __init__(self, work_out: Callable[[int], Said]) -> None:
        super().__init__()
        self._work_out = work_out

    def __missing__(self, raw: int) -> Said:
        said = self._work_out(raw)
        if len(self) < self._ROOM:
            self[raw] = said
        return said


@dataclass(frozen=True, slots=True)
class Direction:
    """The flag that tells which way an unsigned current flows."""

    place: Place
    #: What the flag reads when charge flows out of the pack.
    out: int = 1

    def signed(self, size: float, frame: bytes) -> float:
        """Negative out of the pack, positive into it; no amps have no sign."""
        is_out = self.place.read(frame) == self.out
        return (-abs(size) if is_out else abs(size)) or 0.0

    def write(self, frame: bytearray, value: float) -> None:
        """Set the flag; into the pack is any other value, the smallest here."""
        self.place.write(frame, self.out if value < 0 else int(self.out == 0))


@dataclass(frozen=True, slots=True)
class Number:
    """Figures at equal steps through the frame, each ``raw x scale + offset``.

    A single figure is a group of one. ``base`` is a figure elsewhere in the frame that is added
    to each, as in cells told as a difference from a common voltage.
    """

    columns: tuple[str, ...]
    place: Place
    #: From one member of the group to the next, at least the place's length. [bytes]
    stride: int = 0
    coding: str = "unsigned"
    scaling: Scaling = field(default_factory=Scaling)
    #: Bits, read as an unsigned integer, that mean "no figure".
    missing: tuple[int, ...] = ()
    base: Number | None = None
    direction: Direction | None = None
    _memo: _Memo[float | None] = field(init=False, repr=False, compare=False)
    _read: Reader = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_memo", _Memo(self.figure))
        object.__setattr__(self, "_read", reader_of(self.place, len(self.columns), self.stride))

    @property
    def _places(self) -> tuple[Place, ...]:
        return places_from(self.place, len(self.columns), self.stride)

    @property
    def reach(self) -> int:
        others = [self.base.reach] if self.base else []
        others += [self.direction.place.reach] if self.direction else []
        return max([place.reach for place in self._places] + others)

    def figure(self, raw: int) -> float | None:
        """The figure that bare bits stand for, before base and direction."""
        if raw in self.missing:
            return None
        number = CODINGS[self.coding].decode(raw, self.place.bits)
        value = math.nan if number is None else self.scaling.apply(number)
        return value if math.isfinite(value) else None

    def read_into(self, row: Row, frame: bytes) -> None:
        memo = self._memo
        for column, raw in zip(self.columns, self._read(frame), strict=True):
            value = memo[raw]
            if value is not None:
                row[column] = value
        if self.base or self.direction:
            self._complete(row, frame)

    def _complete(self, row: Row, frame: bytes) -> None:
        base = self.base.figure(self.base.place.read(frame)) if self.base else 0.0
        for column in self.columns:
            value = row.pop(column, None)
            if isinstance(value, float) and base is not None:
                # Sums of decimals: rounded far below any monitor's step.
                value = round(value + base, 9)
                row[column] = self.direction.signed(value, frame) if self.direction else value

    def write_into(self, frame: bytearray, values: Values) -> None:
        figures = [_number(values.get(column)) for column in self.columns]
        base = self._write_base(frame, figures)
        for column, place, value in zip(self.columns, self._places, figures, strict=True):
            if self.direction and value is not None:
                self.direction.write(frame, value)
            try:
                place.write(frame, self._raw(value, base))
            except (ValueError, OverflowError) as error:
                raise ValueError(f"{column} = {values.get(column)!r} does not fit: {error}") \
                    from None

    def _write_base(self, frame: bytearray, figures: Iterable[float | None]) -> float:
        """Write the highest base that leaves no difference below the lowest raw value 0."""
        if self.base is None:
            return 0.0
        known = [value for value in figures if value is not None]
        lowest = min(known, default=0.0) - self.scaling.apply(0)
        steps = math.floor(round(self.base.scaling.undo(lowest), 6))
        raw = CODINGS[self.base.coding].encode(steps, self.base.place.bits)
        self.base.place.write(frame, raw)
        return self.base.figure(raw) or 0.0

    def _raw(self, value: float | None, base: float) -> int:
        if value is None:
            if not self.missing:
                raise ValueError("no figure, and no value that means missing")
            return self.missing[0]
        number = self.scaling.undo((abs(value) if self.direction else value) - base)
        raw = CODINGS[self.coding].encode(number, self.place.bits)
        if raw in self.missing:
            raise ValueError("it would read as missing")
        return raw


def _number(value: float | str | None) -> float | None:
    """The figure to send, ``None`` where there is none."""
    if isinstance(value, str):
        raise ValueError(f"{value!r} is not a number")
    return None if value is None or math.isnan(value) else value


@dataclass(frozen=True, slots=True)
class Only:
    """A field that only one kind of frame has, where a monitor sends several kinds."""

    field: Field
    #: The code that tells the kinds apart.
    kind: Place
    #: The codes of the kind that has the field; the first one is sent.
    codes: tuple[int, ...]

    @property
    def columns(self) -> tuple[str, ...]:
        return self.field.columns

    @property
    def reach(self) -> int:
        return max(self.kind.reach, self.field.reach)

    def read_into(self, row: Row, frame: bytes) -> None:
        """Add what the frame says if it is of that kind; it holds at least the code."""
        if self.kind.read(frame) in self.codes and len(frame) >= self.field.reach:
            self.field.read_into(row, frame)

    def write_into(self, frame: bytearray, values: Values) -> None:
        self.kind.write(frame, self.codes[0])
        self.field.write_into(frame, values)


@dataclass(frozen=True, slots=True)
class Word:
    """A code that stands for a word, or bits that each stand for one.

    A code without a word reads ``code 7``, a set bit without one ``bit 7``: what the monitor
    said is kept.
    """

    column: str
    place: Place
    words: Mapping[int, str]
    #: True where each bit is a flag of its own; the words of set bits are joined by ``"; "``.
    is_flags: bool = False
    #: What no bit set means; empty leaves the column out.
    none: str = ""
    #: Codes that mean "not known".
    missing: tuple[int, ...] = ()
    _memo: _Memo[str] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_memo", _Memo(self.said))

    @property
    def columns(self) -> tuple[str, ...]:
        return (self.column,)

    @property
    def reach(self) -> int:
        return self.place.reach

    def said(self, raw: int) -> str:
        """The words that bare bits stand for, empty if they say nothing."""
        if raw in self.missing:
            return ""
        if not self.is_flags:
            return self.words.get(raw, f"code {raw}")
        flags = [self.words.get(bit, f"bit {bit}")
                 for bit in range(self.place.bits) if raw >> bit & 1]
        return "; ".join(flags) or self.none

    def read_into(self, row: Row, frame: bytes) -> None:
        if words := self._memo[self.place.read(frame)]:
            row[self.column] = words

    def write_into(self, frame: bytearray, values: Values) -> None:
        text = values.get(self.column)
        self.place.write(frame, self._code(text if isinstance(text, str) else ""))

    def _code(self, text: str) -> int:
        if self.is_flags:
            if text == self.none:
                return 0
            if text:
                return sum(1 << self._find(word, "bit") for word in text.split("; "))
        elif text:
            return self._find(text, "code")
        if not self.missing:
            raise ValueError(f"{self.column}: no word, and no code that means missing")
        return self.missing[0]

    def _find(self, word: str, kind: str) -> int:
        found = [number for number, name in self.words.items() if name == word]
        if not found and word.startswith(f"{kind} "):
            found = [int(word.removeprefix(f"{kind} "))]
        if not found:
            known = ", ".join(self.words.values())
            raise ValueError(f"{self.column}: no {kind} for {word!r}; known: {known}")
        return found[0]
