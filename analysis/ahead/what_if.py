"""What if the way climbs more than usual, or is driven at another speed.

A climb takes the work of lifting, through whatever the drive loses:

    E = m g h / eta

It comes on top of the usual ways, whose own slopes are in the usual consumption already. What a
speed costs is read from the person's own bands of speed; nothing is carried over from other
vehicles, and no law of air drag is assumed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from ..estimate import Answer, Estimate, NoEstimate
from ..fitting.student import t_quantile
from ..phrases import type_label
from ..telemetry import Floats
from .consumption import RUNS_MIN
from .range_ahead import COVERAGE, Ahead, quotient
from .speed_bands import BAND_MIN_S, SPEED_STEP_KMH, LogBands

#: Standard acceleration of gravity (3rd General Conference on Weights and Measures, 1901).
GRAVITY_M_S2: Final = 9.80665
#: From the pack to the wheels: controller, motor and gears; the low end is a resistor control or
#: a hard pull (common practice, no source). [parts]
DRIVE_LOW, DRIVE_USUAL, DRIVE_HIGH = 0.5, 0.7, 0.9
#: Speeds this near are driven alike, but at least one band. [parts]
SPEED_NEAR: Final = 0.1
#: A drive tells of a speed if it held it so long. [s]
HELD_MIN_S: Final = 30.0
_J_PER_WH: Final = 3600.0


def climb_energy_wh(climb_m: float, mass_kg: float | None) -> Answer:
    """Energy out of the pack for a climb beyond the usual. [Wh, 90 %]

    Parameters
    ----------
    climb_m
        Metres that the way rises more than the usual ones; positive. What a way down gives back
        depends on the drive, and is not foretold.
    mass_kg
        Of the vehicle as it drives, with driver and load; ``None`` if nobody typed it.
    """
    if mass_kg is None:
        return NoEstimate("a climb needs the mass of the vehicle",
                          type_label("the vehicle's mass", "mass_kg"))
    lifted_wh = mass_kg * GRAVITY_M_S2 * climb_m / _J_PER_WH
    return Estimate(lifted_wh / DRIVE_USUAL, lifted_wh / DRIVE_HIGH, lifted_wh / DRIVE_LOW, "Wh",
                    COVERAGE)


def after_climb(usable: Answer, climb_wh: Answer) -> Answer:
    """What is left for the way when the climb is paid for: half widths in quadrature. [Wh]"""
    if isinstance(usable, NoEstimate):
        return usable
    if isinstance(climb_wh, NoEstimate):
        return climb_wh
    if usable.unit != climb_wh.unit:
        return NoEstimate("the energy in the pack is not known", "log amps and volts")
    value = usable.value - climb_wh.value
    if value <= 0:
        return NoEstimate(f"the climb alone takes about {climb_wh.value:.0f} Wh of "
                          f"{usable.value:.0f}", "charge first, or leave load behind")
    down = math.hypot(usable.value - usable.low, climb_wh.high - climb_wh.value)
    up = math.hypot(usable.high - usable.value, climb_wh.value - climb_wh.low)
    return Estimate(value, max(0.0, value - down), value + up, usable.unit, usable.coverage)


def pace_cost(logs: Sequence[LogBands], speed_kmh: float) -> Answer:
    """Energy per distance at a speed against that of all driving. [parts, 90 %]

    The ratio of the sums over all drives; its interval by leaving out one drive at a time
    (jackknife: J. W. Tukey, 1958; from memory) and Student's t. Slopes and loads that go with the
    speed are in it.
    """
    near = max(SPEED_STEP_KMH / 2, SPEED_NEAR * speed_kmh)
    told = [sums for log in logs if (sums := _sums(log, speed_kmh, near))[0] >= HELD_MIN_S]
    if len(told) < RUNS_MIN or sum(t[0] for t in told) < BAND_MIN_S:
        return NoEstimate(f"too little was driven at about {speed_kmh:.0f} km/h",
                          f"log {RUNS_MIN} drives with some minutes at that speed")
    table = np.array(told)
    whole = table.sum(axis=0)
    if whole[2] <= 0 or whole[4] <= 0:
        return NoEstimate(f"about {speed_kmh:.0f} km/h was driven downhill only",
                          "log that speed on the level")
    rest = _log_cost(whole - table)
    if not np.isfinite(rest).all():
        return NoEstimate(f"what {speed_kmh:.0f} km/h takes rests on a single drive",
                          "log more drives at that speed")
    count = len(table)
    sd = math.sqrt((count - 1) / count * float(np.square(rest - rest.mean()).sum()))
    half = t_quantile((1 + COVERAGE) / 2, count - 1) * sd
    value = math.exp(float(_log_cost(whole)))
    return Estimate(value, value * math.exp(-half), value * math.exp(half), "", COVERAGE)


def _sums(log: LogBands, speed_kmh: float, near: float) -> tuple[float, ...]:
    """Seconds, metres and Wh near a speed; metres and Wh of all driving."""
    rows = np.array(log.rows, dtype=float).reshape(-1, 5)
    middle = (rows[:, 0] + 0.5) * SPEED_STEP_KMH
    close = rows[np.abs(middle - speed_kmh) <= near, 2:].sum(axis=0)
    return (*close.tolist(), *rows[:, 3:].sum(axis=0).tolist())


def _log_cost(sums: Floats) -> Floats:
    """Log of the energy per distance near the speed against all; NaN where either is not above
    0."""
    ratio = np.divide(*np.moveaxis(sums[..., [2, 1]], -1, 0)) / np.divide(
        *np.moveaxis(sums[..., [4, 3]], -1, 0))
    return np.asarray(np.log(np.where(ratio > 0, ratio, np.nan)))


def at_pace(ahead: Ahead, pace: Answer) -> Ahead:
    """What is left when every kilometre costs ``pace`` times the usual."""
    if isinstance(pace, NoEstimate):
        return Ahead(pace, pace, ahead.backtest)
    left, rate = ahead.left, ahead.rate
    if isinstance(left, Estimate):
        left = quotient(left, pace, left.unit)
    if isinstance(rate, Estimate):
        cheap = Estimate(1 / pace.value, 1 / pace.high, 1 / pace.low, "", pace.coverage)
        rate = quotient(rate, cheap, rate.unit)
    return Ahead(left, rate, ahead.backtest)


def hours_at(km_left: Answer, speed_kmh: float) -> Answer:
    """Time on the way at a speed. [h]"""
    if isinstance(km_left, NoEstimate):
        return km_left
    return km_left.scaled(1 / speed_kmh, "h")
