"""Consumption learnt from own drives: a level that wanders, cold, load, wind, and scatter.

The log of each run's rate (Wh per km, percent per km, Wh per hour: any use per any extent) is

    ln r_i = level_i + c max(0, 20 degC - T_i) + m dM_i + w W_i + e_i,  e_i ~ N(0, s^2 L0 / L_i)

with ``T`` the air, ``dM`` the load above the usual and ``W`` the wind where they are noted,
``L_i`` the run's extent and ``L0`` the usual one; the level walks by ``s^2 L / (4 L0)`` per
extent ``L``, so that older runs fade as in an exponential mean over about four usual runs; ``s``
is unknown with a normal-inverse-gamma prior. It is updated in closed form (M. West, J. Harrison,
*Bayesian Forecasting and Dynamic Models*, 1997, ch. 4; from memory). A prediction is Student's t.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal, Self

import numpy as np

from ..digest import LogDigest
from ..estimate import Answer, Estimate, NoEstimate
from ..fitting.student import t_quantile
from ..one_log.charge import SECONDS_PER_HOUR
from ..one_log.use import LogUse
from ..season.zero import LogZero, zero_history
from ..telemetry import Floats
from .trips import LogTrips

#: What a run's extent is in.
Measure = Literal["km", "h", "drives"]
#: What it takes: Wh, or points of displayed percent for logs without amps.
Counted = Literal["energy", "percent"]
#: Parts of a digest that the runs are made of.
PARTS_NEEDED: Final = ("use", "trips", "zero")
#: Below this the cold costs. [degC]
WARM_C: Final = 20.0
#: What a kelvin of cold adds before own drives tell: thicker air and stiffer tyres make about
#: half a percent, a heated cabin twice that or more (common practice, no source). [1/K]
COLD_PER_K, COLD_PER_K_SD = 0.01, 0.005
#: The part of the consumption that goes with the mass (rolling and climbing, not air and
#: standing); and the mass where nobody told it. Chosen here for slow vehicles. [parts, kg]
MASS_SHARE, MASS_SHARE_SD = 0.8, 0.25
UNKNOWN_MASS_KG: Final = 1000.0
#: What a metre per second of wind adds, its direction unknown. Chosen here. [s/m]
WIND_PER_M_S, WIND_PER_M_S_SD = 0.01, 0.015
#: Runs of one vehicle scatter by about this before own drives tell, worth so many runs: 10 to 16 %
#: on 60 recorded drives of a car. [parts]
SCATTER, SCATTER_RUNS = 0.15, 4.0
#: The scatter is of so many runs at most: older ones fade.
SCATTER_MEMORY: Final = 60.0
#: The level's memory, in usual runs.
LEVEL_MEMORY: Final = 4.0
#: From this many runs on the first scatter is their own.
LEARNING_RUNS: Final = 8
#: A run shorter than this part of the usual one is joined to the next.
SHORT_SHARE: Final = 0.2
#: Fewer drives tell nothing of the next.
RUNS_MIN: Final = 3
#: Typical consumption is of the last so many runs.
RECENT_RUNS: Final = 30
#: Less than this is no drive. [m]
DRIVE_MIN_M: Final = 100.0


@dataclass(frozen=True, slots=True)
class Conditions:
    """What a run met with. NaN where nobody measured or noted it."""

    #: Air, or the pack before it warms up. [degC]
    temp_c: float = math.nan
    #: On board above the usual. [kg]
    extra_load_kg: float = math.nan
    wind_m_s: float = math.nan


@dataclass(frozen=True, slots=True)
class Run:
    """One use of the vehicle: how far (km), how long (h) or simply 1; and what it took."""

    start_s: float
    extent: float
    #: Wh, or points of displayed percent.
    used: float
    met: Conditions = Conditions()

    @property
    def rate(self) -> float:
        return self.used / self.extent


def is_drive(digest: LogDigest) -> bool:
    """Whether a log is a drive: as told, else by its amps or by the way it covered."""
    if digest.head.told_kind:
        return digest.head.told_kind == "drive"
    kind = digest.of(LogUse).kind
    return kind == "drive" or (kind in ("", "test")
                               and digest.of(LogTrips).distance_m >= DRIVE_MIN_M)


def runs_of(digests: Sequence[LogDigest], measure: Measure, counted: Counted = "energy",
            noted: Mapping[str, Conditions] | None = None) -> tuple[Run, ...]:
    """The drives of a logbook as runs of one measure, oldest first.

    Parameters
    ----------
    digests
        With the parts in ``PARTS_NEEDED``.
    measure
        ``km``; ``h``: hours that were seen; ``drives``: each counts 1.
    noted
        What was noted by hand of a log, by its file name; the rest is as logged.

    Drives that lack a figure are left out; ``join_short`` joins the short.
    """
    runs = []
    for digest, error_w in zip(digests, zero_error_w(digests), strict=True):
        log = digest.of(LogTrips)
        extent = {"km": log.distance_m / 1000, "h": log.seconds / SECONDS_PER_HOUR,
                  "drives": 1.0}[measure]
        used = log.percent_used if counted == "percent" else (
            log.energy_wh + error_w * log.seconds / SECONDS_PER_HOUR)
        if is_drive(digest) and math.isfinite(extent * used) and extent > 0:
            met = (noted or {}).get(digest.log, Conditions())
            runs.append(Run(digest.start_s, extent, used, met if math.isfinite(met.temp_c)
                            else replace(met, temp_c=log.temp_c)))
    return join_short(runs)


def zero_error_w(digests: Sequence[LogDigest]) -> list[float]:
    """Watts that each log shows as going in while nothing flows; 0 where nobody knows."""
    zero = zero_history([(d.start_s, d.of(LogZero)) for d in digests])
    errors = []
    for digest in digests:
        use, level_a = digest.of(LogUse), zero.level_at(digest.start_s)
        known = math.isfinite(level_a) and use.out_ah > 0 and math.isfinite(use.out_wh)
        errors.append(level_a * use.out_wh / use.out_ah if known else 0.0)
    return errors


def join_short(runs: Sequence[Run]) -> tuple[Run, ...]:
    """Join a run that is short, or that took nothing on balance, to the one after it.

    A way down that gives energy back has no rate of its own; with the way up it has.
    """
    if not runs:
        return ()
    least = SHORT_SHARE * float(np.median([run.extent for run in runs]))
    joined: list[Run] = []
    held: Run | None = None
    for run in runs:
        both = run if held is None else replace(
            held, extent=held.extent + run.extent, used=held.used + run.used)
        held = both if both.extent < least or both.used <= 0 else None
        if held is None:
            joined.append(both)
    return tuple(joined)


@dataclass(frozen=True)
class RateModel:
    """What is believed of the rate after some runs."""

    #: Level (log of the rate), cost of cold, load and wind; covariance in units of
    #: ``scatter**2``.
    mean: Floats
    spread: Floats
    scatter: float
    freedom: float
    usual_extent: float

    @classmethod
    def begin(cls, runs: Sequence[Run], mass_kg: float | None = None) -> Self:
        """Before the first run; only scale and scatter of the first few are looked at."""
        first = runs[:LEARNING_RUNS]
        usual = float(np.median([run.extent for run in first]))
        scatter = _first_scatter(first)
        level = float(np.median([math.log(run.rate) for run in first]))
        mass = mass_kg or UNKNOWN_MASS_KG
        mean = [level, COLD_PER_K, MASS_SHARE / mass, WIND_PER_M_S]
        sd = [100.0, COLD_PER_K_SD, MASS_SHARE_SD / mass if mass_kg else MASS_SHARE / mass,
              WIND_PER_M_S_SD]
        return cls(np.array(mean), np.diag(np.square(sd) / scatter**2), scatter, SCATTER_RUNS,
                   usual)

    @classmethod
    def learnt(cls, runs: Sequence[Run], mass_kg: float | None = None) -> Self:
        """After these runs, oldest first; at least one."""
        model = cls.begin(runs, mass_kg)
        for run in runs:
            model = model.after(run)
        return model

    def after(self, run: Run) -> Self:
        """With one more run."""
        x = _row(run.met)
        noise = self.usual_extent / run.extent
        total = float(x @ self.spread @ x) + noise
        gain = self.spread @ x / total
        miss = math.log(run.rate) - float(x @ self.mean)
        freedom = min(self.freedom + 1, SCATTER_MEMORY)
        squares = self.scatter**2 * (freedom - 1) + miss**2 / total
        spread = self.spread - np.outer(gain, gain) * total
        spread[0, 0] += run.extent / (LEVEL_MEMORY * self.usual_extent)
        return replace(self, mean=self.mean + gain * miss, spread=spread,
                       scatter=math.sqrt(squares / freedom), freedom=freedom)

    def ahead(self, extent: float, met: Conditions) -> tuple[float, float]:
        """Log of the rate over the next ``extent``, and its scale for Student's t."""
        x = _row(met)
        # The level walks on: the mean of a walk over a stretch varies by a third of its end.
        walk = extent / (LEVEL_MEMORY * self.usual_extent) / 3
        variance = float(x @ self.spread @ x) + self.usual_extent / extent + walk
        return float(x @ self.mean), self.scatter * math.sqrt(variance)


def _row(met: Conditions) -> Floats:
    """What is not known counts as the usual."""
    figures = (max(0.0, WARM_C - met.temp_c), met.extra_load_kg, met.wind_m_s)
    return np.array([1.0, *(f if math.isfinite(f) else 0.0 for f in figures)])


def _first_scatter(runs: Sequence[Run]) -> float:
    """The usual scatter, drawn to that of the first runs as far as there are some."""
    if len(runs) < LEARNING_RUNS:
        return SCATTER
    weight = np.array([run.extent for run in runs])
    logs = np.log([run.rate for run in runs])
    apart = logs - float(weight @ logs / weight.sum())
    own = math.sqrt(float(weight @ apart**2) / float(np.median(weight)) / (len(runs) - 1))
    return max(own, 0.01)


def too_few(count: int) -> NoEstimate:
    """Why so few drives tell nothing of the next."""
    if not count:
        return NoEstimate("no drive holds what this needs",
                          "log speed or distance beside amps and volts")
    return NoEstimate(f"{count} drives tell too little of what is usual",
                      f"log {RUNS_MIN - count} more")


def typical_rate(runs: Sequence[Run], unit: str, last: int = RECENT_RUNS) -> Answer:
    """The rate of the last runs taken together, with the interval of their mean. [95 %]

    ``sum used / sum extent``; its interval by Student's t from what each run differs (ratio
    estimator: W. G. Cochran, *Sampling Techniques*, 1977, ch. 6; from memory).
    """
    recent = runs[-last:]
    if len(recent) < RUNS_MIN:
        return too_few(len(recent))
    extent = np.array([run.extent for run in recent])
    used = np.array([run.used for run in recent])
    rate = float(used.sum() / extent.sum())
    misses = used - rate * extent
    error = math.sqrt(float(misses @ misses) / (len(recent) - 1) / len(recent)) / extent.mean()
    half = t_quantile(0.975, len(recent) - 1) * float(error)
    # Even on both sides of the logarithm, so that a wild habit stays above 0.
    return Estimate(rate, rate * math.exp(-half / rate), rate * math.exp(half / rate), unit)
