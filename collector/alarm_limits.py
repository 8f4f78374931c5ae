"""The alarms a person wants for a pack, and how each is judged.

::

    [[pack]]
    name = "main"

    [pack.alarms]
    out_a = [{limit = 100, for_s = 60}, {limit = 200, for_s = 2}]
    cell_low_v = 2.9
    cold_charging_c = 0

What board and breaker themselves allow stands in ``[pack.limits]``, for the analysis. An alarm
protects nothing: the management board, the breaker and the person do.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from .errors import LogbookError


@dataclass(frozen=True, slots=True)
class Rule:
    """One kind of limit. Delays and bands are chosen here after common practice in alarm work
    (no source): seconds for amps, longer for what moves slowly, and a band to come back through.
    """

    #: What is judged, in words.
    words: str
    unit: str
    beyond: Literal["above", "below"]
    #: How long a figure must be beyond the limit. [s]
    for_s: float
    #: How far it must come back before the alarm is over, in ``unit``.
    band: float
    #: What to do.
    action: str


_WARM: Final = ("stop and let it cool; if it smells, swells or smokes, move away and call the fire "
                "service")

#: Every limit that ``[pack.alarms]`` may hold.
RULES: Final[Mapping[str, Rule]] = {
    "out_a": Rule("amps out", "A", "above", 3, 5,
                  "ease off: heat grows with the square of the amps"),
    "in_a": Rule("amps in", "A", "above", 3, 5,
                 "turn the charger down or off; ease off the braking"),
    "cell_low_v": Rule("lowest cell", "V", "below", 5, 0.05, "ease off, head back and charge"),
    "cell_high_v": Rule("highest cell", "V", "above", 5, 0.03,
                        "stop charging if charger and board do not"),
    "voltage_low_v": Rule("pack volts", "V", "below", 5, 0.5, "ease off, head back and charge"),
    "voltage_high_v": Rule("pack volts", "V", "above", 5, 0.5,
                           "stop charging if charger and board do not"),
    "temp_high_c": Rule("warmest sensor", "°C", "above", 10, 2, _WARM),
    "temp_low_c": Rule("coldest sensor", "°C", "below", 10, 2, "drive gently until it is warmer"),
    "cold_charging_c": Rule("coldest sensor while charging", "°C", "below", 3, 1,
                            "stop charging and warm the pack first; cold charging harms the cells"),
    "soc_low_pct": Rule("percent", "%", "below", 10, 2, "head back and charge"),
}


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit of one pack."""

    #: One of ``RULES``.
    key: str
    value: float
    #: How long a figure must be beyond it. [s]
    for_s: float
    #: How far it must come back.
    band: float

    @property
    def rule(self) -> Rule:
        return RULES[self.key]

    @property
    def words(self) -> str:
        """The limit in words: ``amps out above 200 A for 2 s``."""
        return (f"{self.rule.words} {self.rule.beyond} {self.value:g} {self.rule.unit} "
                f"for {self.for_s:g} s")


def limits_of(config: Mapping[str, Any], pack: str, where: str) -> tuple[Limit, ...]:
    """The limits that a logbook's configuration names for a pack; those of the only pack if the
    name is empty.

    Raises
    ------
    LogbookError
        If a key is unknown or a value is no limit; says what is allowed.
    """
    packs = config.get("pack", [])
    own = [each for each in packs if each.get("name", "") == pack] or packs
    if len(own) != 1:
        return ()
    found = []
    for key, value in own[0].get("alarms", {}).items():
        if key not in RULES:
            raise LogbookError(f"{where}, alarms.{key}", "no such alarm",
                               f"known: {', '.join(RULES)}")
        found += [_limit(key, each, where)
                  for each in (value if isinstance(value, list) else [value])]
    return tuple(found)


def _limit(key: str, value: Any, where: str) -> Limit:
    table = value if isinstance(value, dict) else {"limit": value}
    rule = RULES[key]
    known = {"limit": None, "for_s": rule.for_s, "band": rule.band}
    filled = known | table
    if set(filled) != set(known) or not all(_is_figure(each) for each in filled.values()):
        raise LogbookError(f"{where}, alarms.{key}", f"{value!r} is no limit",
                           "a number, or {limit = 100, for_s = 60, band = 5}")
    return Limit(key, *(float(filled[name]) for name in known))


def _is_figure(value: object) -> bool:
    return (isinstance(value, int | float) and not isinstance(value, bool)
            and math.isfinite(value))
