"""How volts answer amps: the relation that tells amps from everything else in a frame."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from .candidates import Candidate
from .codings import Figures
from .columns import Columns
from .stream import Times

#: Steps between looks at both traces. [s]
_STEP_S: Final = 1.0
#: Looks without which nothing is said.
_LEAST: Final = 5
#: Looks that count as independent at most; they follow each other, so not all are news.
_COUNT_MOST: Final = 80
#: Percent that may stray from the counted charge by so much without a doubt. [%]
_LEFT_PCT: Final = 0.2


@dataclass(frozen=True)
class Sag:
    """A straight line through the steps of volts over the steps of amps."""

    #: Volts per ampere; positive where volts rise with the figure. [ohm]
    slope_ohm: float
    #: Share of the volts' movement that the amps explain.
    r_squared: float
    #: Looks with movement enough to say something.
    count: int

    @property
    def support(self) -> float:
        """Log odds for a relation against none. [log10]"""
        if self.count < _LEAST:
            return 0.0
        count = min(self.count, _COUNT_MOST)
        return -0.5 * count * math.log10(max(1 - self.r_squared, 0.002))


def sag(voltage_v: Figures, current_a: Figures, times_s: Times) -> Sag:
    """Regress steps of volts on steps of amps; frames without both are left out."""
    if len(times_s) < _LEAST:
        return Sag(0.0, 0.0, 0)
    period_s = max(float(np.median(np.diff(times_s))), 1e-3)
    step = max(1, round(_STEP_S / period_s))
    volts = voltage_v[step:] - voltage_v[:-step]
    amps = current_a[step:] - current_a[:-step]
    is_near = times_s[step:] - times_s[:-step] < 3 * step * period_s
    good = np.isfinite(volts) & np.isfinite(amps) & is_near
    volts, amps = volts[good][::step], amps[good][::step]
    count = int((np.abs(amps) > 0.02 * np.abs(amps).max(initial=1e-9)).sum())
    if count < _LEAST or not amps.any() or not volts.any():
        return Sag(0.0, 0.0, 0)
    slope = float(amps @ volts / (amps @ amps))
    r_squared = float((amps @ volts) ** 2 / ((amps @ amps) * (volts @ volts)))
    return Sag(slope, min(r_squared, 1.0), count)


def relation(columns: Columns, volts: Candidate, amps: Candidate) -> Sag:
    """How volts answer amps, looked at where both were told anew."""
    rows = columns.news(volts.spot, amps.spot)
    return sag(volts.values[rows], amps.values[rows], columns.times_s[rows])


def charge_support(soc_pct: Figures, current_a: Figures, times_s: Times, step_pct: float) -> float:
    """How well percent follows the counted charge, as log odds; 0 where it hardly moves. [log10]

    ``current_a`` may have either sign; gaps add nothing. ``step_pct`` is the step of the figure:
    what is left over beside counted charge should be no more than its rounding.
    """
    steps_s = np.diff(times_s, prepend=times_s[0])
    steps_s = np.where(steps_s < 10 * np.median(steps_s) + 1, steps_s, 0.0)
    charge_ah = np.cumsum(np.nan_to_num(current_a) * steps_s) / 3600
    good = np.isfinite(soc_pct)
    if np.ptp(soc_pct[good]) < 2 or np.ptp(charge_ah) < 1e-3:
        return 0.0
    share = float(np.corrcoef(soc_pct[good], charge_ah[good])[0, 1] ** 2)
    left_pct = float(np.std(soc_pct[good])) * math.sqrt(max(1 - share, 0.0))
    rounding_pct = step_pct / math.sqrt(12)
    excess = left_pct / (1.3 * rounding_pct) if left_pct > _LEFT_PCT else 1.0
    # Steps of one percent leave some of the charge unexplained: beyond 0.98 nothing is told.
    return (-2 * math.log10(max(1 - share, 0.02))
            - min(2.0, 6 * math.log10(max(excess, 1.0))))


def unsteadiness(soc_pct: Figures, step_pct: float) -> float:
    """Log odds against a percent that counted charge does not make. [log10]

    One that keeps turning back, or one with fine steps that moves by whole percents.
    """
    known = soc_pct[np.isfinite(soc_pct)]
    moves = np.abs(np.diff(known))
    extent = max(float(np.ptp(known)), 1.0)
    turning = 4 * max(0.0, math.log10(float(moves.sum()) / (2 * extent) + 1e-9))
    return min(4.0, turning + leaping(soc_pct, step_pct))


def leaping(values: Figures, step: float) -> float:
    """Log odds against a slow figure with fine steps that moves by whole ones. [log10]"""
    known = values[np.isfinite(values)]
    moves = np.abs(np.diff(known))
    extent = max(float(np.ptp(known)), 1.0)
    return 3.0 if step < 0.4 and moves[moves > 0.9].sum() > 0.5 * extent else 0.0
