"""Where the energy goes by speed, and what a resistor control burns at each.

A series motor's pull follows its amps alone, and at full volts a pull has one speed. Behind a
resistor the same amps flow at any lower speed, and the volts that the motor does not need go into
the coils: of ``V I`` the motor can use at most ``V I v / v_top(I)``, where ``v_top(I)`` is the
highest speed ever seen at those amps or more. So from a log alone

    burnt >= V I (1 - v / v_top(I)),

a least figure: it is short by whatever the coils still burnt at ``v_top``. (Series motor and
resistor control: textbook; the bound is worked out here.) It holds for a resistor control only:
with an electronic one the amps fall with speed and nothing of the kind is burnt.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from ..estimate import Answer, Estimate, NoEstimate
from ..telemetry import Floats, Telemetry
from .trips import STANDING_M_S, observe_motion

BAND_COLUMNS: Final = ("current_a", "voltage_v", "speed_m_s", "distance_m")
#: Cells of the table: this wide in speed and in amps. [km/h, A]
SPEED_STEP_KMH, AMPS_STEP_A = 2.0, 5.0
#: A speed counts as reached at some amps if it was held so long in all. [s]
REACHED_S: Final = 10.0
#: A band with less driving is not told. [s]
BAND_MIN_S: Final = 300.0
_KMH: Final = 3.6


@dataclass(frozen=True, slots=True)
class LogBands:
    """Moving time and energy of one log by speed and amps.

    Each row: speed step, amps step (whole numbers, amps out of the pack), seconds, metres, Wh out
    less Wh in.
    """

    rows: tuple[tuple[int, int, float, float, float], ...]


@dataclass(frozen=True, slots=True)
class SpeedBand:
    """One band of speed over some logs."""

    #: [km/h]
    from_kmh: float
    to_kmh: float
    seconds: float
    distance_m: float
    energy_wh: float
    #: What coils burn at least if the control is a resistor: a share of ``energy_wh``.
    least_burnt: float

    @property
    def wh_per_km(self) -> float:
        return self.energy_wh / (self.distance_m / 1000)

    @property
    def mean_w(self) -> float:
        return self.energy_wh / (self.seconds / 3600)

    def as_json(self) -> dict[str, Any]:
        return {"from_kmh": self.from_kmh, "to_kmh": self.to_kmh, "seconds": self.seconds,
                "distance_m": self.distance_m, "energy_wh": self.energy_wh,
                "wh_per_km": self.wh_per_km, "mean_w": self.mean_w,
                "least_burnt_pct": 100 * self.least_burnt}


def bands_digest(telemetry: Telemetry) -> LogBands:
    """The table of one log; empty without speed, amps and volts."""
    motion = observe_motion(telemetry)
    if motion.speed_m_s is None or motion.out_w is None or motion.out_a is None:
        return LogBands(())
    seconds = motion.observed.weights_s
    moving = (motion.speed_m_s > STANDING_M_S) & (seconds > 0)
    speed, amps, watts, weight = (a[moving] for a in (
        motion.speed_m_s, motion.out_a, motion.out_w, seconds))
    keys = np.stack([np.floor(speed * _KMH / SPEED_STEP_KMH), np.floor(amps / AMPS_STEP_A)], axis=1)
    if not len(keys):
        return LogBands(())
    cells, place = np.unique(keys.astype(int), axis=0, return_inverse=True)
    sums = [np.bincount(place.ravel(), weights=w, minlength=len(cells)).round(3)
            for w in (weight, weight * speed, weight * watts / 3600)]
    return LogBands(tuple((int(v), int(a), float(s), float(m), float(e))
                          for (v, a), s, m, e in zip(cells, *sums, strict=True)))


def _joined(logs: Iterable[LogBands]) -> dict[tuple[int, int], Floats]:
    table: dict[tuple[int, int], Floats] = {}
    for log in logs:
        for speed, amps, *sums in log.rows:
            table[speed, amps] = table.get((speed, amps), np.zeros(3)) + sums
    return table


def speed_bands(logs: Iterable[LogBands]) -> tuple[SpeedBand, ...]:
    """The bands of some logs, slowest first; those with little driving are left out."""
    table = _joined(logs)
    tops = _top_speeds_m_s(table)
    bands = []
    for step in sorted({speed for speed, _ in table}):
        cells = {amps: sums for (speed, amps), sums in table.items() if speed == step}
        seconds, metres, energy = sum(cells.values(), np.zeros(3))
        if seconds < BAND_MIN_S:
            continue
        burnt = sum(max(0.0, wh * (1 - way / moved_s / tops[amps]))
                    for amps, (moved_s, way, wh) in cells.items() if tops.get(amps))
        bands.append(SpeedBand(step * SPEED_STEP_KMH, (step + 1) * SPEED_STEP_KMH, float(seconds),
                               float(metres), float(energy),
                               float(burnt / energy) if energy > 0 else math.nan))
    return tuple(bands)


def _top_speeds_m_s(table: dict[tuple[int, int], Floats]) -> dict[int, float]:
    """The highest speed reached with more amps than each step holds; 0 if none. [m/s]"""
    tops: dict[int, float] = {}
    top = 0.0
    for step in sorted({amps for _, amps in table if amps >= 0}, reverse=True):
        tops[step] = top
        reached = [way / seconds for (_, amps), (seconds, way, _) in table.items()
                   if amps == step and seconds >= REACHED_S]
        top = max([top, *reached])
    return tops


def resistor_waste(logs: Sequence[LogBands]) -> Answer:
    """The share of the moving energy that a resistor control burns at least. [%]

    The interval reaches from the bound to everything, for nothing in a log limits it from above.
    """
    bands = speed_bands(logs)
    energy = sum(b.energy_wh for b in bands)
    if energy <= 0 or len(bands) < 2:
        return NoEstimate("no logged driving at several speeds with amps and volts",
                          "log speed beside amps and volts, slow and fast")
    burnt = 100 * sum(b.energy_wh * b.least_burnt for b in bands if b.energy_wh > 0) / energy
    return Estimate(burnt, burnt, 100.0, "%")
