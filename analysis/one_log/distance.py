"""Distance covered, from the odometer column, from speed or from place."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from ..estimate import Answer, Estimate, NoEstimate
from ..place.track import way_m
from ..telemetry import Floats, Telemetry
from ..timebase import Observed, observe

#: What wheel size and rounding may be wrong by (common practice, no source).
SPEED_GAIN: Final = 0.03

#: A length from a map or a measuring wheel is off by up to this (common practice, no source).
ROUTE_GAIN: Final = 0.01
#: A drive of which less was seen cannot be set against a way that is known as a whole.
SEEN_MIN: Final = 0.98
#: A receiver that stands still shows up to this speed (common practice, no source). [m/s]
DRIFT_M_S: Final = 0.25


def distance_m(telemetry: Telemetry, like: Observed | None = None) -> Answer:
    """Distance covered in a log. [m]

    From ``distance_m`` if the log has it: the sum of its steps forward, across gaps too, for an
    odometer counts on; a step back is a reset and counts nothing. Else the trapezoid of
    ``speed_m_s`` over observed time, so that what was driven in a gap is missing; where the log
    has places the speed may be a receiver's, and less than ``DRIFT_M_S`` of it is standing. Else
    the way of its places (``place.way_m``). ``like`` as in ``timebase.observe``.
    """
    if "distance_m" in telemetry:
        covered = _counted_m(telemetry["distance_m"])
    elif "speed_m_s" in telemetry:
        observed = observe(telemetry, "speed_m_s", like=like)
        covered = observed.integral(_without_drift(telemetry, observed))
    elif "latitude_deg" in telemetry and "longitude_deg" in telemetry:
        return way_m(telemetry)
    else:
        return NoEstimate("the log holds neither speed nor distance",
                          "log speed, or note a distance counter before and after")
    return Estimate.around(covered, abs(covered) * SPEED_GAIN, "m")


def _without_drift(telemetry: Telemetry, observed: Observed) -> Floats:
    """The speed, 0 where a receiver that stands only wanders."""
    speed = observed.pick(telemetry["speed_m_s"])
    if "latitude_deg" not in telemetry:
        return speed
    return np.where(np.abs(speed) < DRIFT_M_S, 0.0, speed)


def _counted_m(figures: Floats) -> float:
    steps = np.diff(figures[np.isfinite(figures)])
    return float(steps[steps > 0].sum())


def route_way_m(length_m: float) -> Estimate:
    """A way whose length is known, from a map or a survey. [m]"""
    return Estimate.around(length_m, length_m * ROUTE_GAIN, "m")


def odometer_way_m(before_km: float, after_km: float, step_km: float) -> Answer:
    """The way between two readings of a distance counter. [m]

    Each reading is cut to the counter's least step, so that the difference is off by up to one.
    """
    way_m, step_m = (after_km - before_km) * 1000, step_km * 1000
    if way_m < 0:
        return NoEstimate("the odometer shows less after the drive than before",
                          "check both odometer notes")
    if way_m < step_m:
        return NoEstimate("the odometer did not move by a whole step", "note more digits of it")
    return Estimate.around(way_m, math.hypot(step_m, way_m * SPEED_GAIN), "m")


def seen_of_told_m(told_m: Answer, observed: Observed, duration_s: float) -> Answer:
    """A told way, if the log saw nearly all of the drive, for energy is divided by it. [m]"""
    if observed.seconds < SEEN_MIN * duration_s:
        return NoEstimate(
            f"{duration_s - observed.seconds:.0f} s of the drive were not seen, and the way is "
            "known only as a whole", "log the drive without gaps")
    return told_m


def seen_distance_m(telemetry: Telemetry, covered_m: Answer, observed: Observed) -> Answer:
    """The part of the distance that was covered while ``observed`` saw the vehicle. [m]

    An odometer counts on in a gap and energy does not, so that only this part may be divided by.
    """
    if isinstance(covered_m, NoEstimate) or "distance_m" not in telemetry:
        return covered_m
    figures = telemetry["distance_m"]
    known = np.flatnonzero(np.isfinite(figures))
    at_s = observed.time_s[np.concatenate((observed.gap_steps, observed.gap_steps + 1))]
    before, after = np.interp(at_s, telemetry.elapsed_s[known], figures[known]).reshape(2, -1)
    unseen_m = float(np.maximum(after - before, 0.0).sum())
    seen_m = max(_counted_m(figures) - unseen_m, 0.0)
    return Estimate.around(seen_m, seen_m * SPEED_GAIN, "m")
