"""Unit symbols as people write them, and how each turns into the unit of a log column.

Factors are exact by definition: the international mile of 1609.344 m, foot of 0.3048 m and
nautical mile of 1852 m (NIST Special Publication 811, 2008, appendix B.8; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: ``value in base unit = figure x factor + offset``."""

    #: What it measures; only units of one dimension convert into each other.
    dimension: str
    factor: float = 1.0
    offset: float = 0.0


#: Symbols in lower case; ``_known`` strips blanks, dots and powers first.
UNITS: Final[dict[str, dict[str, float]]] = {
    "current": {"a": 1, "amp": 1, "amps": 1, "ampere": 1, "amperes": 1, "ma": 1e-3,
                "milliamp": 1e-3, "milliamps": 1e-3},
    "voltage": {"v": 1, "volt": 1, "volts": 1, "vdc": 1, "mv": 1e-3, "millivolt": 1e-3,
                "millivolts": 1e-3},
    "power": {"w": 1, "watt": 1, "watts": 1, "kw": 1e3},
    "charge": {"ah": 1, "a·h": 1, "a*h": 1, "mah": 1e-3, "as": 1 / 3600, "coulomb": 1 / 3600},
    "energy": {"wh": 1, "kwh": 1e3, "j": 1 / 3600, "kj": 1 / 3.6},
    "time": {"s": 1, "sec": 1, "secs": 1, "second": 1, "seconds": 1, "sek": 1, "ms": 1e-3,
             "msec": 1e-3, "millisecond": 1e-3, "milliseconds": 1e-3, "us": 1e-6, "µs": 1e-6,
             "μs": 1e-6, "ns": 1e-9, "min": 60, "mins": 60, "minute": 60, "minutes": 60,
             "h": 3600, "hr": 3600, "hrs": 3600, "hour": 3600, "hours": 3600, "std": 3600},
    "speed": {"m/s": 1, "ms-1": 1, "mps": 1, "km/h": 1 / 3.6, "kmh": 1 / 3.6, "kph": 1 / 3.6,
              "kmph": 1 / 3.6, "mph": 0.44704, "mi/h": 0.44704, "kn": 1852 / 3600,
              "kt": 1852 / 3600, "kts": 1852 / 3600, "knot": 1852 / 3600, "knots": 1852 / 3600},
    "length": {"m": 1, "meter": 1, "meters": 1, "metre": 1, "metres": 1, "km": 1e3, "mi": 1609.344,
               "mile": 1609.344, "miles": 1609.344, "ft": 0.3048, "feet": 0.3048, "foot": 0.3048,
               "nmi": 1852, "nm": 1852, "cm": 1e-2},
    "ratio": {"%": 1, "pct": 1, "percent": 1, "frac": 100, "fraction": 100, "‰": 0.1},
    "angle": {"°": 1, "deg": 1, "degree": 1, "degrees": 1},
    "resistance": {"ohm": 1, "ω": 1, "mohm": 1e-3, "kohm": 1e3},
}

_BY_SYMBOL: Final = {symbol: Unit(dimension, float(factor))
                     for dimension, symbols in UNITS.items() for symbol, factor in symbols.items()}
_TEMPERATURE: Final = {
    Unit("temperature"): ("°c", "c", "degc", "celsius", "deg c", "℃"),
    Unit("temperature", 5 / 9, -160 / 9): ("°f", "f", "degf", "fahrenheit", "deg f", "℉"),
    Unit("temperature", 1.0, -273.15): ("k", "kelvin"),
}
_BY_SYMBOL.update({symbol: unit for unit, symbols in _TEMPERATURE.items() for symbol in symbols})

#: Dimension of each unit that a log column has (see ``collector.record``).
_LOG_UNITS: Final = {"A": "current", "V": "voltage", "W": "power", "%": "ratio", "Ah": "charge",
                     "h": "time", "°C": "temperature", "m/s": "speed", "m": "length",
                     "°": "angle"}
_MEGA: Final = ("MA", "MV", "MW", "MAh")


def find_unit(symbol: str) -> Unit | None:
    """The unit a symbol stands for; ``None`` if it is not known, or is a mega unit."""
    bare = symbol.strip().strip("[](){}").strip()
    if bare in _MEGA:
        return None
    return _BY_SYMBOL.get(bare.lower().rstrip("."))


def dimension_of(log_unit: str) -> str:
    """What a log column's unit measures; empty for text and counts."""
    return _LOG_UNITS.get(log_unit, "")


def to_log_unit(unit: Unit, log_unit: str) -> tuple[float, float]:
    """Factor and offset from ``unit`` to the unit of a log column of the same dimension."""
    scale = 3600.0 if log_unit == "h" else 1.0
    return unit.factor / scale, unit.offset / scale
