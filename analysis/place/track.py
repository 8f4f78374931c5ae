"""Distance and speed from a receiver's fixes, without zig-zag and without drift in standing.

Joined from fix to fix, a track is too long: each fix is off by metres to a side, and a receiver
that stands wanders about. So fixes that leap are left out, the others are smoothed by a line over
some seconds, and what keeps within a few metres for half a minute is standing.

A place is laid on a plane that touches the sphere of mean radius 6371.0088 km (IUGG 1980, as in
Moritz, "Geodetic Reference System 1980", Journal of Geodesy 74, 2000; from memory); over the day
of a small vehicle the plane is off by less than 1 in 10,000.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..estimate import Answer, Estimate, NoEstimate
from ..telemetry import Floats, Telemetry
from ..timebase import GAP_STEPS, Rows, usual_step_s

_EARTH_M: Final = 6_371_008.8
PLACE: Final = ("latitude_deg", "longitude_deg")

#: Faster than this no small vehicle is: a fix that asks for it leapt. Chosen here. [m/s]
LEAP_M_S: Final = 40.0
#: So many leaping fixes that agree with one another are the truth after all.
LEAPS_MAX: Final = 5
#: Fixes are smoothed over so many seconds before and after for each metre that they jitter, for
#: a corner is cut by the same smoothing; chosen here on made tracks. [s/m, s]
SMOOTH_S_PER_M: Final = 3.0
SMOOTH_MAX_S: Final = 6.0
#: With fewer fixes than this to smooth, they stay as they are.
SMOOTH_MIN: Final = 4
#: Standing is to keep within this distance for this time before and after. Chosen here, as
#: receivers wander about by several metres. [m, s]
STAND_M: Final = 10.0
STAND_S: Final = 15.0
#: What is left for receivers that round or filter their fixes. Chosen here: with it the intervals
#: of place and wheels overlap in all nine drives of which two lie in tests/data/small_ev.
WAY_GAIN: Final = 0.03
#: Shorter than this, a track may be nothing but wandering. [m]
WAY_MIN_M: Final = 50.0

_Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Track:
    """The way of a receiver: smoothed fixes, and which steps between them were covered."""

    #: Since the log's start, strictly increasing. [s]
    elapsed_s: Floats
    #: East and north of the first fix. [m]
    east_m: Floats
    north_m: Floats
    #: Whether the vehicle moved in each step, and somebody saw it; one fewer than fixes.
    is_covered: _Bools
    #: Whether each step is a gap.
    is_gap: _Bools

    @property
    def covered_m(self) -> Floats:
        """Distance covered since the first fix, at each fix. [m]"""
        steps = np.hypot(np.diff(self.east_m), np.diff(self.north_m))
        return np.concatenate(([0.0], np.cumsum(np.where(self.is_covered, steps, 0.0))))

    @property
    def speed_m_s(self) -> Floats:
        """Speed in each step, NaN in a gap. [m/s]"""
        steps = np.diff(self.covered_m) / np.diff(self.elapsed_s)
        return np.where(self.is_gap, np.nan, steps)


def find_track(telemetry: Telemetry) -> Track | None:
    """The way of a log with places; ``None`` if it holds fewer than two different fixes.

    Rows without a place are no fixes, nor are rows that repeat the one above: receivers and
    loggers hold the last fix. A stretch without rows is a gap, and nobody knows its way.
    """
    if any(column not in telemetry for column in PLACE):
        return None
    time_s, east, north, last_row_s = _fixes(telemetry)
    kept = _without_leaps(time_s, east, north)
    time_s, east, north, last_row_s = (a[kept] for a in (time_s, east, north, last_row_s))
    if len(time_s) < 2:
        return None
    usual = usual_step_s(telemetry.elapsed_s)
    is_gap = time_s[1:] - last_row_s[:-1] > GAP_STEPS * usual
    piece = np.concatenate(([0], np.cumsum(is_gap)))
    east, north = _smoothed(time_s, east, north, piece)
    stands = _stands(time_s, east, north, piece)
    return Track(time_s, east, north, ~is_gap & ~(stands[1:] & stands[:-1]), is_gap)


def _fixes(telemetry: Telemetry) -> tuple[Floats, Floats, Floats, Floats]:
    """Time, east and north of each fresh fix, and the last row that still holds it."""
    latitude, longitude = (telemetry[column] for column in PLACE)
    there = np.isfinite(latitude) & np.isfinite(longitude)
    time_s, latitude, longitude = telemetry.elapsed_s[there], latitude[there], longitude[there]
    fresh = np.concatenate((
        [True], (np.diff(latitude) != 0) | (np.diff(longitude) != 0)))
    first = np.flatnonzero(fresh)
    last = np.concatenate((first[1:] - 1, [len(time_s) - 1]))
    middle = np.radians(np.median(latitude))
    around = (longitude - np.median(longitude) + 180) % 360 - 180
    east = _EARTH_M * np.cos(middle) * np.radians(around)
    north = _EARTH_M * np.radians(latitude - np.median(latitude))
    return time_s[first], east[first], north[first], time_s[last]


def _without_leaps(time_s: Floats, east: Floats, north: Floats) -> Rows:
    """Numbers of the fixes that can be reached from the one kept before.

    It begins at the fix from which most of its next few can be reached.
    """
    steps = np.hypot(np.diff(east), np.diff(north))
    if (steps <= LEAP_M_S * np.maximum(np.diff(time_s), 1.0)).all():
        return np.arange(len(time_s))

    def reaches(a: int, b: int) -> bool:
        way = float(np.hypot(east[b] - east[a], north[b] - north[a]))
        return way <= LEAP_M_S * max(float(time_s[b] - time_s[a]), 1.0)

    count = len(time_s)
    start = max(range(min(LEAPS_MAX, count)), key=lambda a: sum(
        reaches(a, b) for b in range(a + 1, min(a + 2 * LEAPS_MAX, count))), default=0)
    kept, astray = [start], list[int]()
    for fix in range(start + 1, count):
        if reaches(kept[-1], fix):
            kept.append(fix)
            astray = []
            continue
        astray = [*astray, fix] if astray and reaches(astray[-1], fix) else [fix]
        if len(astray) >= LEAPS_MAX:
            kept += astray
            astray = []
    return np.array(kept, dtype=np.intp)


def _stands(time_s: Floats, east: Floats, north: Floats, piece: Rows) -> _Bools:
    """Whether all fixes around each one lie near it."""
    first, last = _windows(time_s, piece, STAND_S)
    # A fix held for long tells of the time up to the next one, too.
    number = np.arange(len(time_s))
    first = np.minimum(first, np.maximum(number - 1, np.searchsorted(piece, piece)))
    last = np.maximum(last, np.minimum(number + 2, np.searchsorted(piece, piece, side="right")))
    farthest = np.zeros(len(time_s))
    for row, near in _neighbours(first, last):
        way = np.hypot(east[near] - east[row], north[near] - north[row])
        farthest[row] = np.maximum(farthest[row], way)
    return np.asarray(farthest <= STAND_M)


def _smoothed(time_s: Floats, east: Floats, north: Floats, piece: Rows) -> tuple[Floats, Floats]:
    """Each fix on the straight line through those around it, of the same piece."""
    reach_s = min(SMOOTH_S_PER_M * _jitter_m(east, north), SMOOTH_MAX_S)
    first, last = _windows(time_s, piece, reach_s)
    count = last - first
    sums = np.zeros((6, len(time_s)))
    for row, near in _neighbours(first, last):
        t = time_s[near] - time_s[row]
        terms = (t, t * t, east[near], t * east[near], north[near], t * north[near])
        for total, term in zip(sums, terms, strict=True):
            total[row] += term
    t_sum, tt_sum = sums[:2]
    spread = np.maximum(count * tt_sum - t_sum ** 2, 1e-9)
    return tuple(  # type: ignore[return-value]
        np.where(count >= SMOOTH_MIN, (tt_sum * x_sum - t_sum * tx_sum) / spread, bare)
        for bare, x_sum, tx_sum in ((east, sums[2], sums[3]), (north, sums[4], sums[5])))


def _windows(time_s: Floats, piece: Rows, reach_s: float) -> tuple[Rows, Rows]:
    """First and one-past-last fix within reach of each, in the same piece."""
    first = np.searchsorted(time_s, time_s - reach_s)
    last = np.searchsorted(time_s, time_s + reach_s, side="right")
    return (np.maximum(first, np.searchsorted(piece, piece)),
            np.minimum(last, np.searchsorted(piece, piece, side="right")))


def _neighbours(first: Rows, last: Rows) -> Iterator[tuple[Rows, Rows]]:
    """Fixes and their neighbours at one distance after the other, for whole columns at a time."""
    number = np.arange(len(first))
    for offset in range(int((first - number).min()), int((last - number).max())):
        row = np.flatnonzero((number + offset >= first) & (number + offset < last))
        yield row, row + offset


def _jitter_m(east: Floats, north: Floats) -> float:
    """What one fix is off by beside its neighbours, as a standard deviation. [m]

    From the second differences of the places, whose variance is six times that of one fix; the
    median, times 1.4826 for a normal distribution, leaves hard braking out.
    """
    bends = np.abs(np.concatenate((np.diff(east, 2), np.diff(north, 2))))
    return float(1.4826 * np.median(bends) / np.sqrt(6)) if len(bends) else 0.0


def way_m(telemetry: Telemetry) -> Answer:
    """Distance covered by a log's places. [m]

    The interval is made of what the way changes by if only every second smoothed fix is joined
    (curves cut short, zig-zag that is left), of half of ``STAND_M`` for each time the vehicle
    stood, and of ``WAY_GAIN`` of the way. Gaps are not counted.
    """
    track = find_track(telemetry)
    if track is None:
        return NoEstimate("the log holds no place that changes", "log speed or place")
    covered = float(track.covered_m[-1])
    if covered < WAY_MIN_M:
        return NoEstimate(f"by its place the vehicle kept within {STAND_M:.0f} m or hardly moved",
                          "log speed, or note a distance counter before and after")
    stands = np.count_nonzero(np.diff(track.is_covered.astype(int)) == 1)
    terms = (covered - _thinned_m(track), STAND_M / 2 * stands, WAY_GAIN * covered)
    return Estimate.around(covered, math.hypot(*terms), "m")


def _thinned_m(track: Track) -> float:
    """The way over every second fix, pieces of two covered steps each."""
    pairs = len(track.is_covered) // 2
    both = track.is_covered[:2 * pairs].reshape(pairs, 2).all(axis=1)
    ends = np.arange(pairs) * 2
    chords = np.hypot(track.east_m[ends + 2] - track.east_m[ends],
                      track.north_m[ends + 2] - track.north_m[ends])
    steps = np.diff(track.covered_m)
    whole = steps[:2 * pairs].reshape(pairs, 2).sum(axis=1)
    return float(np.where(both, chords, whole).sum() + steps[2 * pairs:].sum())


def with_speed(telemetry: Telemetry) -> Telemetry:
    """The log with ``speed_m_s`` worked out from its places, if it has none of its own.

    At each row the speed of the step it lies in; NaN outside the track and in gaps.
    """
    track = None if "speed_m_s" in telemetry else find_track(telemetry)
    if track is None:
        return telemetry
    step = np.searchsorted(track.elapsed_s, telemetry.elapsed_s, side="right") - 1
    inside = (step >= 0) & (telemetry.elapsed_s <= track.elapsed_s[-1])
    speed = track.speed_m_s[np.clip(step, 0, len(track.is_gap) - 1)]
    return telemetry.having(speed_m_s=np.where(inside, speed, np.nan))
