"""What the frames offer to be read: numbers at places of binary frames, or values in text lines."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final, Protocol

import numpy as np
from numpy.typing import NDArray

from .codings import Figures, Form, all_forms
from .kinds import Kinds
from .stream import Bytes, Times

Rows = NDArray[np.int64]

#: Frames from which a column's habits are judged before any reading is looked at.
_HABITS: Final = 400
#: Frames in which all kinds were new that are enough to compare them.
_NEW_LEAST: Final = 40


@dataclass(frozen=True, slots=True)
class Spot:
    """One number in a frame, as a description names it."""

    #: Byte of a binary frame, key or position of a text line.
    at: int | str
    #: ``None`` for text.
    form: Form | None
    #: Place and code of the kind of message it lies in; ``None`` where there is one kind.
    only: tuple[int, int] | None = None
    #: Where that kind begins among all kinds side by side.
    base: int = 0

    @property
    def bytes(self) -> frozenset[int]:
        """Bytes of the frame it takes, none for text."""
        if self.form is None or isinstance(self.at, str):
            return frozenset()
        first = self.base + self.at
        return frozenset(range(first, first + self.form.length))

    @property
    def place(self) -> str:
        """Where it is, in words: ``7..8``."""
        if self.form is None or isinstance(self.at, str):
            return str(self.at)
        last = self.at + self.form.length - 1
        place = f"{self.at}..{last}" if last > self.at else f"{self.at}"
        return place + (f" bits {self.form.mask:#x}" if self.form.mask else "")

    @property
    def type(self) -> str:
        """How it is written, in words: ``signed, little``."""
        if self.form is None:
            return "text"
        has_order = self.form.length > 1 and self.form.coding != "digits"
        return self.form.coding + (f", {self.form.order}" if has_order else "")


@dataclass(frozen=True, slots=True)
class Flag:
    """What tells the direction of amps: one bit, or the whole byte where ``mask`` is 0."""

    at: int
    mask: int
    #: What it reads where the display shows a minus.
    code: int
    #: What it reads otherwise, ``None`` where that is more than one code.
    other: int | None

    @property
    def place(self) -> str:
        """Where it is, in words."""
        return f"{self.at}" + (f" bits {self.mask:#x}" if self.mask else "")


@dataclass(frozen=True)
class Habits:
    """What each column of a form does over the whole capture; one entry a place."""

    low: Figures
    high: Figures
    #: Mean step from one looked-at frame to the next.
    step: Figures
    #: NaN-free and not always the same.
    is_alive: NDArray[np.bool_]


class Columns(Protocol):
    """All numbers that frames may hold."""

    times_s: Times

    @property
    def forms(self) -> Sequence[Form | None]:
        """Ways to read a number."""
        ...

    def sweep(self, form: Form | None, rows: Rows, /) -> Figures:
        """The number at every place of some frames. [frames, places]"""
        ...

    def trace(self, form: Form | None, place: int, /) -> Figures:
        """The number at one place of all frames."""
        ...

    def spot(self, form: Form | None, place: int, /) -> Spot:
        """The name of one place."""
        ...

    def habits(self, form: Form | None, /) -> Habits:
        """What the columns of a form do over the capture."""
        ...

    def news(self, *spots: Spot) -> Rows:
        """Frames in which all these numbers were told anew."""
        ...


def _habits(columns: Columns, form: Form | None) -> Habits:
    count = len(columns.times_s)
    rows = np.unique(np.linspace(0, count - 1, min(count, _HABITS)).astype(np.int64))
    figures = columns.sweep(form, rows)
    if not figures.size:
        empty = np.empty(figures.shape[1])
        return Habits(empty, empty, empty, empty.astype(bool))
    good = np.isfinite(figures).mean(axis=0) > 0.99
    filled = np.where(np.isfinite(figures), figures, 0.0)
    ranked = np.sort(filled, axis=0)
    edge = len(rows) // 100
    low, high = ranked[edge], ranked[-1 - edge]
    step = np.abs(np.diff(filled, axis=0)).mean(axis=0)
    return Habits(low, high, step, good & (ranked[0] < ranked[-1]))


class BinaryColumns:
    """Numbers in binary frames of one length; some bytes are spoken for."""

    def __init__(self, frames: Bytes, times_s: Times, taken: set[int],
                 kinds: Kinds | None = None) -> None:
        self.kinds = kinds
        self.frames = frames
        self.times_s = times_s
        self.taken = taken
        self._known: dict[Form, Habits] = {}

    @cached_property
    def forms(self) -> Sequence[Form | None]:
        return all_forms()

    def sweep(self, form: Form | None, rows: Rows) -> Figures:
        assert form is not None
        return form.figures(self.frames[rows])

    def trace(self, form: Form | None, place: int) -> Figures:
        assert form is not None
        return form.figures_at(self.frames, place)

    def spot(self, form: Form | None, place: int) -> Spot:
        if self.kinds is None:
            return Spot(place, form)
        block = self.kinds.block_of(place)
        only = None if block.code is None else (self.kinds.at, block.code)
        return Spot(place - block.base, form, only, block.base)

    def habits(self, form: Form | None) -> Habits:
        assert form is not None
        if form not in self._known:
            found = _habits(self, form)
            for place in range(len(found.is_alive)):
                if self.taken & set(range(place, place + form.length)):
                    found.is_alive[place] = False
            self._known[form] = found
        return self._known[form]

    def news(self, *spots: Spot) -> Rows:
        if self.kinds is None:
            return np.arange(len(self.times_s))
        return np.flatnonzero(np.all([self.kinds.is_new_at(spot.base) for spot in spots], axis=0))

    def all_new(self, spot: Spot) -> Rows:
        """Frames in which every kind of message was new, or where those are few, this number."""
        if self.kinds is None:
            return self.news(spot)
        rows = np.flatnonzero(self.kinds.is_new.all(axis=1))
        return rows if len(rows) >= _NEW_LEAST else self.news(spot)


class TextColumns:
    """Values of text lines by their key; a value that is no number is NaN."""

    def __init__(self, table: Mapping[int | str, Figures], times_s: Times) -> None:
        self.keys = list(table)
        self.figures = np.stack([table[key] for key in self.keys], axis=1)
        self.times_s = times_s

    forms: Sequence[Form | None] = (None,)

    def sweep(self, _form: Form | None, rows: Rows) -> Figures:
        found: Figures = self.figures[rows]
        return found

    def trace(self, _form: Form | None, place: int) -> Figures:
        found: Figures = self.figures[:, place]
        return found

    def spot(self, _form: Form | None, place: int) -> Spot:
        return Spot(self.keys[place], None)

    def habits(self, _form: Form | None) -> Habits:
        return self._habits

    def news(self, *_spots: Spot) -> Rows:
        return np.arange(len(self.times_s))

    @cached_property
    def _habits(self) -> Habits:
        return _habits(self, None)


def alive(columns: Columns) -> Iterator[tuple[Form | None, Habits]]:
    """Forms with at least one place that could hold a figure."""
    for form in columns.forms:
        habits = columns.habits(form)
        if habits.is_alive.any():
            yield form, habits


def only_table(spot: Spot) -> dict[str, Any]:
    """The ``only`` of a field that one kind of message has."""
    return {"only": {"at": spot.only[0], "codes": [spot.only[1]]}} if spot.only else {}


def tables(spot: Spot, name: str, scale: float, offset: float) -> dict[str, Any]:
    """The ``[[field]]`` table of a description."""
    table: dict[str, Any] = {"name": name}
    if spot.form is None:
        table |= {"at": spot.at} if isinstance(spot.at, int) else {"key": spot.at}
    else:
        form = spot.form
        table |= {"at": spot.at, "length": form.length}
        table |= {"type": form.coding} if form.coding != "unsigned" else {}
        table |= {"order": form.order} if form.length > 1 and form.coding != "digits" else {}
        table |= {"mask": form.mask} if form.mask else {}
    table |= {"scale": scale} if scale != 1 else {}
    table |= only_table(spot)
    return table | ({"offset": offset} if offset else {})
