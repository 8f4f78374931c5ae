"""Cells, which nobody has to type: they add up to the pack's volts in every frame.

They lie side by side with one step: each as volts of its own, as a difference from a common base
in front of them, or as volts above a constant.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from .adding_up import COUNTS, Miss, Pack, likeliest
from .codings import BYTE_ORDERS, Figures, Form
from .columns import Spot, only_table
from .stream import Bytes

#: Volts a cell in use can have. [V]
CELL_V: Final = (1.5, 4.6)
#: Steps a cell is told in. [V]
_STEPS_V: Final = (0.001, 0.0001)
#: Forms of cells above a constant, with their steps. [V]
_RAISED: Final = ((Form("unsigned", 1), 0.01), (Form("unsigned", 1), 0.02),
                  *((Form("unsigned", 2, order), 0.001) for order in BYTE_ORDERS))
#: That constant is a multiple of this; leads and rounding may make it seem off by so much. [V]
_ROUND_V: Final = 0.1
_ROUND_OFF_V: Final = 0.02
#: Cells of one pack are no further apart than this. [V]
_APART_V: Final = 0.25
#: One cell may stray from the mean by so much of how far the mean moves.
_CELL_STRAY: Final = 0.5
_ROWS: Final = 300


@dataclass(frozen=True, slots=True)
class Cells:
    """Cells side by side in a frame."""

    at: int
    count: int
    form: Form
    scale: float
    #: What the pack's volts have beside their sum.
    miss: Miss
    #: Volts at raw zero. [V]
    offset: float = 0.0
    #: Byte of the common base as two bytes, where cells are told as differences.
    base_at: int | None = None
    base_form: Form | None = None

    @property
    def bytes(self) -> frozenset[int]:
        """Bytes of the frame they take, the base among them."""
        own = range(self.at, self.at + self.count * self.form.length)
        base = range(self.base_at, self.base_at + 2) if self.base_at is not None else range(0)
        return frozenset(own) | frozenset(base)

    def values_v(self, frames: Bytes) -> Figures:
        """Volts of each cell in each frame. [frames, cells]"""
        size = self.form.length
        places = self.at + size * np.arange(self.count)
        values: Figures = self.form.figures(frames)[:, places] * self.scale + self.offset
        if self.base_at is None or self.base_form is None:
            return values
        base = self.base_form.figures_at(frames, self.base_at) * self.scale
        return values + base[:, None]

    def table(self, spot: Spot) -> dict[str, Any]:
        """The ``[[field]]`` table of a description; ``spot`` is that of the first cell."""
        order = {"order": self.form.order} if self.form.length > 1 else {}
        table = {"name": "cell_{n}_v", "at": spot.at, "length": self.form.length, **order,
                 "count": self.count, "scale": self.scale, **only_table(spot)}
        table |= {"offset": self.offset} if self.offset else {}
        if self.base_at is None or self.base_form is None:
            return table
        return table | {"base": {"at": self.base_at - spot.base, "length": 2,
                                 "order": self.base_form.order, "scale": self.scale}}


def find_cells(frames: Bytes, voltage_v: Figures, taken: set[int],
               current_a: Figures | None = None) -> list[Cells]:
    """Groups of cells that add up to the pack; more than one where neighbours fit as well.

    Parameters
    ----------
    frames
        One frame a row. [frames, bytes]
    voltage_v
        Pack volts of each frame. [V]
    taken
        Bytes that mean something else.
    current_a
        Amps of each frame, of either sign, where they are known. [A]
    """
    rows = np.unique(np.linspace(0, len(frames) - 1, _ROWS).astype(np.int64))
    some, pack = frames[rows], Pack(voltage_v[rows], None if current_a is None else
                                    current_a[rows])
    for ways in ((_own_volts, _differences), (_raised,)):
        found = [cells for way in ways for cells in way(some, pack, taken)
                 if each_follows(cells.values_v(some), pack.voltage_v, cells.scale)]
        if found:
            return likeliest(found)
    return []


def each_follows(cells_v: Figures, voltage_v: Figures, step_v: float) -> bool:
    """Whether every cell goes with the pack: a byte that is no cell's stands still or leaps."""
    mean_v = voltage_v / cells_v.shape[1]
    stray = np.std(cells_v - mean_v[:, None], axis=0)
    return bool((stray <= _CELL_STRAY * np.std(mean_v) + 0.003 + 0.3 * step_v).all())


def _own_volts(frames: Bytes, pack: Pack, taken: set[int]) -> Iterator[Cells]:
    for order in BYTE_ORDERS:
        form = Form("unsigned", 2, order)
        raw = form.figures(frames)
        for scale in _STEPS_V:
            is_cell = ((raw * scale > CELL_V[0]) & (raw * scale < CELL_V[1])).all(axis=0)
            is_cell &= _free(taken, form, raw.shape[1])
            for places in runs(is_cell, form.length):
                for first, count, miss in pack.sums(raw[:, places] * scale):
                    yield Cells(int(places[first]), count, form, scale, miss)


def _free(taken: set[int], form: Form, places: int) -> NDArray[np.bool_]:
    return np.array([not taken & set(range(n, n + form.length)) for n in range(places)], bool)


def runs(is_cell: NDArray[np.bool_], size: int) -> Iterator[NDArray[np.int64]]:
    """The places of each longest run with a step of so many bytes."""
    for first in range(size):
        places = np.arange(first, len(is_cell), size)
        edges = np.flatnonzero(np.diff(is_cell[places].astype(int), prepend=0, append=0))
        for begin, end in pairwise(edges):
            if is_cell[places[begin]] and end - begin >= COUNTS[0]:
                yield places[begin:end]


def _raised(frames: Bytes, pack: Pack, taken: set[int]) -> Iterator[Cells]:
    """Runs of neighbours as alike as cells are, above the one constant that makes the pack."""
    for form, scale in _RAISED:
        raw = form.figures(frames)
        goes = (np.std(raw * scale, axis=0) < np.std(pack.voltage_v)) & (np.ptp(raw, axis=0) > 0)
        goes &= _free(taken, form, raw.shape[1])
        for places in runs(goes, form.length):
            for own in _alike(np.median(raw[:, places], axis=0) * scale, places):
                if not COUNTS[0] <= len(own) <= COUNTS[1]:
                    continue
                total_v = raw[:, own].sum(axis=1) * scale
                seeming_v = float(np.median(pack.voltage_v - total_v)) / len(own)
                offset = round(round(seeming_v / _ROUND_V) * _ROUND_V, 6)
                miss = pack.miss(total_v + len(own) * offset)
                if abs(seeming_v - offset) < _ROUND_OFF_V and miss is not None:
                    yield Cells(int(own[0]), len(own), form, scale, miss, offset)


def _alike(levels_v: Figures, places: NDArray[np.int64]) -> list[NDArray[np.int64]]:
    """Neighbours parted where they leap."""
    leaps = np.flatnonzero(np.abs(np.diff(levels_v)) > _APART_V) + 1
    return np.split(places, leaps)


def _differences(frames: Bytes, pack: Pack, taken: set[int]) -> Iterator[Cells]:
    """A base of two bytes, and right behind it one byte a cell."""
    above = np.concatenate([np.zeros((len(frames), 1)), np.cumsum(frames, axis=1)], axis=1)
    moves = np.ptp(frames, axis=0) > 0
    for order in BYTE_ORDERS:
        form = Form("unsigned", 2, order)
        raw = form.figures(frames)
        for at in range(raw.shape[1]):
            base_v = raw[:, at] * 0.001
            if taken & {at, at + 1} or base_v.min() < CELL_V[0] or base_v.max() > CELL_V[1]:
                continue
            for count in range(COUNTS[0], min(COUNTS[1], frames.shape[1] - at - 2) + 1):
                stop = at + 2 + count
                if taken & set(range(at + 2, stop)):
                    break
                total_v = count * base_v + 0.001 * (above[:, stop] - above[:, at + 2])
                miss = pack.miss(total_v)
                # The highest cell before bytes that fill the frame up is no base.
                if miss is not None and 2 * moves[at + 2:stop].sum() >= count:
                    yield Cells(at + 2, count, Form("unsigned", 1), 0.001, miss, base_at=at,
                                base_form=form)
