"""A guided drive: whether its steps were driven, told from the amps alone.

Amps are taken as magnitudes, for on a first drive nobody knows their sign yet. A step is driven
when its condition has held without a break for its time; steps follow one another. A gap in the
record is a break.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from ..telemetry import Floats

Kind = Literal["stand", "pull", "ease"]

#: Standing takes no more than this: lights and a converter may be on. [A]
STAND_A: Final = 2.0
#: A pull takes this at least, and half of the most that was seen before it ends. [A]
PULL_A: Final = 10.0
PULL_SHARE: Final = 0.5
#: Easing takes no more than this share of the pull before it.
EASE_SHARE: Final = 0.6
#: Samples further apart are a gap. [s]
GAP_S: Final = 5.0


@dataclass(frozen=True, slots=True)
class Step:
    """What to do, and for how long. [s]"""

    kind: Kind
    seconds: float


@dataclass(frozen=True, slots=True)
class Driven:
    """When a step was driven, in the log's elapsed seconds."""

    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Sag:
    """What one pull did: amps and volts standing before it, and in it."""

    from_a: float
    to_a: float
    from_v: float
    to_v: float

    @property
    def mohm(self) -> float:
        """``(V_stand - V_pull) / (|I_pull| - |I_stand|)``; everything up to where the volts are
        measured. [mOhm]"""
        return 1000 * (self.from_v - self.to_v) / (self.to_a - self.from_a)


def follow(steps: Sequence[Step], elapsed_s: Floats, current_a: Floats,
           since_s: float) -> tuple[Driven, ...]:
    """The steps that were driven so far, in their order.

    Parameters
    ----------
    elapsed_s, current_a
        Of a log that may still grow; rows whose amps are NaN are left out. [s], [A]
    since_s
        Nothing before this counts. [s]
    """
    used = np.isfinite(current_a) & (elapsed_s >= since_s)
    time_s, amps = elapsed_s[used], np.abs(current_a[used])
    found: list[Driven] = []
    pull_a = math.nan
    for step in steps:
        after_s = found[-1].end_s if found else since_s
        driven = _first(step, time_s, amps, after_s, pull_a)
        if driven is None:
            break
        found.append(driven)
        if step.kind == "pull":
            pull_a = float(np.median(amps[_within(time_s, driven)]))
    return tuple(found)


def _first(step: Step, time_s: Floats, amps: Floats, after_s: float,
           pull_a: float) -> Driven | None:
    """The first stretch after a moment in which a step's condition held for its time."""
    rows = np.flatnonzero(time_s >= after_s)
    if not len(rows):
        return None
    time, held = time_s[rows], _holds(step.kind, amps[rows], pull_a)
    broken = np.flatnonzero(~held[1:] | (np.diff(time) > GAP_S) | ~held[:-1]) + 1
    for first, last in zip([0, *broken], [*broken, len(time)], strict=True):
        if held[first] and time[last - 1] - time[first] >= step.seconds:
            return Driven(float(time[first]), float(time[first]) + step.seconds)
    return None


def _holds(kind: Kind, amps: Floats, pull_a: float) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    if kind == "stand":
        return amps <= STAND_A
    if kind == "ease":
        return amps <= EASE_SHARE * pull_a
    return amps >= np.maximum(PULL_A, PULL_SHARE * np.maximum.accumulate(amps))


def _within(time_s: Floats, driven: Driven) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    return (time_s >= driven.start_s) & (time_s <= driven.end_s)


def sag_of(stand: Driven, pull: Driven, elapsed_s: Floats, current_a: Floats,
           voltage_v: Floats) -> Sag | None:
    """Medians of a stand and of the pull after it; ``None`` where amps or volts are missing."""
    before, during = _within(elapsed_s, stand), _within(elapsed_s, pull)
    amps = np.abs(current_a)
    values = [float(np.nanmedian(column[rows])) if np.isfinite(column[rows]).any() else math.nan
              for column in (amps, voltage_v) for rows in (before, during)]
    return Sag(*values) if all(map(math.isfinite, values)) else None
