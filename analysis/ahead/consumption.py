"""Consumption of own drives: each drive as a run with its extent, its use and what it met.

A run's rate is any use per any extent: Wh per km, percent per km, Wh per hour. What is to be
expected of the next one is ``rate_model``'s subject; here is what was, and the usual mean of it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from ..digest import LogDigest
from ..estimate import Answer, Estimate, NoEstimate
from ..fitting.student import t_quantile
from ..one_log.charge import SECONDS_PER_HOUR
from ..one_log.use import LogUse
from ..season.zero import LogZero, zero_history
from .trips import LogTrips

#: What a run's extent is in.
Measure = Literal["km", "h", "drives"]
#: What it takes: Wh, or points of displayed percent for logs without amps.
Counted = Literal["energy", "percent"]
#: Parts of a digest that the runs are made of.
PARTS_NEEDED: Final = ("use", "trips", "zero")
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
    #: A name for the way; empty where nobody gave it one.
    route: str = ""


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
            noted: Mapping[str, Conditions] | None = None, route: str = "") -> tuple[Run, ...]:
    """The drives of a logbook as runs of one measure, oldest first.

    Parameters
    ----------
    digests
        With the parts in ``PARTS_NEEDED``.
    measure
        ``km``; ``h``: hours that were seen; ``drives``: each counts 1.
    noted
        What was noted by hand of a log, by its file name; the rest is as logged.
    route
        Only the drives on the way noted by this name; all of them where it is empty.

    Drives that lack a figure are left out; ``join_short`` joins the short.
    """
    runs = []
    for digest, error_w in zip(digests, zero_error_w(digests), strict=True):
        log = digest.of(LogTrips)
        extent = {"km": log.distance_m / 1000, "h": log.seconds / SECONDS_PER_HOUR,
                  "drives": 1.0}[measure]
        used = log.percent_used if counted == "percent" else (
            log.energy_wh + error_w * log.seconds / SECONDS_PER_HOUR)
        met = (noted or {}).get(digest.log, Conditions())
        if (is_drive(digest) and math.isfinite(extent * used) and extent > 0
                and route in ("", met.route)):
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


def too_few(count: int, route: str = "") -> NoEstimate:
    """Why so few drives, all or those on a noted way, tell nothing of the next."""
    if route:
        told = (f"only {count} drive{' is' if count == 1 else 's are'}" if count else
                "no drive with the figures that this needs is")
        return NoEstimate(f"{told} noted as on the way “{route}”",
                          f"note the way of {RUNS_MIN - count} more by this name")
    if not count:
        return NoEstimate("no drive holds what this needs",
                          "log speed or distance beside amps and volts")
    told = "1 drive tells" if count == 1 else f"{count} drives tell"
    return NoEstimate(f"{told} too little of what is usual",
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
