"""The stretches of a log where amps and volts say most about each other.

Sign and resistance look at a few windows with the widest swing of the amps, so that a log of a
season costs no more than a log of an hour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Self

import numpy as np
from numpy.typing import NDArray

from ..telemetry import Floats
from ..timebase import Observed

#: Windows with fewer points than this say nothing.
POINTS_MIN: Final = 10


@dataclass(frozen=True, slots=True)
class Window:
    """Amps and volts of one stretch without a gap, as point samples on an even grid."""

    #: Log time of the points. [s]
    time_s: Floats
    current_a: Floats
    voltage_v: Floats
    #: Grid step. [s]
    step_s: float

    @property
    def swing_a(self) -> float:
        return float(np.ptp(self.current_a))

    def crossings(self) -> int:
        """How often the amps cross the middle of their range, with 15 % hysteresis."""
        low, high = float(self.current_a.min()), float(self.current_a.max())
        middle, margin = (low + high) / 2, 0.15 * (high - low)
        side = np.where(self.current_a > middle + margin, 1,
                        np.where(self.current_a < middle - margin, -1, 0))
        side = side[side != 0]
        return int(np.count_nonzero(np.diff(side)))


@dataclass(frozen=True, slots=True)
class Windows:
    """A log cut into windows, and how far the amps swing in each."""

    current_a: Floats
    voltage_v: Floats
    observed: Observed
    step_s: float
    #: First and last position of each window, shape (n, 2).
    edges: NDArray[np.intp]
    swing_a: Floats

    @classmethod
    def cut(cls, current_a: Floats, voltage_v: Floats, observed: Observed, *,
            length_s: float, step_s: float) -> Self:
        """Cut a log.

        Parameters
        ----------
        current_a, voltage_v
            At the observed rows.
        length_s
            Window length; what is left of a stretch makes a shorter window.
        step_s
            Grid step; not below the log's own.
        """
        edges = _edges(observed, length_s)
        if not len(edges):
            return cls(current_a, voltage_v, observed, step_s, edges, np.empty(0))
        stride = max(1, round(step_s / observed.usual_s))
        thin = current_a[::stride]
        bounds = np.clip(edges // stride, 0, len(thin) - 1)
        swing = (np.maximum.reduceat(thin, bounds.ravel())[::2]
                 - np.minimum.reduceat(thin, bounds.ravel())[::2])
        return cls(current_a, voltage_v, observed, step_s, edges, swing)

    def widest(self, count: int) -> list[Window]:
        """At most so many windows with the widest swing of the amps, widest first."""
        return self._told(self._by_swing()[:count])

    def widest_of_parts(self, parts: int, count: int, *, after: int) -> list[Window]:
        """Windows beside the ``after`` widest, so that every part of the time has its widest
        ``count``, if it holds so many."""
        order = self._by_swing()
        time_s = self.observed.time_s
        bounds_s = np.linspace(time_s[0], time_s[-1], parts + 1)[1:-1]
        part = np.searchsorted(bounds_s, time_s[self.edges[order, 0]], side="right")
        chosen = np.concatenate([np.flatnonzero(part == k)[:count] for k in range(parts)])
        return self._told(order[chosen[chosen >= after]])

    def _by_swing(self) -> NDArray[np.intp]:
        return np.argsort(-self.swing_a, kind="stable")

    def _told(self, places: NDArray[np.intp]) -> list[Window]:
        windows = []
        time_s = self.observed.time_s
        for first, last in self.edges[places]:
            grid = np.arange(time_s[first], time_s[last], self.step_s)
            points = np.searchsorted(time_s, grid)
            if len(points) >= POINTS_MIN:
                windows.append(Window(grid, self.current_a[points], self.voltage_v[points],
                                      self.step_s))
        return windows


def _edges(observed: Observed, length_s: float) -> NDArray[np.intp]:
    """First and last row of each window, shape (n, 2)."""
    parts = []
    for first, end in observed.runs():
        start_s, stop_s = observed.time_s[first], observed.time_s[end - 1]
        cuts_s = np.append(np.arange(start_s, stop_s, length_s), stop_s)
        cuts = first + np.searchsorted(observed.time_s[first:end], cuts_s)
        parts.append(np.column_stack([cuts[:-1], cuts[1:]]))
    edges = np.concatenate(parts) if parts else np.empty((0, 2), np.intp)
    return edges[edges[:, 1] > edges[:, 0]]


def by_length(windows: Sequence[Window]) -> list[list[int]]:
    """Places of the windows that have as many points, so that one array may hold several."""
    found: dict[int, list[int]] = {}
    for place, window in enumerate(windows):
        found.setdefault(len(window.time_s), []).append(place)
    return list(found.values())
