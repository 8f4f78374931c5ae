"""What a person assumes of the way ahead: fields of the address, and the wish they make.

A figure is typed in the person's units. It goes into the question as SI, so that the answer is
the same whoever asks.
"""

from __future__ import annotations

import math
from typing import Final

from analysis.ahead.consumption import Conditions
from analysis.ahead.range_answer import Wish

from .chooser import LENGTH_MAX, Chooser, Field, typed_number
from .label_shelf import HOUSE, WHEELS
from .quantities import NBSP, Units, number, scale
from .shell import Place

NAME: Final = "reach"
#: Names of the fields in SI, in the question's key; each with the least and the most that it
#: takes.
BOUNDS: Final = {"percent": (0.0, 100.0), "reserve": (0.0, 90.0), "air_c": (-40.0, 60.0),
                 "load_kg": (-5000.0, 5000.0), "wind_m_s": (0.0, 40.0),
                 "climb_m": (0.1, 5000.0), "speed_kmh": (1.0, 200.0), "way_km": (0.1, 5000.0),
                 "way_h": (0.1, 500.0)}
#: Those that change the answer; how far one wants to go is only held against it.
CHOICES: Final = ("route", *(name for name in BOUNDS if not name.startswith("way")))
RESERVE_PCT: Final = 10.0


def chooser(units: Units, kind: str = WHEELS, *, has_way: bool = True,
            ways: tuple[str, ...] = ()) -> Chooser:
    """The fields, labelled in the person's units.

    Parameters
    ----------
    kind
        Of the vehicle: nothing climbs on water, and a house pack carries and drives nothing.
    has_way
        Whether drives tell how far they went.
    ways
        Names of the ways that drives were noted to have gone.
    """
    drives = kind != HOUSE
    def told(label: str, unit: str) -> str:
        return f"{label}, {scale(unit, units).unit}"

    return Chooser(NAME, (
        Field("percent", "Percent on the display now", "number"),
        Field("reserve", "Percent to keep in reserve", "number", usual=f"{RESERVE_PCT:.0f}"),
        Field("way", f"{told('Way to go', 'km')}; or hours, as 2 h" if has_way and drives else
              "Hours wanted, as 2 h"),
        Field("route", "Only by drives on the way", is_idle=not ways),
        Field("air", told("Air", "°C"), "number"),
        Field("load", told("Load more than usual", "kg"), "number", is_idle=not drives),
        Field("wind", told("Wind", "km/h"), "number", is_idle=not drives),
        Field("climb", told("Climb more than usual", "m"), "number", is_idle=kind != WHEELS),
        Field("speed", told("Driven at", "km/h"), "number", is_idle=not (has_way and drives)),
    ))


def in_si(place: Place, units: Units) -> Place:
    """The place with each field in SI beside it; what is out of bounds is left out."""
    def figure(name: str, unit: str = "") -> float:
        return scale(unit, units).kept(_or_nan(typed_number(place, name)))

    text = place.query.get("way", "").strip().lower()
    in_hours = text.endswith("h")
    wanted = _or_nan(typed_number(Place(query={"way": text.rstrip("h kmi")}), "way"))
    found = {
        "percent": figure("percent"), "reserve": figure("reserve"), "air_c": figure("air", "°C"),
        "load_kg": figure("load", "kg"), "wind_m_s": figure("wind", "km/h") / 3.6,
        "climb_m": figure("climb", "m"), "speed_kmh": figure("speed", "km/h"),
        "way_km": math.nan if in_hours else scale("km", units).kept(wanted),
        "way_h": wanted if in_hours else math.nan}
    kept = {name: f"{value:.9g}" for name, value in found.items()
            if BOUNDS[name][0] <= value <= BOUNDS[name][1]}
    raw = {name: value for name, value in place.query.items() if name not in BOUNDS}
    return Place(place.rest, raw | kept)


def wish_of(place: Place) -> Wish:
    """The wish of a place in SI."""
    air, load, wind = (_or_nan(bounded(place, name)) for name in ("air_c", "load_kg", "wind_m_s"))
    is_met = any(map(math.isfinite, (air, load, wind)))
    reserve = bounded(place, "reserve")
    return Wish(RESERVE_PCT if reserve is None else reserve, bounded(place, "percent"),
                Conditions(air, load, wind) if is_met else None,
                climb_m=bounded(place, "climb_m"), speed_kmh=bounded(place, "speed_kmh"),
                route=" ".join(place.query.get("route", "")[:LENGTH_MAX].split()))


def bounded(place: Place, name: str) -> float | None:
    """A figure in SI; ``None`` where there is none, or none that can be."""
    value = typed_number(place, name)
    low, high = BOUNDS[name]
    return value if value is not None and low <= value <= high else None


def assumed(wish: Wish, units: Units) -> str:
    """What is assumed beyond the usual, in words; empty if nothing is."""
    def size(value: float, unit: str, digits: int = 0) -> str:
        way = scale(unit, units)
        return f"{number(way.told(value), digits)}{NBSP}{way.unit}"

    told = [f"on the way “{wish.route}”"] if wish.route else []
    met = wish.met or Conditions()
    if math.isfinite(met.temp_c):
        told.append(f"in air of {size(met.temp_c, '°C', 1)}")
    if math.isfinite(met.extra_load_kg):
        more = "less" if met.extra_load_kg < 0 else "more"
        told.append(f"with {size(abs(met.extra_load_kg), 'kg')} {more} on board")
    if math.isfinite(met.wind_m_s):
        told.append(f"in wind of {size(3.6 * met.wind_m_s, 'km/h')}")
    if wish.climb_m:
        told.append(f"after a climb of {size(wish.climb_m, 'm')}")
    if wish.speed_kmh:
        told.append(f"driven at {size(wish.speed_kmh, 'km/h')}")
    return ", ".join(told)


def _or_nan(value: float | None) -> float:
    return math.nan if value is None else value
