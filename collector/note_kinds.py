"""What a person can note by hand, in which unit, and how typed figures are read."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from .day_figures import DAY, read_day


@dataclass(frozen=True, slots=True)
class NoteKind:
    """One kind of note."""

    name: str
    #: What it is, in plain words.
    words: str
    #: Unit in which the figure is kept; empty where the note is words.
    unit: str = ""
    #: The usual caution of the trade when this is measured; empty where there is none.
    caution: str = ""
    #: Reads words that hold figures; its ``ValueError`` says what is allowed.
    reader: Callable[[str], object] | None = None
    #: Whether the kind says all by itself; any other holds a figure, words or a picture.
    is_whole: bool = False
    #: ``joint`` or ``cell``: without which one, the figure says nothing. Empty where it may.
    which: str = ""

    @property
    def is_figure(self) -> bool:
        return bool(self.unit)


_LIVE: Final = ("live metal: insulated tools, no rings; follow the maker's manual and a licensed "
                "electrician where the law asks for one")

_TABLE: Final = (
    NoteKind("mark", "a moment to come back to", is_whole=True),
    NoteKind("joint-millivolts", "millivolts across one joint, under load", "mV", _LIVE,
             which="joint"),
    NoteKind("surface-temperature", "temperature by infra-red thermometer", "°C",
             "bare bright metal reads far too cold by infra-red: aim at tape or paint"),
    NoteKind("torque", "what a joint was tightened to", "Nm",
             "with the main switch off; the maker's torque rules", which="joint"),
    NoteKind("clamp-amps", "amps by clamp meter", "A",
             "zero the clamp right before, one conductor in it, jaws clean and closed"),
    NoteKind("meter-volts", "volts across the whole pack by meter", "V", _LIVE),
    NoteKind("cell-volts", "volts of one cell by meter", "V", _LIVE, which="cell"),
    NoteKind("odometer", "what the distance counter shows", "km"),
    NoteKind("load", "people and goods on board", "kg"),
    NoteKind("frame-leakage", "volts from a pole of the pack to the frame", "V", _LIVE),
    NoteKind("point-volts", "volts at a point of the wiring, by meter", "V", _LIVE),
    NoteKind("tyre-pressure", "pressure in a tyre", "bar"),
    NoteKind("route", "the way of this drive, by a name that you give it"),
    NoteKind("weather", "the sky and the road"),
    NoteKind("air-temperature", "temperature of the air outside", "°C"),
    NoteKind("wind", "speed of the wind", "m/s"),
    NoteKind(DAY, "a day's figures off the display, read in the evening", reader=read_day),
    NoteKind("full", "the charger says full", is_whole=True),
    NoteKind("empty", "the pack cut out, or would not go on", is_whole=True),
    NoteKind("part-changed", "something was replaced, moved or set"),
    NoteKind("claim", "what a seller or a label promises"),
    NoteKind("check", "what became of a step of the checks"),
    NoteKind("label", "a figure of a label as it was typed before"),
    NoteKind("text", "anything else"),
    NoteKind("photo", "a picture, by its path"),
)

#: Every kind by name.
KINDS: Final[Mapping[str, NoteKind]] = {kind.name: kind for kind in _TABLE}

#: Kept unit -> how it may be typed, as it is told -> factor and offset: kept = typed x factor +
#: offset. Factors as in NIST Special Publication 811 (2008), appendix B.8.
_TYPED: Final[Mapping[str, Mapping[str, tuple[float, float]]]] = {
    "mV": {"mV": (1, 0), "V": (1000, 0), "µV": (0.001, 0)},
    "V": {"V": (1, 0), "mV": (0.001, 0)},
    "A": {"A": (1, 0), "mA": (0.001, 0)},
    "°C": {"°C": (1, 0), "°F": (5 / 9, -160 / 9), "K": (1, -273.15)},
    "Nm": {"Nm": (1, 0), "lbf·ft": (1.355817948, 0), "lbf·in": (0.112984829, 0)},
    "km": {"km": (1, 0), "m": (0.001, 0), "mi": (1.609344, 0)},
    "kg": {"kg": (1, 0), "lb": (0.45359237, 0)},
    "bar": {"bar": (1, 0), "kPa": (0.01, 0), "psi": (0.06894757, 0)},
    "m/s": {"m/s": (1, 0), "km/h": (1 / 3.6, 0), "mph": (0.44704, 0), "kn": (1852 / 3600, 0)},
    "Ah": {"Ah": (1, 0), "mAh": (0.001, 0)},
    "s": {"s": (1, 0), "ms": (0.001, 0), "min": (60, 0)},
    "%": {"%": (1, 0)},
    "cells": {"cells": (1, 0)},
}
#: Other spellings, plain, of units that are typed.
_ALSO: Final[Mapping[str, str]] = {
    "ftlb": "lbf·ft", "ftlbf": "lbf·ft", "inlb": "lbf·in", "inlbf": "lbf·in", "mile": "mi",
    "miles": "mi", "lbs": "lb", "percent": "%", "s": "cells"}
#: Kept unit -> the choice of units that it follows, and how a figure without a unit is then meant.
_CHOSEN: Final[Mapping[str, tuple[str, Mapping[str, str]]]] = {
    "°C": ("temperature", {"F": "°F"}), "km": ("distance", {"mi": "mi"}),
    "m/s": ("distance", {"mi": "mph"}), "kg": ("mass", {"lb": "lb"}),
    "Nm": ("torque", {"lbf-ft": "lbf·ft", "lbf-in": "lbf·in"}),
}

_READING: Final = re.compile(r"([-+−]?\s*[\d.,]*\d)\s*(.*)")


def read_figure(kind: NoteKind, typed: str, units: Mapping[str, str]) -> float:
    """A typed figure in the unit of its kind: ``119mV``, ``165F``, ``3,2 bar``, ``40``.

    Parameters
    ----------
    units
        The table ``units`` of the logbook, for figures without a unit; the kind's own otherwise.

    Raises
    ------
    ValueError
        If it is not a figure, or its unit does not belong to the kind; says what is allowed.
    """
    found = _READING.fullmatch(typed.strip())
    ways = _TYPED[kind.unit]
    if not typed.strip():
        raise ValueError(f"no figure was typed; it takes one in {', '.join(ways)}")
    if found is None:
        raise ValueError(f"{typed!r} is not a figure in {', '.join(ways)}")
    choice, meant = _CHOSEN.get(kind.unit, ("", {}))
    bare = meant.get(units.get(choice, ""), kind.unit)
    unit = _spelled(found[2] or bare, ways)
    if not unit:
        raise ValueError(f"{found[2]!r} is no unit of {kind.name}; it takes {', '.join(ways)}")
    factor, offset = ways[unit]
    return round(_number(found[1]) * factor + offset, 9)


def _spelled(typed: str, ways: Mapping[str, object]) -> str:
    """A typed unit as it is told; empty if it is none of these."""
    plain = _plain(typed)
    told = {_plain(unit): unit for unit in ways}.get(plain) or _ALSO.get(plain, "")
    return told if told in ways else ""


def _plain(unit: str) -> str:
    """Without capitals, dots and signs that not every keyboard has."""
    return re.sub(r"[\s·°.-]", "", unit).lower().replace("µ", "u").replace("μ", "u")


def in_chosen_unit(value: float, unit: str, units: Mapping[str, str]) -> tuple[float, str]:
    """A kept figure in the unit in which a person types it, and that unit's sign."""
    choice, meant = _CHOSEN.get(unit, ("", {}))
    way = meant.get(units.get(choice, ""), "")
    if not way:
        return value, unit
    factor, offset = _TYPED[unit][way]
    return (value - offset) / factor, way


def _number(text: str) -> float:
    """A number with a decimal point or comma; one that could be either is refused."""
    digits = re.sub(r"\s", "", text).replace("−", "-")
    if re.fullmatch(r"[-+]?[1-9]\d{0,2},\d{3}", digits):
        raise ValueError(f"{text!r} could be a thousand or a fraction; write it without the comma")
    if "," in digits and "." not in digits:
        digits = digits.replace(",", ".")
    try:
        return float(digits.replace(",", ""))
    except ValueError:
        raise ValueError(f"{text!r} is no number") from None
