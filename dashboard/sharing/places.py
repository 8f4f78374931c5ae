"""What of a track leaves with a shared copy, because somebody lives at its end.

Either no position; or the area, as one rounded position; or the track's shape, moved to where the
equator meets the Greenwich meridian and turned by chance; or true positions away from home.

Cutting only the first and last minutes gives the place away once many tracks are laid together;
so everything near a place where a log begins, ends or stays is cut, and the circle is moved and
widened by chance, so that its middle says nothing.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
#: Seconds, latitude and longitude of one log; missing is NaN.
Track = tuple[Floats, Floats, Floats]
#: Latitude and longitude -> as they leave.
Rule = Callable[[Floats, Floats], tuple[Floats, Floats]]
#: Mean radius of the Earth (IUGG, R1). [m]
EARTH_M: Final = 6_371_008.8
#: Within this for so long is a stay.
STAY_M, STAY_S = 40.0, 300.0
#: The circle is widened by up to this share.
WIDER: Final = 0.5


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle whose inside does not leave."""

    latitude_deg: float
    longitude_deg: float
    radius_m: float

    def holds(self, latitude_deg: Floats, longitude_deg: Floats) -> NDArray[np.bool_]:
        """Which positions lie inside; a missing one does not."""
        return distance_m(self.latitude_deg, self.longitude_deg, latitude_deg,
                          longitude_deg) <= self.radius_m


def distance_m(latitude_deg: float, longitude_deg: float, to_latitude_deg: Floats,
               to_longitude_deg: Floats) -> Floats:
    """Distance on a plane that touches the Earth there: right to a few in a thousand over
    kilometres. NaN stays NaN. [m]"""
    east = np.deg2rad((to_longitude_deg - longitude_deg + 180) % 360 - 180) * math.cos(
        math.radians(latitude_deg))
    return np.asarray(EARTH_M * np.hypot(east, np.deg2rad(to_latitude_deg - latitude_deg)))


def circles(tracks: Iterable[Track], radius_m: float,
            chance: random.Random) -> tuple[Circle, ...]:
    """A circle around each place where a track begins, ends or stays.

    Parameters
    ----------
    tracks
        Seconds, latitude and longitude of each log; missing is NaN.
    radius_m
        At least so far around the place itself is inside. [m]
    """
    found: list[tuple[float, float]] = []
    for time_s, latitude, longitude in tracks:
        there = np.isfinite(latitude) & np.isfinite(longitude)
        for place in _places(time_s[there], latitude[there], longitude[there]):
            if not any(_is_near(place, known, radius_m / 2) for known in found):
                found.append(place)
    return tuple(_moved(place, radius_m, chance) for place in found)


def _places(time_s: Floats, latitude: Floats, longitude: Floats) -> list[tuple[float, float]]:
    if not len(time_s):
        return []
    ends = [(float(latitude[0]), float(longitude[0])), (float(latitude[-1]), float(longitude[-1]))]
    first = 0
    while first < len(time_s) - 1:
        away = distance_m(latitude[first], longitude[first], latitude[first:], longitude[first:])
        left = np.flatnonzero(away > STAY_M)
        last = first + int(left[0]) if len(left) else len(time_s) - 1
        if time_s[last] - time_s[first] >= STAY_S:
            ends.append((float(latitude[first]), float(longitude[first])))
        first = max(last, first + 1)
    return ends


def _is_near(one: tuple[float, float], other: tuple[float, float], within_m: float) -> bool:
    return float(distance_m(*one, np.array([other[0]]), np.array([other[1]]))[0]) <= within_m


def _moved(place: tuple[float, float], radius_m: float, chance: random.Random) -> Circle:
    """The circle moved by no more than it was widened, on top of the half radius of merging."""
    wider = radius_m * (0.25 + (WIDER - 0.25) * chance.random())
    angle, away = 2 * math.pi * chance.random(), wider * math.sqrt(chance.random())
    north = math.degrees(away * math.cos(angle) / EARTH_M)
    east = math.degrees(away * math.sin(angle) / EARTH_M / math.cos(math.radians(place[0])))
    return Circle(place[0] + north, place[1] + east, 1.5 * radius_m + wider)


def away_from(found: Sequence[Circle]) -> Rule:
    """Positions in none of the circles; those inside become NaN."""
    def rule(latitude: Floats, longitude: Floats) -> tuple[Floats, Floats]:
        inside = np.zeros(len(latitude), dtype=bool)
        for circle in found:
            inside |= circle.holds(latitude, longitude)
        return np.where(inside, np.nan, latitude), np.where(inside, np.nan, longitude)

    return rule


def moved_and_turned(tracks: Iterable[Track], chance: random.Random) -> Rule:
    """Tracks as they lie to each other, begun at 0° N 0° E and turned by chance.

    Lengths stay right to a few in a thousand over kilometres: they are laid on a plane that
    touches the Earth where the first track begins, and there on the equator.
    """
    turn = 2 * math.pi * chance.random()
    start = next(((float(lat[ok][0]), float(lon[ok][0])) for _, lat, lon in tracks
                  if (ok := np.isfinite(lat) & np.isfinite(lon)).any()), (0.0, 0.0))

    def rule(latitude: Floats, longitude: Floats) -> tuple[Floats, Floats]:
        north = latitude - start[0]
        east = ((longitude - start[1] + 180) % 360 - 180) * math.cos(math.radians(start[0]))
        return (north * math.cos(turn) - east * math.sin(turn),
                north * math.sin(turn) + east * math.cos(turn))

    return rule


def area_words(tracks: Iterable[Track]) -> str:
    """The middle of all positions, rounded to a hundredth of a degree: about a kilometre."""
    tracks = list(tracks)
    middle = []
    for column in (1, 2):
        values = np.concatenate([track[column] for track in tracks]) if tracks else np.array([])
        if not np.isfinite(values).any():
            return "no log tells a position"
        middle.append(float(np.nanmedian(values)))
    latitude, longitude = middle
    return (f"about {abs(latitude):.2f}° {'N' if latitude >= 0 else 'S'}, {abs(longitude):.2f}° "
            f"{'E' if longitude >= 0 else 'W'}, to a kilometre")
