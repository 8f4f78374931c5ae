"""Trips: from standing still to standing still, each with its energy and the shape of its way.

A *run* is a whole log seen as one use of the vehicle; its *trips* are the stretches between stops.
Where speed or distance is logged they say what moves; else the watts do. Energy and distance are
counted over the same seen steps, so that a gap takes from both. Nothing here assumes a road: a
boat's run has trips too, and without distance they are told apart by time and watts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from ..telemetry import Floats, Telemetry
from ..timebase import Observed, observe

TRIP_COLUMNS: Final = ("current_a", "voltage_v", "soc_pct", "speed_m_s", "distance_m", "ambient_c",
                       "temp_1_c", "latitude_deg", "longitude_deg")
#: Slower than this is standing. [m/s]
STANDING_M_S: Final = 0.3
#: Without speed: fewer amps than this, or than a tenth of the hard pulls, is standing. [A]
STANDING_A, STANDING_SHARE = 2.0, 0.1
#: A stop this long ends a trip; a shorter one is a crossing or a gate. Chosen here. [s]
STOP_S: Final = 90.0
#: Less is manoeuvring. [s, m]
TRIP_MIN_S, TRIP_MIN_M = 30.0, 100.0
#: A trip's shape has this many figures.
SHAPE_PARTS: Final = 10
#: Percent at the ends of a run: the median of this many readings, so that a glitch is no end.
END_READINGS: Final = 9
_HOUR_S: Final = 3600.0

ShapeOf = Literal["speed", "power"]


@dataclass(frozen=True, slots=True)
class Trip:
    """One stretch between stops. NaN where the log cannot tell."""

    #: Since the log's start. [s]
    start_s: float
    seconds: float
    distance_m: float
    #: Out of the pack less back into it. [Wh]
    energy_wh: float
    #: What ``shape`` is of: mean speed in tenths of the distance, or mean watts in tenths of the
    #: time; their mean is 1.
    shape_of: ShapeOf
    shape: tuple[float, ...]
    #: Latitude and longitude at the start and at the end. [deg]
    places_deg: tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class LogTrips:
    """A log as a run, and its trips. NaN where the log cannot tell."""

    trips: tuple[Trip, ...]
    #: Seen time in which amps, volts and speed (those that the log has) are known. [s]
    seconds: float
    distance_m: float
    #: Out of the pack less back into it. [Wh]
    energy_wh: float
    #: Displayed percent at the start less at the end. [points]
    percent_used: float
    #: Air at the start, or the pack's first sensor where the air is not logged. [degC]
    temp_c: float


@dataclass(frozen=True)
class Motion:
    """Speed and watts at the rows where both are known; ``None`` where the log lacks one."""

    observed: Observed
    #: Since the first row, over seen steps. [m]
    covered_m: Floats | None
    speed_m_s: Floats | None
    #: Out of the pack, positive. [A, W]
    out_a: Floats | None
    out_w: Floats | None

    @property
    def out_wh(self) -> Floats | None:
        """Energy out since the first row, at each row."""
        return None if self.out_w is None else self.observed.running(self.out_w) / _HOUR_S


def observe_motion(telemetry: Telemetry) -> Motion:
    """Speed and watts of a log; amps positive into the pack."""
    has_power = "current_a" in telemetry and "voltage_v" in telemetry
    source = next((c for c in ("distance_m", "speed_m_s") if c in telemetry), None)
    seen = observe(telemetry, *(("current_a", "voltage_v") if has_power else ()),
                   *((source,) if source else ()))
    out_a = -seen.pick(telemetry["current_a"]) if has_power else None
    out_w = None if out_a is None else out_a * seen.pick(telemetry["voltage_v"])
    if source is None:
        return Motion(seen, None, None, out_a, out_w)
    figures = seen.pick(telemetry[source])
    if source == "speed_m_s":
        return Motion(seen, seen.running(figures), figures, out_a, out_w)
    steps = np.where(seen.width_s > 0, np.maximum(np.diff(figures), 0.0), 0.0)
    covered = np.concatenate(([0.0], np.cumsum(steps)))
    speed = seen.pick(telemetry["speed_m_s"]) if "speed_m_s" in telemetry else None
    if speed is None or not np.isfinite(speed).all():
        speed = np.gradient(covered, seen.time_s) if len(covered) > 1 else np.zeros(len(covered))
    return Motion(seen, covered, np.asarray(speed), out_a, out_w)


def trips_digest(telemetry: Telemetry) -> LogTrips:
    """The run and the trips of one log; amps positive into the pack."""
    motion = observe_motion(telemetry)
    covered, energy = motion.covered_m, motion.out_wh
    has_rows = len(motion.observed.time_s) > 1
    trips = _trips(telemetry, motion, energy) if has_rows and (
        energy is not None or covered is not None) else ()
    return LogTrips(
        trips, motion.observed.seconds if has_rows else 0.0,
        float(covered[-1]) if has_rows and covered is not None else math.nan,
        float(energy[-1]) if has_rows and energy is not None else math.nan,
        _percent_used(telemetry["soc_pct"]), _first_temp_c(telemetry))


def _trips(telemetry: Telemetry, motion: Motion, energy_wh: Floats | None) -> tuple[Trip, ...]:
    time_s = motion.observed.time_s
    trips = []
    for first, last in _stretches(_is_moving(motion), time_s, motion.observed):
        seconds = float(time_s[last] - time_s[first])
        way = math.nan if motion.covered_m is None else float(
            motion.covered_m[last] - motion.covered_m[first])
        if seconds < TRIP_MIN_S or way < TRIP_MIN_M:
            continue
        energy = math.nan if energy_wh is None else float(energy_wh[last] - energy_wh[first])
        shape = _shape(motion, energy_wh, first, last)
        trips.append(Trip(float(time_s[first]), seconds, way, energy,
                          "power" if motion.covered_m is None else "speed", shape,
                          _places(telemetry, motion.observed, first, last)))
    return tuple(trips)


def _is_moving(motion: Motion) -> NDArray[np.bool_]:
    if motion.speed_m_s is not None:
        return np.asarray(motion.speed_m_s > STANDING_M_S)
    size = np.abs(motion.out_a) if motion.out_a is not None else np.zeros(0)
    hard_a = float(np.quantile(size, 0.95))
    return np.asarray(size > max(STANDING_A, STANDING_SHARE * hard_a))


def _stretches(is_moving: NDArray[np.bool_], time_s: Floats,
               seen: Observed) -> list[tuple[int, int]]:
    """First and last moving row of each trip; a gap ends one if it is as long as a stop."""
    rows = np.flatnonzero(is_moving)
    if not len(rows):
        return []
    ends = np.diff(time_s[rows]) >= STOP_S
    starts = rows[np.concatenate(([True], ends))]
    stops = rows[np.concatenate((ends, [True]))]
    # The step out of standing belongs to the trip, unless it is a gap.
    is_step = np.concatenate(([False], seen.width_s > 0))
    starts = np.where(is_step[starts], starts - 1, starts)
    return [(int(a), int(b)) for a, b in zip(starts, stops, strict=True) if b > a]


def _shape(motion: Motion, energy_wh: Floats | None, first: int, last: int) -> tuple[float, ...]:
    rows = slice(first, last + 1)
    time_s = motion.observed.time_s[rows]
    if motion.covered_m is not None:
        marks = np.linspace(motion.covered_m[first], motion.covered_m[last], SHAPE_PARTS + 1)
        rising = np.maximum.accumulate(
            motion.covered_m[rows] + 1e-9 * np.arange(last + 1 - first))
        figures = 1 / np.maximum(np.diff(np.interp(marks, rising, time_s)), 1e-3)
    elif energy_wh is not None:
        marks = np.linspace(time_s[0], time_s[-1], SHAPE_PARTS + 1)
        figures = np.diff(np.interp(marks, time_s, energy_wh[rows]))
    else:
        return ()
    mean = float(figures.mean())
    return tuple((figures / mean).round(4).tolist()) if mean > 0 else ()


def _places(telemetry: Telemetry, seen: Observed, first: int, last: int) -> (
        tuple[float, float, float, float]):
    north, east = (telemetry[c] for c in ("latitude_deg", "longitude_deg"))
    a, b = (first, last) if seen.rows is None else (int(seen.rows[first]), int(seen.rows[last]))
    return float(north[a]), float(east[a]), float(north[b]), float(east[b])


def _percent_used(percent: Floats) -> float:
    known = percent[np.isfinite(percent)]
    if not len(known):
        return math.nan
    return float(np.median(known[:END_READINGS]) - np.median(known[-END_READINGS:]))


def _first_temp_c(telemetry: Telemetry) -> float:
    for column in ("ambient_c", "temp_1_c"):
        known = telemetry[column][np.isfinite(telemetry[column])]
        if len(known):
            return float(known[0])
    return math.nan
