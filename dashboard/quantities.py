"""The glossary: how each quantity is named, rounded, coloured and explained on the screens.

``SHOWN`` has one entry for each of ``collector.record.QUANTITIES``; labels, units, digits and help
on every page come from here.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final, Self

from collector.record import quantity_of

#: What stands where a figure is missing.
NO_RECORD: Final = "no record"
MINUS: Final = "\N{MINUS SIGN}"
#: Keeps a number and its unit on one line.
NBSP: Final = "\N{NO-BREAK SPACE}"


#: What may be chosen -> its values and how each is called.
CHOICES: Final[Mapping[str, Mapping[str, str]]] = {
    "distance": {"km": "Kilometres, metres", "mi": "Miles, feet"},
    "temperature": {"C": "°C", "F": "°F"},
    "mass": {"kg": "Kilograms", "lb": "Pounds"},
    "torque": {"Nm": "Nm", "lbf-ft": "lbf·ft", "lbf-in": "lbf·in"},
    "consumption": {"": "By the distance", "Wh/km": "Wh/km", "Wh/mi": "Wh/mi",
                    "mi/kWh": "mi/kWh"},
}


@dataclass(frozen=True, slots=True)
class Units:
    """A person's choice; the logbook's ``[units]`` say where it begins."""

    distance: str = "km"
    temperature: str = "C"
    #: Energy for a distance, or distance for an energy; empty for watt-hours by the distance.
    consumption: str = ""
    mass: str = "kg"
    torque: str = "Nm"

    @classmethod
    def of(cls, config: Mapping[str, Any]) -> Self:
        """The choice in a logbook's configuration; what is not one of the known stays metric."""
        told = config.get("units")
        return cls().chosen(told if isinstance(told, dict) else {})

    def chosen(self, told: Mapping[str, Any]) -> Self:
        """This choice with whatever else is told; what is not one of the known changes nothing."""
        known = {name: told[name] for name, allowed in CHOICES.items()
                 if name in told and told[name] in allowed}
        return replace(self, **known)

    @property
    def per(self) -> str:
        """How energy and distance are put together."""
        return self.consumption or f"Wh/{self.distance}"


@dataclass(frozen=True, slots=True)
class Scale:
    """How a unit of the logbook is told to a person: told = kept x factor + offset."""

    unit: str
    factor: float = 1.0
    offset: float = 0.0

    def told(self, kept: float) -> float:
        return kept * self.factor + self.offset

    def kept(self, told: float) -> float:
        return (told - self.offset) / self.factor


#: 1 mile = 1609.344 m, 1 ft = 0.3048 m, 1 lb = 0.453 592 37 kg, 1 lbf·ft = 1.355 818 N m,
#: 1 lbf·in = 0.112 984 8 N m, and t/°F = 1.8 t/°C + 32 (NIST SP 811, appendix B.8).
MILE_M: Final = 1609.344
#: What a person chose -> kept unit -> as that person has it.
_SCALES: Final[Mapping[str, Mapping[str, Scale]]] = {
    "km": {"mi": Scale("km", MILE_M / 1000)},
    "mi": {"km": Scale("mi", 1000 / MILE_M), "km/h": Scale("mph", 1000 / MILE_M),
           "m/s": Scale("mph", 3600 / MILE_M), "m": Scale("ft", 1 / 0.3048)},
    "Wh/km": {"Wh/mi": Scale("Wh/km", 1000 / MILE_M)},
    "Wh/mi": {"Wh/km": Scale("Wh/mi", MILE_M / 1000)},
    "mi/kWh": {"Wh/km": Scale("Wh/mi", MILE_M / 1000)},
    "F": {"°C": Scale("°F", 1.8, 32.0), "K": Scale("°F", 1.8)},
    "C": {"K": Scale("°C")},
    "lb": {"kg": Scale("lb", 1 / 0.45359237)},
    "lbf-ft": {"Nm": Scale("lbf·ft", 1 / 1.355818)},
    "lbf-in": {"Nm": Scale("lbf·in", 1 / 0.1129848)},
}


def scale(unit: str, units: Units) -> Scale:
    """How a kept unit is told to a person; one that nobody chooses stays.

    ``K`` is a difference of temperatures: nobody reads kelvins off a thermometer.
    """
    for choice in (units.distance, units.per, units.temperature, units.mass, units.torque):
        if found := _SCALES.get(choice, {}).get(unit):
            return found
    return Scale(unit)


@dataclass(frozen=True, slots=True)
class Shown:
    """How one quantity appears: shown value = value x factor + offset."""

    label: str
    unit: str
    digits: int
    #: Colour role in ``theme``.
    role: str
    #: One plain sentence for whoever asks what it is.
    help: str
    factor: float = 1.0
    offset: float = 0.0

    def value(self, value: float) -> float:
        """The value in the shown unit."""
        return value * self.factor + self.offset

    def text(self, value: float, *, unit: bool = True) -> str:
        """The value with its unit, a true minus sign, "no record" for NaN."""
        if not math.isfinite(value):
            return NO_RECORD
        figure = number(self.value(value), self.digits)
        return f"{figure}{NBSP}{self.unit}" if unit and self.unit else figure


def number(value: float, digits: int) -> str:
    """A decimal number with a true minus sign; what rounds to zero has none."""
    text = f"{value:.{digits}f}"
    if text.startswith("-"):
        text = MINUS + text[1:] if text.strip("-0.") else text[1:]
    return text


_TIED: Final = re.compile(
    r"(?<=\d) (?=(?:A|mA|V|%|W|kW|Ah|Wh|h|min|s|mV|mΩ|m|ft|km|mi|mph|kg|lb|lbf|Nm|°C|°F)\b|%)"
    r"|(?<=\d h) (?=\d)|(?<=\d) (?=±)|(?<=±) (?=\d)")
#: Units that documents spell in plain letters -> their sign on the screens.
SIGNS: Final[Mapping[str, str]] = {"mohm": "mΩ", "Ah/yr": "Ah a year", "%/yr": "% a year",
                                   "Ah/month": "Ah a month"}


def unbroken(text: str) -> str:
    """A sentence in which no line ends between a number and its unit."""
    return _TIED.sub(NBSP, text.replace("mohm", SIGNS["mohm"]))


SHOWN: Final[Mapping[str, Shown]] = {
    "current_a": Shown("Amps", "A", 1, "out",
                       "Minus means out of the pack, plus means into it."),
    "voltage_v": Shown("Volts", "V", 2, "ink",
                       "They sag while the pack gives amps and come back when it rests."),
    "power_w": Shown("Watts", "W", 0, "ink", "Watts as the monitor reports them."),
    "soc_pct": Shown("Percent", "%", 0, "ink",
                     "The monitor's own count of what is left; it drifts until a full charge."),
    "charge_left_ah": Shown("Amp-hours left", "Ah", 1, "ink",
                            "Amp-hours left as the monitor counts them."),
    "time_left_h": Shown("Hours left", "h", 1, "ink",
                         "Hours left as the display shows them, at the amps of the moment."),
    "soh_pct": Shown("Health", "%", 0, "ink", "Health as the monitor claims it."),
    "cycles": Shown("Cycles", "", 0, "ink", "Charge cycles as the monitor counts them."),
    "cell_{n}_v": Shown("Cell", "V", 3, "ribbon", "Volts of one cell in the series string."),
    "cell_min_v": Shown("Lowest cell", "V", 3, "lowest",
                        "The board stops the pack when its lowest cell is too low."),
    "cell_max_v": Shown("Highest cell", "V", 3, "ribbon",
                        "The board stops a charge when its highest cell is too high."),
    "temp_{n}_c": Shown("Temperature", "°C", 1, "ink", "Temperature at a sensor of the pack."),
    "ambient_c": Shown("Air", "°C", 1, "muted", "Temperature of the air outside."),
    "speed_m_s": Shown("Speed", "km/h", 1, "ink", "Speed over ground.", 3.6),
    "distance_m": Shown("Distance", "km", 2, "ink", "Distance covered.", 0.001),
    "latitude_deg": Shown("Latitude", "°", 5, "ink", "Place, north positive."),
    "longitude_deg": Shown("Longitude", "°", 5, "ink", "Place, east positive."),
    "elevation_m": Shown("Height", "m", 0, "ink", "Height above sea level."),
    "sequence": Shown("Sample number", "", 0, "muted", "The monitor's own running number."),
    "state": Shown("State", "", 0, "muted", "What the monitor says it is doing."),
    "fault": Shown("Fault", "", 0, "mark", "What the monitor says is wrong."),
}



def shown(column: str, units: Units = Units()) -> Shown:
    """How a column appears in the person's units.

    Raises
    ------
    KeyError
        If the column is not in the vocabulary.
    """
    entry = SHOWN[quantity_of(column).name]
    told = scale(entry.unit, units)
    return replace(entry, unit=told.unit, factor=entry.factor * told.factor,
                   offset=told.told(entry.offset))


def distance(distance_m: float, units: Units, digits: int = 1) -> str:
    """Metres as kilometres or miles."""
    return f"{number(scale('km', units).told(distance_m / 1000), digits)}{NBSP}{units.distance}"


def consumption(wh_per_km: float, units: Units) -> str:
    """Watt-hours for each kilometre or mile without decimals, or miles for each kilowatt-hour."""
    wh = wh_per_km * length_factor(units)
    if units.per != "mi/kWh":
        return f"{number(wh, 0)}{NBSP}{units.per}"
    return f"{number(1000 / wh, 1)}{NBSP}mi/kWh" if wh > 0 else NO_RECORD


def length_factor(units: Units) -> float:
    """Kilometres in the distance that energy is told for."""
    return 1.0 if units.per == "Wh/km" else MILE_M / 1000
