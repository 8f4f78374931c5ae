"""The figures of pack, board and vehicle that a person types once into ``logbook.toml``.

::

    [[vehicle]]            what it is, and the mass
    [[pack]]               cells and amp-hours, as the pack's label says
    [pack.limits]          what the management board allows, as its data sheet says
    [pack.alarms]          what the person wants to hear of, see ``alarm_limits``

``FIGURES`` has each with its plain words, its unit, where to find it and what can be meant; the
pages and the command that take them in read it. Other keys of the file are the person's own.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, Literal

from .alarm_limits import RULES
from .errors import LogbookError
from .note_kinds import NoteKind, in_chosen_unit, read_figure

Group = Literal["pack", "limits", "alarms", "vehicle"]
#: What a key of these tables may hold; an alarm may have several limits, each with its seconds.
Typed = float | str | list[dict[str, float]]


@dataclass(frozen=True, slots=True)
class TypedFigure:
    """One figure that can be typed, or one word of several."""

    group: Group
    key: str
    words: str
    unit: str
    #: Lowest and highest that can be meant of a small vehicle. Chosen here: wide enough for any,
    #: narrow enough to catch a slip of the point or a wrong unit.
    plausible: tuple[float, float]
    #: Where a person finds it.
    found: str
    #: What rests on it; empty where nothing but completeness does.
    serves: str = ""
    #: The words it can be, each with what it means; empty for a figure.
    choices: Mapping[str, str] = field(default_factory=dict)

    @property
    def is_count(self) -> bool:
        return self.unit == "cells"


_AMPS, _CELL, _PACK_V = (0.5, 3000.0), (1.0, 5.0), (5.0, 1000.0)
_WARM = (-40.0, 120.0)
#: Alarm -> what can be meant, and what to type.
_ALARMS: Final[Mapping[str, tuple[tuple[float, float], str]]] = {
    "out_a": (_AMPS, "just below what the board allows; for two limits 100 for 60 s; 200 for 3 s"),
    "in_a": (_AMPS, "just below what the board lets in; braking counts too"),
    "cell_low_v": (_CELL, "just above where the board opens the path"),
    "cell_high_v": (_CELL, "just above where the board should stop a charge"),
    "voltage_low_v": (_PACK_V, "where the monitor tells no cells: cells times their lowest volts"),
    "voltage_high_v": (_PACK_V, "where the monitor tells no cells: cells times their highest "
                                "volts"),
    "temp_high_c": (_WARM, "below what the pack's data sheet allows while it gives amps"),
    "temp_low_c": (_WARM, "what the pack's data sheet allows while it gives amps"),
    "cold_charging_c": ((-40.0, 30.0), "the lowest temperature for charging on the pack's data "
                                       "sheet"),
    "soc_low_pct": ((1.0, 99.0), "where you want to turn back"),
}
#: Digits that no label exceeds; more come from converting a unit alone.
_DIGITS: Final = 6
#: Units that people choose: told no finer than a tenth.
_CONVERTED: Final = ("kg", "°C")
_SHEET: Final = "the board's data sheet"
WHEELS, BOAT, HOUSE = "wheels", "boat", "house"
#: Kinds of vehicle, each with what is meant by it.
VEHICLE_KINDS: Final[Mapping[str, str]] = {
    WHEELS: "it drives on land", BOAT: "a propeller drives it",
    HOUSE: "its pack drives nothing, such as a camper's or a shed's"}

FIGURES: Final = (
    TypedFigure("pack", "rated_ah", "rated amp-hours", "Ah", (1.0, 3000.0),
                "on the pack's label", "hours and distance left, full cycles, when 80 % is left"),
    TypedFigure("pack", "cells", "cells in series", "cells", (1.0, 300.0),
                "count them, or ask the seller; the monitor's list of cells has as many",
                "what the parts must stand at the end of a charge"),
    TypedFigure("pack", "warranted_pct", "warranted percent of the rating", "%", (1.0, 100.0),
                "the warranty's paper", "whether the pack has fallen below its warranty"),
    TypedFigure("limits", "continuous_a", "continuous amps out", "A", _AMPS,
                f"{_SHEET}: continuous discharge", "whether your drives asked for more"),
    TypedFigure("limits", "peak_a", "peak amps out", "A", _AMPS,
                f"{_SHEET}: peak discharge, or over-current", "what a cut-out was"),
    TypedFigure("limits", "peak_s", "seconds of that peak", "s", (0.001, 600.0),
                f"{_SHEET}, beside the peak", "what a cut-out was"),
    TypedFigure("limits", "charge_a", "continuous amps in", "A", _AMPS,
                f"{_SHEET}: continuous charge", "whether charger or braking asked for more"),
    TypedFigure("limits", "charge_peak_a", "peak amps in", "A", _AMPS,
                f"{_SHEET}: peak charge", "whether braking asked for more"),
    TypedFigure("limits", "cell_low_v", "lowest volts of a cell", "V", _CELL,
                f"{_SHEET}: under-voltage of one cell", "what a cut-out was"),
    TypedFigure("limits", "cell_high_v", "highest volts of a cell", "V", _CELL,
                f"{_SHEET}: over-voltage of one cell", "who stopped a fill"),
    TypedFigure("limits", "charge_min_c", "lowest temperature for charging", "°C", (-40.0, 30.0),
                f"{_SHEET}, or the pack's", "whether frost stopped a fill"),
    TypedFigure("limits", "bleed_a", "amps bled from one cell", "A", (0.001, 20.0),
                f"{_SHEET}: balancing current; 60 mA are 0.06", "hours until the cells are even"),
    *(TypedFigure("alarms", key, f"{rule.words} {rule.beyond}", rule.unit, *_ALARMS[key])
      for key, rule in RULES.items()),
    TypedFigure("vehicle", "kind", "kind of vehicle", "", (0.0, 0.0),
                f"by what its pack drives: {', '.join(VEHICLE_KINDS)}",
                "which words prompts and checks use, and what is asked of the way",
                VEHICLE_KINDS),
    TypedFigure("vehicle", "mass_kg", "mass with driver, without load", "kg", (20.0, 30000.0),
                "a weighbridge; or the maker's plate with pack and driver added",
                "what a climb or a load costs"),
)
#: Of two keys of a group the first is at most the second.
_ORDER: Final[Mapping[Group, tuple[tuple[str, str], ...]]] = {
    "limits": (("continuous_a", "peak_a"), ("charge_a", "charge_peak_a"),
               ("cell_low_v", "cell_high_v")),
    "alarms": (("cell_low_v", "cell_high_v"), ("voltage_low_v", "voltage_high_v"),
               ("temp_low_c", "temp_high_c")),
}


def figures_of(group: Group) -> tuple[TypedFigure, ...]:
    """The figures of a table, the most asked for first."""
    return tuple(figure for figure in FIGURES if figure.group == group)


def read_typed(figure: TypedFigure, typed: str, units: Mapping[str, str]) -> Typed:
    """A figure as typed: ``105``, ``60 mA``, ``1146 lb``; of an alarm also ``100 for 60 s``; of
    several words one.

    Parameters
    ----------
    units
        ``temperature``, ``mass``: how a figure without its unit is meant.

    Raises
    ------
    LogbookError
        If it is no figure, or none that can be meant; says what is allowed.
    """
    if figure.choices:
        return _chosen(figure, typed)
    if figure.group != "alarms":
        return _read(figure, typed, units)
    entries = [_alarm(figure, part, units) for part in re.split(r";|\band\b", typed)]
    return entries[0]["limit"] if [*entries[0]] == ["limit"] and len(entries) == 1 else entries


def _chosen(figure: TypedFigure, typed: str) -> str:
    word = typed.strip().lower()
    if word not in figure.choices:
        raise LogbookError(figure.words, f"{typed!r} is none",
                           f"type {', '.join(figure.choices)}")
    return word


def _alarm(figure: TypedFigure, typed: str, units: Mapping[str, str]) -> dict[str, float]:
    limit, _, seconds = typed.partition(" for ")
    entry = {"limit": _read(figure, limit, units)}
    if seconds:
        entry["for_s"] = _read(_SECONDS, seconds, units)
    return entry


_SECONDS: Final = TypedFigure("alarms", "for_s", "for so long", "s", (0.0, 86400.0), "")


def _read(figure: TypedFigure, typed: str, units: Mapping[str, str]) -> float:
    try:
        value = read_figure(NoteKind(figure.words, figure.words, figure.unit), typed, units)
    except ValueError as error:
        raise LogbookError(figure.words, str(error)) from None
    value = float(f"{value:.{_DIGITS}g}")
    low, high = figure.plausible
    if not low <= value <= high:
        raise LogbookError(figure.words, f"{told(figure, value, units)} is hardly meant",
                           f"{told(figure, low, units)} to {told(figure, high, units)} is taken")
    if figure.is_count and not value.is_integer():
        raise LogbookError(figure.words, f"{typed!r} is no whole number", "count them")
    return value


def check_order(group: Group, table: Mapping[str, Any], units: Mapping[str, str]) -> None:
    """Raises ``LogbookError`` if two figures of a table contradict each other."""
    known = {figure.key: figure for figure in figures_of(group)}
    for less, more in _ORDER.get(group, ()):
        lows, highs = (list(_limits(table.get(key))) for key in (less, more))
        if lows and highs and max(lows) > min(highs):
            raise LogbookError(
                known[less].words, f"{told(known[less], max(lows), units)} is more than "
                f"{known[more].words}, {told(known[more], min(highs), units)}", "look again")


def _limits(value: object) -> Iterator[float]:
    for each in value if isinstance(value, list) else [value]:
        found = each.get("limit") if isinstance(each, dict) else each
        if isinstance(found, int | float) and not isinstance(found, bool):
            yield float(found)


def told(figure: TypedFigure, value: object, units: Mapping[str, str]) -> str:
    """A value as a person would type it: ``105 Ah``, ``41 °F``, ``100 A for 60 s; 200 A``.

    What is no figure of ours is told as it stands in the file; ``None`` is empty.
    """
    if isinstance(value, Sequence) and not isinstance(value, str):
        return "; ".join(told(figure, each, units) for each in value)
    if isinstance(value, Mapping) and "limit" in value:
        seconds = value.get("for_s")
        return told(figure, value["limit"], units) + (
            f" for {seconds:g} s" if isinstance(seconds, int | float) else "")
    if isinstance(value, bool) or not isinstance(value, int | float):
        return "" if value is None else str(value)
    number, unit = in_chosen_unit(float(value), figure.unit, units)
    return f"{round(number, 1) if figure.unit in _CONVERTED else number:.12g} {unit}"
