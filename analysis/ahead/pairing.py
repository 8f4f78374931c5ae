"""Days before and after a change, joined in pairs on the same ways.

A day's figure is its energy per distance with every way in the same share, so that another mix of
trips is no change. Ways noted by name come first, where both sides have one on ``PAIRS_MIN`` days:
who drove it knows it best. The days that are left are joined on the ways that the trips themselves
tell (``routes``). Days are joined one to one, alike in temperature; each is in one pair only.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from typing import Any, Final, Literal

import numpy as np

from .routes import ANY_WAY, RoutedTrip, common_routes
from .trips import ShapeOf

#: Fewer pairs give no interval, and a noted way with fewer days on a side is none.
PAIRS_MIN: Final = 3
#: A way noted by name; trips alike in length and speed, or in time and watts; days whatever the
#: way.
PairedBy = Literal["name", "speed", "power", "day"]
_TOLD: Final[Mapping[PairedBy, str]] = {
    "speed": "on ways known again by their length and speeds",
    "power": "on ways known again by their time and watts", "day": "whatever the way"}


@dataclass(frozen=True, slots=True)
class DayFigure:
    """One day's consumption with every route in its share."""

    rate: float
    temp_c: float
    speed_m_s: float
    #: As noted: on board above the usual, wind; NaN where nobody did. [kg, m/s]
    load_kg: float = math.nan
    wind_m_s: float = math.nan


@dataclass(frozen=True, slots=True)
class DayPair:
    """A day before and a day after, held against each other; ISO dates and consumption."""

    before: str
    after: str
    before_rate: float
    after_rate: float


@dataclass(frozen=True, slots=True)
class PairedOn:
    """By what days were joined, on how many ways, and how many pairs that gave."""

    by: PairedBy
    #: As noted; empty where the trips tell.
    way: str
    #: 0 if no way is common.
    routes: int
    pairs: int

    @property
    def words(self) -> str:
        return f"{self.pairs} " + (f"on “{self.way}”, as noted" if self.by == "name"
                                   else _TOLD[self.by])

    def as_json(self) -> dict[str, Any]:
        return asdict(self)


@dataclass(frozen=True, slots=True)
class Joined:
    """Days joined on the same ways."""

    on: PairedOn
    #: Of the trips: their figures are for a kilometre, or for a trip.
    kind: ShapeOf
    #: All days that have these ways, by their ISO dates, paired or not.
    before: Mapping[str, DayFigure]
    after: Mapping[str, DayFigure]
    pairs: tuple[tuple[str, str], ...]

    def pair(self, before: str, after: str) -> DayPair:
        return DayPair(before, after, self.before[before].rate, self.after[after].rate)


def pair_trips(old: Sequence[RoutedTrip], new: Sequence[RoutedTrip]) -> tuple[Joined, ...]:
    """Join the days of two sides, first on noted ways, then on those that the trips tell.

    Trips with speed go before those told by watts: what the one take for a kilometre, the other
    take for a trip, and only one of them is told.
    """
    kinds: tuple[ShapeOf, ...] = ("speed", "power")
    sides = {kind: tuple([t for t in side if t.shape_of == kind] for side in (old, new))
             for kind in kinds}
    for kind in kinds:
        if joined := _join_kind(kind, *sides[kind]):
            return joined
    kind = next((kind for kind in kinds if all(sides[kind])), "speed")
    before, after = sides[kind]
    return (_join("day", kind, "", before, after),)


def _join_kind(kind: ShapeOf, old: Sequence[RoutedTrip],
               new: Sequence[RoutedTrip]) -> tuple[Joined, ...]:
    joined = []
    for way in _noted_by_both(old, new):
        before, after = ([t for t in side if t.way == way] for side in (old, new))
        found = _join("name", kind, way, before, after)
        if len(found.pairs) >= PAIRS_MIN:
            joined.append(found)
            old, new = _untaken(old, 0, found), _untaken(new, 1, found)
    if shares := common_routes(old, new):
        found = _join(kind, kind, "", old, new, shares)
        joined += [found] if found.pairs or not joined else []
    return tuple(joined)


def _noted_by_both(old: Sequence[RoutedTrip], new: Sequence[RoutedTrip]) -> list[str]:
    """Names noted on enough days of both sides, those of most pairs first."""
    counts = {way: min(len({t.day for t in side if t.way == way}) for side in (old, new))
              for way in sorted({t.way for t in old} - {""})}
    return sorted((way for way in counts if counts[way] >= PAIRS_MIN),
                  key=lambda way: -counts[way])


def _join(by: PairedBy, kind: ShapeOf, way: str, old: Sequence[RoutedTrip],
          new: Sequence[RoutedTrip], shares: Mapping[int, float] | None = None) -> Joined:
    """Days of one way, unless ``shares`` tell several apart."""
    if shares is None:
        old, new = ([replace(t, route=ANY_WAY) for t in side] for side in (old, new))
    of_each = shares or {ANY_WAY: 1.0}
    before, after = day_figures(old, of_each), day_figures(new, of_each)
    pairs = tuple(pair_days(before, after))
    routes = 0 if by == "day" else len(of_each)
    return Joined(PairedOn(by, way, routes, len(pairs)), kind, before, after, pairs)


def _untaken(trips: Sequence[RoutedTrip], side: int, found: Joined) -> list[RoutedTrip]:
    taken = {pair[side] for pair in found.pairs}
    return [trip for trip in trips if trip.day not in taken]


def day_figures(trips: Sequence[RoutedTrip], shares: Mapping[int, float]) -> dict[str, DayFigure]:
    """The figure of each day on which every route of ``shares`` was driven."""
    by_day: dict[str, list[RoutedTrip]] = {}
    for trip in trips:
        if trip.route in shares:
            by_day.setdefault(trip.day, []).append(trip)
    figures = {}
    for day, driven in by_day.items():
        if {t.route for t in driven} == set(shares):
            rate = sum(share * _rate([t for t in driven if t.route == route])
                       for route, share in shares.items())
            if rate > 0:
                figures[day] = DayFigure(
                    rate, float(np.mean([t.temp_c for t in driven])),
                    float(np.mean([t.speed_m_s for t in driven])),
                    mean_of_known([t.noted.extra_load_kg for t in driven]),
                    mean_of_known([t.noted.wind_m_s for t in driven]))
    return figures


def mean_of_known(figures: Sequence[float], least: int = 1) -> float:
    """The mean of those that are known; NaN if fewer than ``least`` are."""
    known = [figure for figure in figures if math.isfinite(figure)]
    return sum(known) / len(known) if len(known) >= least else math.nan


def _rate(trips: Sequence[RoutedTrip]) -> float:
    return sum(t.energy_wh for t in trips) / sum(t.extent for t in trips)


def pair_days(before: Mapping[str, DayFigure],
              after: Mapping[str, DayFigure]) -> list[tuple[str, str]]:
    """Join days one to one, those nearest in temperature first, then those nearest in time."""
    def apart(pair: tuple[str, str]) -> tuple[float, int]:
        kelvin = abs(before[pair[0]].temp_c - after[pair[1]].temp_c)
        days = (datetime.fromisoformat(pair[1]) - datetime.fromisoformat(pair[0])).days
        return (0.0 if math.isnan(kelvin) else kelvin), abs(days)

    pairs: list[tuple[str, str]] = []
    taken: set[str] = set()
    for a, b in sorted(((a, b) for a in before for b in after if a != b), key=apart):
        if f"before {a}" not in taken and f"after {b}" not in taken:
            pairs.append((a, b))
            taken |= {f"before {a}", f"after {b}"}
    return sorted(pairs)
