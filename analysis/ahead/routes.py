"""Ways driven again and again, told apart without a map.

Trips of one *route* are alike in length and in the shape of their speed (in time and watts where
speed is not logged), and in their ends where place is logged.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

import numpy as np

from ..digest import LogDigest
from ..local_days import zone_named
from ..one_log.charge import SECONDS_PER_HOUR
from .consumption import Conditions
from .trips import LogTrips, ShapeOf, Trip

#: Trips of one route differ by less: in length (or time), in shape (root mean square), in place.
LENGTH_SHARE: Final = 0.05
SHAPE_OFF: Final = {"speed": 0.12, "power": 0.35}
PLACE_OFF_M: Final = 200.0
#: A route counts if it was driven on this share of the days of both sides.
ROUTE_DAYS: Final = 0.5
#: Stands for every way where no route is common to both sides.
ANY_WAY: Final = -1
_M_PER_DEG: Final = 111_195.0


@dataclass(frozen=True, slots=True)
class RoutedTrip:
    """A trip with its day and route, its energy without the zero error, and what may confound."""

    day: str
    route: int
    shape_of: ShapeOf
    #: [km]; 1 where distance is not known.
    extent: float
    energy_wh: float
    #: NaN where not known. [m/s, degC]
    speed_m_s: float
    temp_c: float
    #: What was noted by hand of its log.
    noted: Conditions

    @property
    def way(self) -> str:
        """Its name as noted; empty where none was."""
        return self.noted.route


def route_trips(drives: Sequence[tuple[LogDigest, float]],
                noted: Mapping[str, Conditions] | None = None) -> list[list[RoutedTrip]]:
    """The trips of each drive with their routes, numbered as they turn up.

    Parameters
    ----------
    drives
        With the watts that the zero error of their amps hides.
    noted
        What was noted by hand of a log, by its file name.
    """
    leaders: list[Trip] = []
    routed = []
    for digest, error_w in drives:
        log = digest.of(LogTrips)
        day = day_of(digest).isoformat()
        told = (noted or {}).get(digest.log, Conditions())
        routed.append([_routed(trip, _route_of(trip, leaders), day, error_w, log.temp_c, told)
                       for trip in log.trips if math.isfinite(trip.energy_wh)])
    return routed


def day_of(digest: LogDigest) -> date:
    """The day on which a log began, where it was recorded."""
    return datetime.fromtimestamp(digest.start_s, zone_named(digest.head.time_zone)).date()


def _route_of(trip: Trip, leaders: list[Trip]) -> int:
    for number, leader in enumerate(leaders):
        if is_same_way(trip, leader):
            return number
    leaders.append(trip)
    return len(leaders) - 1


def _routed(trip: Trip, route: int, day: str, error_w: float, temp_c: float,
            noted: Conditions) -> RoutedTrip:
    energy = trip.energy_wh + error_w * trip.seconds / SECONDS_PER_HOUR
    extent = trip.distance_m / 1000 if math.isfinite(trip.distance_m) else 1.0
    return RoutedTrip(day, route, trip.shape_of, extent, energy, trip.distance_m / trip.seconds,
                      temp_c, noted)


def is_same_way(trip: Trip, other: Trip) -> bool:
    """Whether two trips went the same way: alike in length, ends and shape."""
    if trip.shape_of != other.shape_of or not trip.shape or not other.shape:
        return False
    own, its = ((t.distance_m if t.shape_of == "speed" else t.seconds) for t in (trip, other))
    if abs(own - its) > LENGTH_SHARE * its:
        return False
    ends = (_apart_m(trip.places_deg[k:k + 2], other.places_deg[k:k + 2]) for k in (0, 2))
    if any(apart > PLACE_OFF_M for apart in ends):
        return False
    off = np.subtract(trip.shape, other.shape)
    return math.sqrt(float(off @ off) / len(off)) <= SHAPE_OFF[trip.shape_of]


def _apart_m(a: tuple[float, ...], b: tuple[float, ...]) -> float:
    """Distance of two places nearby; NaN if one is not known. [m]"""
    east = (a[1] - b[1]) * math.cos(math.radians(a[0]))
    return math.hypot(a[0] - b[0], east) * _M_PER_DEG


def common_routes(old: Sequence[RoutedTrip], new: Sequence[RoutedTrip]) -> dict[int, float]:
    """Routes of most days of both sides, and the share of the extent that each gets; sum 1.

    Routes by speed go before those by watts.
    """
    for kind in ("speed", "power"):
        sides = [[t for t in side if t.shape_of == kind] for side in (old, new)]
        common = set.intersection(*map(_frequent, sides))
        if common:
            totals = {r: sum(t.extent for side in sides for t in side if t.route == r)
                      for r in sorted(common)}
            whole = sum(totals.values())
            return {r: total / whole for r, total in totals.items()}
    return {}


def _frequent(trips: Sequence[RoutedTrip]) -> set[int]:
    days: dict[int, set[str]] = {}
    for trip in trips:
        days.setdefault(trip.route, set()).add(trip.day)
    whole = len({trip.day for trip in trips})
    return {route for route, on in days.items() if len(on) >= ROUTE_DAYS * whole}
