"""What a heading means: its words, its unit, and the quantity that both name.

``WORDINGS`` is the visible table. A heading matches a wording if its words, less the unit and
the words that say nothing (``IDLE``), are exactly those of the wording in any order. A heading
with one word too many (``charger current limit``) matches nothing: left out and said is better
than wrong.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from ..record import QUANTITIES
from .units import Unit, dimension_of, find_unit

#: Roles a column can have beside the quantities of a log.
ROLES: Final = ("time", "date", "charge_current_a", "discharge_current_a", "direction",
                "is_charging", "is_discharging", "weather")

#: Quantity or role -> wordings, the most trusted first; words in any order.
WORDINGS: Final[dict[str, tuple[str, ...]]] = {
    "time": ("timestamp", "datetime", "date time", "date and time", "time stamp", "datum zeit",
             "datum uhrzeit", "date heure", "utc", "time utc", "timestamp utc", "date time utc",
             "time gmt", "gps time", "unix time", "epoch", "epoch time", "unix", "time",
             "zeitstempel", "zeit", "uhrzeit", "horodatage", "heure", "hora", "tijd", "tempo",
             "elapsed", "elapsed time", "clock", "t", "test time", "sample time"),
    "date": ("date", "datum", "day", "fecha"),
    "current_a": ("current", "amps", "amp", "ampere", "amperes", "amperage", "i", "strom",
                  "stromstärke", "courant", "corriente", "corrente", "stroom"),
    "charge_current_a": ("charge current", "charging current", "current in", "amps in",
                         "charge amps", "charging amps", "ladestrom"),
    "discharge_current_a": ("discharge current", "discharging current", "current out", "amps out",
                            "discharge amps", "discharging amps", "entladestrom"),
    "direction": ("direction", "current direction", "flow", "current flow", "charge discharge",
                  "richtung", "stromrichtung"),
    "is_charging": ("charging", "is charging"),
    "is_discharging": ("discharging", "is discharging"),
    "voltage_v": ("voltage", "volts", "volt", "v", "u", "spannung", "voltaje", "tension",
                  "tensione", "spanning"),
    "power_w": ("power", "watts", "watt", "p", "leistung", "puissance", "potencia", "potenza",
                "vermogen"),
    "soc_pct": ("soc", "state of charge", "internal soc", "charge state", "ladezustand",
                "charge level", "level", "percent", "percentage", "charge", "displayed soc",
                "display soc", "dash soc", "user soc"),
    "charge_left_ah": ("remaining capacity", "capacity left", "charge left", "remaining charge",
                       "ah left", "remaining ah", "left", "remaining", "restkapazität"),
    "time_left_h": ("time left", "remaining time", "hours left", "remaining hours",
                    "time to empty", "restzeit"),
    "soh_pct": ("soh", "state of health", "health"),
    "cycles": ("cycles", "cycle count", "charge cycles", "number of cycles"),
    "cell_min_v": ("cell min", "cell minimum", "cell lowest", "cell low"),
    "cell_max_v": ("cell max", "cell maximum", "cell highest", "cell high"),
    "temp_{n}_c": ("temp", "t", "temperature", "temperatur", "température", "temperatura",
                   "temperatuur", "cell temp", "cell temperature"),
    "ambient_c": ("ambient temperature", "ambient temp", "ambient", "outside temperature",
                  "outside temp", "outdoor temperature", "air temperature", "air temp",
                  "aussentemperatur", "außentemperatur", "weather temperature"),
    "speed_m_s": ("speed", "velocity", "vehicle speed", "vehicle velocity", "wheel speed",
                  "ground speed", "speed over ground", "sog", "geschwindigkeit", "vitesse",
                  "velocidad", "snelheid", "gps speed"),
    "distance_m": ("distance", "odometer", "odo", "trip distance", "mileage", "strecke",
                   "kilometerstand"),
    "latitude_deg": ("latitude", "lat", "gps latitude", "gps lat", "breitengrad"),
    "longitude_deg": ("longitude", "lon", "lng", "long", "gps longitude", "gps lon",
                      "längengrad"),
    "elevation_m": ("elevation", "altitude", "alt", "height", "gps altitude", "gps alt", "ele",
                    "höhe"),
    "sequence": ("sequence", "seq", "sequence number", "sample number"),
    "state": ("state", "status", "mode", "gear", "zustand"),
    "fault": ("fault", "faults", "alarm", "alarms", "warning", "warnings", "error", "errors"),
    "weather": ("humidity", "weather", "wind", "wind speed", "wind speed av", "wind direction",
                "pressure", "rain", "rainfall"),
}

#: Words that add nothing to a heading of a battery's log.
IDLE: Final = frozenset((
    "battery", "batt", "bat", "akku", "batterie", "batería", "batteria", "accu", "pack", "main",
    "total", "measured", "meas", "actual", "act", "hv", "dc", "bms", "value", "reading", "sensor",
    "local", "the", "of", "vehicle"))

#: Wordings that name nothing without a unit beside them.
_NEED_UNIT: Final = frozenset(("charge", "level", "left", "remaining", "remaining charge"))

#: What a unit alone says, where no word is left: ``Battery (A)``.
_BY_DIMENSION: Final = {"current": "current_a", "voltage": "voltage_v", "power": "power_w",
                        "ratio": "soc_pct", "temperature": "temp_{n}_c"}
_CELL: Final = frozenset(("cell", "cells", "zelle", "cel", "cellule", "celda"))
_VOLTS: Final = frozenset(("voltage", "volts", "volt", "v", "u", "spannung", "tension"))
_TEMP: Final = frozenset(WORDINGS["temp_{n}_c"]) | {"t", "probe", "ntc", "thermistor"}
_BRACKETED: Final = re.compile(r"^(.*?)\s*[\[({<]\s*([^\])}>]*?)\s*[\])}>]\s*$")
_TOKEN: Final = re.compile(r"[^\W\d_]+|\d+")
#: Two small letters before the capital, so that ``SoC`` stays one word.
_CAMEL: Final = re.compile(r"(?<=[a-zäöü]{2})(?=[A-ZÄÖÜ])")


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading taken apart."""

    #: As it stands in the file.
    text: str
    #: Lower-case words and numbers without the unit.
    words: tuple[str, ...]
    #: The unit's symbol as found; empty if there is none.
    symbol: str = ""

    @property
    def unit(self) -> Unit | None:
        return find_unit(self.symbol) if self.symbol else None


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a heading names."""

    #: Quantity name as in QUANTITIES (a group's with ``{n}``) or one of ``ROLES``.
    quantity: str
    #: Member of a group as numbered in the file; -1 where it has no number.
    number: int = -1
    #: 0 for the most trusted wording; larger is weaker.
    rank: int = 0


def take_apart(text: str, unit_below: str = "") -> Heading:
    """Words and unit of a heading; ``unit_below`` is the field of a unit row under it."""
    name, symbol = text.strip(), unit_below.strip().strip("[](){}")
    if not symbol and (bracketed := _BRACKETED.match(name)) and bracketed[1]:
        name, symbol = bracketed[1], bracketed[2]
    tokens = _tokens(name)
    if not symbol:
        tokens, symbol = _split_off_unit(name, tokens)
    return Heading(text, tuple(tokens), symbol)


def _tokens(name: str) -> list[str]:
    return [token.lower() for token in _TOKEN.findall(_CAMEL.sub(" ", name))]


def _split_off_unit(name: str, tokens: list[str]) -> tuple[list[str], str]:
    """A unit written as the last word: ``voltage_mV``, ``speed km/h``, ``SoC %``."""
    pieces = re.split(r"[\s_,]+", name)
    for count in (2, 1):
        symbol = "/".join(pieces[-count:]) if count == 2 else pieces[-1]
        rest = _tokens(" ".join(pieces[:-count]))
        if rest and find_unit(symbol) is not None:
            return rest, symbol
    if name.endswith("%") and len(name) > 1:
        return tokens, "%"
    return tokens, ""


def meaning_of(heading: Heading) -> Meaning | None:
    """The quantity or role a heading names, ``None`` if no wording fits its words and unit."""
    words = [w for w in heading.words if w not in IDLE]
    return _member(words, heading) or _single(words, heading) or _by_unit(words, heading)


def _member(words: list[str], heading: Heading) -> Meaning | None:
    """A numbered cell or temperature: ``U_Cell_03``, ``cell12 voltage``, ``T1``."""
    numbers = [int(word) for word in words if word.isdecimal()]
    names = {word for word in words if not word.isdecimal()}
    if len(numbers) != 1:
        return None
    unit = heading.unit.dimension if heading.unit else ""
    if names & _CELL and names <= _CELL | _VOLTS and unit in ("", "voltage"):
        return Meaning("cell_{n}_v", numbers[0])
    warm = unit == "temperature"
    if (names & _TEMP and names <= _TEMP | _CELL and unit in ("", "temperature")) or (
            warm and not names):
        return Meaning("temp_{n}_c", numbers[0])
    return None


def _single(words: list[str], heading: Heading) -> Meaning | None:
    asked = sorted(words)
    bare = sorted(set(words) - _VOLTS)
    for quantity, wordings in WORDINGS.items():
        mine = bare if quantity in ("cell_min_v", "cell_max_v") else asked
        for rank, wording in enumerate(wordings):
            if mine == sorted(w for w in wording.split() if w not in IDLE) \
                    and _unit_fits(quantity, wording, heading):
                return Meaning(quantity, rank=rank)
    return None


def _by_unit(words: list[str], heading: Heading) -> Meaning | None:
    unit = heading.unit if not words else find_unit(heading.text)
    if unit is None or unit.dimension not in _BY_DIMENSION:
        return None
    return Meaning(_BY_DIMENSION[unit.dimension], rank=99)


def _unit_fits(quantity: str, wording: str, heading: Heading) -> bool:
    """Whether the heading's unit measures what the quantity is; an unknown one might."""
    unit = heading.unit
    if unit is None:
        return wording not in _NEED_UNIT
    return unit.dimension == dimension_of(unit_of(quantity)) or quantity == "weather"


def unit_of(quantity: str) -> str:
    """The unit symbol of a quantity, or of a role's figures."""
    if quantity in QUANTITIES:
        return QUANTITIES[quantity].unit
    return {"time": "h", "charge_current_a": "A", "discharge_current_a": "A"}.get(quantity, "")
