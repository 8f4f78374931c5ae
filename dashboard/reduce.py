"""What a screen can show of a long record: for each column of pixels the lowest and highest value.

A record whose peaks are evidence must keep them, so a column is drawn from its minimum to its
maximum; nothing is averaged. A block of 256 samples is reduced once (the pyramid), so that a view
of ten million samples touches forty thousand. Neither a block nor a column straddles a gap.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Self

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Indices = NDArray[np.intp]

#: Samples in one block of the pyramid.
BLOCK: Final = 256


@dataclass(frozen=True, slots=True)
class TimeAxis:
    """When a quantity has figures, where it has gaps, and its blocks."""

    #: Strictly increasing. [s]
    elapsed_s: Floats
    #: Indices of the samples that follow a gap, increasing, never 0.
    breaks: Indices
    #: First index of each block; every break starts a block.
    starts: Indices

    @classmethod
    def of(cls, elapsed_s: Floats, breaks: Indices) -> Self:
        """Lay out the blocks: every ``BLOCK`` samples, and anew after each gap."""
        starts = np.union1d(np.arange(0, len(elapsed_s), BLOCK), breaks).astype(np.intp)
        return cls(elapsed_s, breaks, starts)

    def edges(self, start_s: float, end_s: float, columns: int) -> tuple[Indices, int]:
        """First index of each column of a view, and the index after the last one.

        One sample beyond either side is taken in, so that a line reaches the view's edge. With
        fewer than two samples a column, every sample is its own column.
        """
        times = self.elapsed_s
        first = max(int(np.searchsorted(times, start_s)) - 1, 0)
        last = min(int(np.searchsorted(times, end_s, side="right")) + 1, len(times))
        if last - first <= 2 * columns:
            return np.arange(first, last, dtype=np.intp), last
        inside = np.searchsorted(times, np.linspace(start_s, end_s, columns + 1))
        near = self.breaks[(self.breaks > first) & (self.breaks < last)]
        edges = np.union1d(np.append(inside, first), near).astype(np.intp)
        return edges[(edges >= first) & (edges < last)], last


@dataclass(frozen=True, slots=True)
class Channel:
    """One quantity where it has figures, with the extremes of its blocks."""

    axis: TimeAxis
    #: As long as the axis, no NaN.
    values: Singles
    low: Singles
    high: Singles

    @classmethod
    def on(cls, axis: TimeAxis, values: NDArray[np.floating]) -> Self:
        """Reduce the blocks of a quantity; it has one figure, no NaN, at each time of its axis."""
        single = np.ascontiguousarray(values, dtype=np.float32)
        if not len(single):
            return cls(axis, single, single, single)
        return cls(axis, single, np.minimum.reduceat(single, axis.starts),
                   np.maximum.reduceat(single, axis.starts))

    def at(self, times_s: Floats) -> Floats:
        """The figure in force at each moment; NaN before the first, after the last and in gaps."""
        there = self.axis.elapsed_s
        if not len(there):
            return np.full(len(times_s), np.nan)
        place = np.searchsorted(there, times_s, side="right") - 1
        found = self.values[place].astype(np.float64)
        in_gap = np.isin(place + 1, self.axis.breaks) & (times_s > there[place])
        found[in_gap | (place < 0) | (times_s > there[-1])] = np.nan
        return found

    def extremes(self, edges: Indices, last: int) -> tuple[Singles, Singles]:
        """Lowest and highest value of each column.

        Wide columns are read from the blocks that they touch, so that an extreme is never lost;
        it can show up to one block early or late.
        """
        if not len(edges):
            return self.values[:0], self.values[:0]
        if (last - edges[0]) < 4 * BLOCK * len(edges):
            stretch, offsets = slice(edges[0], last), edges - edges[0]
            return (np.minimum.reduceat(self.values[stretch], offsets),
                    np.maximum.reduceat(self.values[stretch], offsets))
        starts = self.axis.starts
        blocks = np.searchsorted(starts, edges, side="right") - 1
        stop = int(np.searchsorted(starts, last))
        return (np.minimum.reduceat(self.low[:stop], blocks),
                np.maximum.reduceat(self.high[:stop], blocks))


@dataclass(frozen=True, slots=True)
class Curve:
    """A line to draw: x never decreases, NaN in y ends a stroke."""

    x: Floats
    y: Singles


def line(channel: Channel, start_s: float, end_s: float, columns: int) -> Curve:
    """The line of a view: through the lowest and highest value of each column.

    Each column gives two points, its extremes in the order in which the record runs there; where
    samples are few, the line goes through every one. A NaN stands at each gap.
    """
    edges, last = channel.axis.edges(start_s, end_s, columns)
    low, high = channel.extremes(edges, last)
    x = _ends(channel.axis, edges, last)
    y = low[:, np.newaxis]
    if (points := x.shape[1]) == 2:
        ends = np.append(edges[1:], last) - 1
        falling = channel.values[edges] > channel.values[ends]
        y = np.stack([np.where(falling, high, low), np.where(falling, low, high)], axis=1)
    gaps = _gaps(channel.axis, edges)
    return Curve(np.insert(x.ravel(), points * gaps, x[gaps, 0]),
                 np.insert(y.ravel(), points * gaps, np.float32(np.nan)))


def ribbon(low: Channel, high: Channel, start_s: float, end_s: float, columns: int) -> Curve:
    """The closed outlines between two channels of one axis, one for each stretch without a gap.

    The outlines are separated by NaN; x runs forth along the upper edge and back along the lower.
    """
    edges, last = low.axis.edges(start_s, end_s, columns)
    lower, _ = low.extremes(edges, last)
    _, upper = high.extremes(edges, last)
    x = _ends(low.axis, edges, last)
    upper, lower = (np.repeat(y[:, np.newaxis], x.shape[1], axis=1) for y in (upper, lower))
    xs: list[NDArray[np.floating]] = []
    ys: list[NDArray[np.floating]] = []
    for stretch in np.split(np.arange(len(edges)), _gaps(low.axis, edges)):
        there = x[stretch].ravel()
        xs += [there, there[::-1], there[-1:]]
        ys += [upper[stretch].ravel(), lower[stretch].ravel()[::-1],
               np.full(min(len(there), 1), np.nan, np.float32)]
    return Curve(np.concatenate(xs), np.concatenate(ys).astype(np.float32))


def sides(curve: Curve) -> tuple[Curve, Curve]:
    """A line parted at zero: what is zero or below, and what is above.

    Each part touches zero where the line crosses it, and is NaN on the other side.
    """
    return _kept(curve, curve.y <= 0), _kept(curve, curve.y > 0)


def _kept(curve: Curve, mine: NDArray[np.bool_]) -> Curve:
    beside = mine.copy()
    beside[1:] |= mine[:-1]
    beside[:-1] |= mine[1:]
    zeroed = np.where(mine | np.isnan(curve.y), curve.y, np.float32(0))
    return Curve(curve.x, np.where(beside, zeroed, np.float32(np.nan)).astype(np.float32))


def area(curve: Curve) -> Curve:
    """The closed outlines between a line and zero, one for each stroke, separated by NaN."""
    xs: list[NDArray[np.floating]] = []
    ys: list[NDArray[np.floating]] = []
    for part in np.split(np.arange(len(curve.x)), np.flatnonzero(np.isnan(curve.y))):
        stroke = part[~np.isnan(curve.y[part])]
        ends = stroke[[-1, 0, 0]] if len(stroke) else stroke
        xs += [curve.x[stroke], curve.x[ends]]
        ys += [curve.y[stroke], np.array([0, 0, np.nan], np.float32)[:len(ends)]]
    return Curve(np.concatenate(xs), np.concatenate(ys).astype(np.float32))


def _ends(axis: TimeAxis, edges: Indices, last: int) -> Floats:
    """Time of the first and last sample of each column; one time where columns are samples.

    Shape (columns, 2) or (columns, 1).
    """
    times = axis.elapsed_s
    if not len(edges) or len(edges) == last - edges[0]:
        return times[edges][:, np.newaxis]
    return np.stack([times[edges], times[np.append(edges[1:], last) - 1]], axis=1)


def _gaps(axis: TimeAxis, edges: Indices) -> Indices:
    """Positions of the columns that follow a gap, the first column apart."""
    gaps = np.flatnonzero(np.isin(edges, axis.breaks))
    return gaps[gaps > 0]
