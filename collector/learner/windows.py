"""Which frames a typed reading can have shown, and how well a trace agrees with what was typed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from .codings import Figures
from .columns import Rows
from .readings import Reading
from .stream import Times

#: A display may lag so far behind the wire, and a person type so late. [s]
LAG_S: Final = 3.3
#: A clock that is a little ahead. [s]
AHEAD_S: Final = 0.5


@dataclass(frozen=True)
class Window:
    """One typed figure and the frames that it may have come from."""

    rows: Rows
    value: float
    #: Half of the last digit shown, a little more for numbers that end in 5.
    tolerance: float
    time_s: float
    #: Frames of the window behind which at least one is missing: what was shown may be lost.
    holes: Rows

    def shows(self, figures: Figures) -> NDArray[np.bool_]:
        """Whether the window's frames show the typed figure, or pass it where one is lost.

        ``figures`` has one row a frame of the window, and any shape behind.
        """
        off = figures - self.value
        found = np.any(np.abs(off) <= self.tolerance, axis=0)
        if len(self.holes):
            before, behind = off[self.holes], off[self.holes + 1]
            # A lost figure may lie a little beyond both of its neighbours.
            reach = 0.5 * np.abs(behind - before) + self.tolerance
            found |= np.any((np.minimum(before, behind) <= reach)
                            & (np.maximum(before, behind) >= -reach), axis=0)
        return np.asarray(found, dtype=np.bool_)


def windows_of(column: str, readings: Sequence[Reading], times_s: Times) -> list[Window]:
    """The windows of all readings that hold this column and have frames."""
    period_s = float(np.median(np.diff(times_s))) if len(times_s) > 1 else 1.0
    found = []
    for reading in readings:
        if column not in reading.values:
            continue
        at_s = reading.time_ms / 1000
        first = np.searchsorted(times_s, at_s - LAG_S - min(period_s, 10.0))
        stop = np.searchsorted(times_s, at_s + AHEAD_S, side="right")
        if stop > first:
            holes = np.flatnonzero(np.diff(times_s[first:stop]) > 1.6 * period_s)
            found.append(Window(np.arange(first, stop), reading.values[column],
                                0.5001 * reading.steps[column] + 1e-9, at_s, holes))
    return found


def log10_chance(values: Figures, windows: Sequence[Window], places: float) -> float:
    """How likely a trace of this kind, at an unknown place and time, agrees with all. [log10]

    The most telling figure places the trace, one of ``places`` that it could have; each other
    distinct figure agrees by chance as often as a window of its length anywhere in the trace.
    """
    shares: dict[float, float] = {}
    for window in windows:
        hit = np.abs(values - window.value) <= window.tolerance
        total = np.concatenate([[0], np.cumsum(hit)])
        size = len(window.rows)
        share = float(np.mean(total[size:] > total[:-size]))
        shares[window.value] = max(share, 1 / len(values))
    ranked = sorted(shares.values())
    return -math.log10(max(places, 1)) + sum(math.log10(share) for share in ranked[1:])


def joint_lag_spread_s(values: Figures, windows: Sequence[Window], times_s: Times) -> float:
    """How far apart the lags have to be with which the trace shows all typed figures. [s]"""
    lags = [window.time_s - times_s[window.rows][np.abs(
        values[window.rows] - window.value) <= window.tolerance] for window in windows]
    lags = [lag for lag in lags if len(lag)]
    if len(lags) < 2:
        return 0.0
    # One lag for all is best: the smallest span that holds a lag of each reading.
    return min(max(float(np.abs(lag - middle).min()) for lag in lags)
               for middle in np.arange(-AHEAD_S, LAG_S + 1.0, 0.1))
