"""Volts with the settling of the cells taken off, under steady amps and under changing ones."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..one_log.excitation import high_pass
from ..telemetry import Floats
from ..timebase import Observed

#: Steady amps stay within this share of their middle ... [1], [A]
STEADY_SHARE: Final = 0.04
STEADY_A: Final = 0.4
#: ... are at least this many, for at least this long. [A], [s]
LEAST_A: Final = 2.0
LEAST_S: Final = 900.0
#: The first seconds, in which the volts still run after a change, are left out. [s]
SETTLING_S: Final = 30.0
#: Settling is learnt from a rest of at least this long. [s]
REST_S: Final = 300.0
_TIMES_S: Final = np.geomspace(30.0, 900.0, 18)


@dataclass(frozen=True, slots=True)
class Stretch:
    """Rows of steady amps."""

    rows: slice
    #: When the amps set in. [s]
    begun_s: float


@dataclass(frozen=True, slots=True)
class Relaxation:
    """``amplitude_v`` builds up under steady amps and decays after them, with ``time_s``."""

    amplitude_v: float
    time_s: float

    def built_up(self, stretch: Stretch, seen: Observed) -> Floats:
        """Volts added so far in a stretch of the amps that it was learnt from. [V]"""
        since = seen.time_s[stretch.rows] - stretch.begun_s
        return np.asarray(self.amplitude_v * -np.expm1(-since / self.time_s))


def steady_stretches(seen: Observed, amps: Floats) -> list[Stretch]:
    """Stretches of steady amps, longest first.

    Parameters
    ----------
    amps
        At the observed rows, no NaN. [A]
    """
    found = []
    for first, end in seen.runs():
        found += [_stretch(seen, a, b) for a, b in _flat(amps, first, end)
                  if seen.time_s[b - 1] - seen.time_s[a] >= LEAST_S]
    return sorted(found, key=lambda s: s.rows.start - s.rows.stop)


def _stretch(seen: Observed, first: int, end: int) -> Stretch:
    begun = float(seen.time_s[first])
    settled = int(np.searchsorted(seen.time_s, begun + SETTLING_S))
    return Stretch(slice(min(settled, end - 1), end), begun)


def _flat(amps: Floats, first: int, end: int) -> list[tuple[int, int]]:
    """Runs within a band around the most usual loaded amps of a run of rows."""
    part = amps[first:end]
    loaded = part[np.abs(part) > LEAST_A]
    if not len(loaded):
        return []
    usual = float(np.median(loaded))
    near = np.abs(part - usual) <= STEADY_A + STEADY_SHARE * abs(usual)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], near, [False])).astype(int)))
    return [(first + int(a), first + int(b)) for a, b in edges.reshape(-1, 2)]


def relaxation(seen: Observed, amps: Floats, volts: Floats) -> Relaxation:
    """How the volts settle in the longest rest behind a steady stretch; none without one.

    Fits ``V = V_end + a exp(-t / T)`` behind the first five seconds, ``T`` on a grid. The same
    builds up under the amps, for a cell answers a step on and a step off alike (superposition).
    """
    still = np.abs(amps) < LEAST_A / 2
    for stretch in steady_stretches(seen, amps):
        end = stretch.rows.stop
        others = np.flatnonzero(~still[end:])
        stop = end + int(others[0]) if len(others) else len(amps)
        rest = np.arange(end, stop)
        rest = rest[seen.time_s[rest] >= seen.time_s[end - 1] + 5.0] if len(rest) else rest
        if len(rest) > 10 and seen.time_s[rest[-1]] - seen.time_s[rest[0]] >= REST_S:
            return _decay(seen.time_s[rest] - seen.time_s[end - 1], volts[rest])
    return Relaxation(0.0, 1.0)


def _decay(since_s: Floats, volts: Floats) -> Relaxation:
    best = (np.inf, Relaxation(0.0, 1.0))
    for time_s in _TIMES_S:
        shape = np.exp(-since_s / time_s)
        centred = shape - shape.mean()
        amplitude = float(centred @ volts / (centred @ centred))
        misfit = float(np.square(volts - volts.mean() - amplitude * centred).sum())
        best = min(best, (misfit, Relaxation(amplitude, float(time_s))), key=lambda b: b[0])
    return best[1]


#: Under changing amps, cells answer with these times besides at once. [s]
SLOW_S: Final = (30.0, 300.0)
#: Degree of the polynomial that stands for the open-circuit volts over a short stretch.
_DEGREE: Final = 4


def settling_v(seen: Observed, amps: Floats, charge_ah: Floats, volts: Floats,
               part: slice) -> Floats:
    """The slow drop that varying amps leave in the volts of a part of the rows. [V]

    ``volts = polynomial(charge) + sum r_j E_j(amps)`` by least squares over the part, with
    ``E_j`` the one-pole low pass of the amps with ``SLOW_S``, from 0 behind each gap. Terms that
    come out negative are left out.

    Parameters
    ----------
    volts
        Of the median cell, its quick resistance taken off; at all observed rows. [V]
    """
    slow = [_low_pass(seen, amps, time_s)[part] for time_s in SLOW_S]
    place = charge_ah[part]
    place = (place - place.mean()) / max(float(np.ptp(place)), 1e-9)
    smooth = [place ** k for k in range(_DEGREE + 1)]
    used = list(slow)
    while used:
        weights = np.linalg.lstsq(np.column_stack([*smooth, *used]), volts[part], rcond=None)[0]
        found = weights[_DEGREE + 1:]
        if (found >= 0).all():
            return np.asarray(np.column_stack(used) @ found)
        used = [term for term, weight in zip(used, found, strict=True) if weight >= 0]
    return np.zeros(len(place))


def _low_pass(seen: Observed, amps: Floats, time_s: float) -> Floats:
    width = time_s / seen.usual_s
    return np.concatenate([amps[a:b] - high_pass(np.concatenate(([0.0], amps[a:b])), width)
                           for a, b in seen.runs()])
