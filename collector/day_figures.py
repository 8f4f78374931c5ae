"""A day as somebody read it off the display in the evening: words, and the figures in them.

::

    52.4 Ah out, 53 Ah in, 2.71 kWh out, 9.5 km, 41 to 100 %
    18 Ah out, 3.5 h, 60 to 100 %
    out 52 Ah; 6 mi; low 41 %; full
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final

#: The kind of note that holds them.
DAY: Final = "day"
WAYS: Final = ("'52 Ah out', '53 Ah in', '2.7 kWh out', '9.5 km' or '6 mi', '3.5 h', "
               "'41 to 100 %', 'low 41 %', 'full'; put a comma and a space between them")
_NAN: Final = math.nan
_FIGURE: Final = r"(\d+(?:\.\d+|,\d{1,2})?)"
_FLOW: Final = re.compile(rf"{_FIGURE}\s*(ah|wh|kwh)\s*(in|out)", re.IGNORECASE)
_FLOW_FIRST: Final = re.compile(rf"(in|out)\s*{_FIGURE}\s*(ah|wh|kwh)", re.IGNORECASE)
_AMOUNT: Final = re.compile(rf"{_FIGURE}\s*(km|m|mi|miles|h|hours)", re.IGNORECASE)
_PERCENT: Final = re.compile(rf"{_FIGURE}\s*%?\s*(?:to|-|–|…)\s*{_FIGURE}\s*%")
_END: Final = re.compile(rf"(low|high)\s*{_FIGURE}\s*%", re.IGNORECASE)
_BETWEEN: Final = re.compile(r"\s*(?:;|,\s)\s*")
#: Typed unit -> field, and factor to the field's unit. The mile as in NIST SP 811, appendix B.8.
_FIELDS: Final = {
    "ah out": ("out_ah", 1.0), "ah in": ("in_ah", 1.0),
    "wh out": ("out_wh", 1.0), "kwh out": ("out_wh", 1000.0),
    "km": ("distance_m", 1000.0), "m": ("distance_m", 1.0), "mi": ("distance_m", 1609.344),
    "miles": ("distance_m", 1609.344), "h": ("used_h", 1.0), "hours": ("used_h", 1.0)}


@dataclass(frozen=True, slots=True)
class DayFigures:
    """One day by its display. NaN where nothing was read."""

    out_ah: float = _NAN
    in_ah: float = _NAN
    out_wh: float = _NAN
    distance_m: float = _NAN
    used_h: float = _NAN
    low_pct: float = _NAN
    high_pct: float = _NAN


def read_day(text: str) -> DayFigures:
    """The figures of a day's words.

    Raises
    ------
    ValueError
        If a part cannot be read, or comes twice; says what can.
    """
    found: dict[str, float] = {}
    for part in filter(None, _BETWEEN.split(text.strip().rstrip(".;,"))):
        figures = _figures(part)
        if not figures:
            raise ValueError(f"{part!r} is no figure of a day; such as {WAYS}")
        if found.keys() & figures.keys():
            raise ValueError(f"{part!r} tells once more what is told already")
        found |= figures
    if not found:
        raise ValueError(f"no figure of a day; such as {WAYS}")
    return DayFigures(**found)


def _figures(part: str) -> dict[str, float]:
    if part.lower() == "full":
        return {"high_pct": 100.0}
    if ends := _PERCENT.fullmatch(part):
        low, high = sorted(map(_number, ends.groups()))
        return {"low_pct": low, "high_pct": high} if high <= 100 else {}
    if end := _END.fullmatch(part):
        return {f"{end[1].lower()}_pct": _number(end[2])} if _number(end[2]) <= 100 else {}
    if flow := _FLOW.fullmatch(part):
        figure, unit = flow[1], f"{flow[2]} {flow[3]}"
    elif flow := _FLOW_FIRST.fullmatch(part):
        figure, unit = flow[2], f"{flow[3]} {flow[1]}"
    elif amount := _AMOUNT.fullmatch(part):
        figure, unit = amount[1], amount[2]
    else:
        return {}
    name, factor = _FIELDS.get(unit.lower(), ("", 0.0))
    return {name: _number(figure) * factor} if name else {}


def _number(text: str) -> float:
    return float(text.replace(",", "."))
