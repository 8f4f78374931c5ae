"""Volts with the settling of the cells taken off, under steady amps and under changing ones."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..fitting.not_negative import not_negative_fit
from ..one_log.one_pole import high_pass
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
        amplitude = float((centred * volts).sum() / np.square(centred).sum())
        misfit = float(np.square(volts - volts.mean() - amplitude * centred).sum())
        best = min(best, (misfit, Relaxation(amplitude, float(time_s))), key=lambda b: b[0])
    return best[1]


#: Under changing amps, cells answer with these times besides at once. [s]
SLOW_S: Final = (30.0, 300.0)
#: Degree of the polynomial that stands for the open-circuit volts over a short stretch.
_DEGREE: Final = 4


def slow_responses(seen: Observed, amps: Floats) -> list[Floats]:
    """One-pole low passes of the amps with ``SLOW_S``, from 0 behind each gap. [A]"""
    return [np.concatenate([amps[a:b] - high_pass(np.concatenate(([0.0], amps[a:b])),
                                                  time_s / seen.usual_s)
                            for a, b in seen.runs()]) for time_s in SLOW_S]


def settling_v(slow_a: list[Floats], charge_ah: Floats, volts: Floats, *,
               is_deepening: bool = False) -> Floats:
    """The slow drop that varying amps leave in the volts. [V]

    ``volts = polynomial(charge) + sum r_j E_j(amps)`` by least squares, with ``E_j`` the
    ``slow_responses``. Terms that come out negative are left out. What the polynomial explains
    is taken off both sides first, which leaves the ``r_j`` as they are (R. Frisch, F. V. Waugh,
    *Econometrica* 1 (1933) 387; from memory).

    Parameters
    ----------
    slow_a, charge_ah, volts
        Over one stretch; volts of the median cell, its quick resistance taken off. [A], [Ah], [V]
    is_deepening
        Whether the drops may grow towards the emptiest moment: terms ``E_j`` times the charge
        drawn are fitted, too.
    """
    if is_deepening:
        drawn = (charge_ah.max() - charge_ah) / max(float(np.ptp(charge_ah)), 1e-9)
        slow_a = [*slow_a, *(a * drawn for a in slow_a)]
    place = (charge_ah - charge_ah.mean()) / max(float(np.ptp(charge_ah)), 1e-9)
    smooth = np.linalg.qr(np.vander(place, _DEGREE + 1))[0]
    terms = np.column_stack([*slow_a, volts])
    terms -= smooth @ (smooth.T @ terms)
    gram = terms.T @ terms
    weights = not_negative_fit(gram[None, :-1, :-1], gram[None, :-1, -1])[0]
    return np.asarray(np.column_stack(slow_a) @ np.maximum(weights, 0.0))
