"""Distances and what they cost, in the units of the person who asks."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Final, overload

from analysis.estimate import Answer, Estimate, NoEstimate

from .quantities import MILE_M, Units, length_factor, number, unbroken

KM_M: Final = 1000.0
_PACE: Final = re.compile(r"(\d+(?:\.\d+)?) km/h")


def length_m(units: Units) -> float:
    """One kilometre or one mile. [m]"""
    return MILE_M if units.distance == "mi" else KM_M


def speed_unit(units: Units) -> str:
    return "mph" if units.distance == "mi" else "km/h"


@overload
def way(answer: Estimate, units: Units) -> Estimate: ...
@overload
def way(answer: Answer, units: Units) -> Answer: ...
def way(answer: Answer, units: Units) -> Answer:
    """Kilometres as kilometres or miles; any other unit stays, reasons are in the person's."""
    if isinstance(answer, NoEstimate):
        return in_words(answer, units)
    if answer.unit != "km":
        return answer
    return answer.scaled(KM_M / length_m(units), units.distance)


@overload
def per_way(answer: Estimate, units: Units) -> Estimate: ...
@overload
def per_way(answer: Answer, units: Units) -> Answer: ...
def per_way(answer: Answer, units: Units) -> Answer:
    """Energy or percent for each kilometre as the person has it.

    The other way round, distance for energy, only where the interval holds no zero.
    """
    if isinstance(answer, NoEstimate):
        return in_words(answer, units)
    if not answer.unit.endswith("/km"):
        return answer
    counted = answer.unit.removesuffix("/km")
    if counted != "Wh":
        return answer.scaled(length_m(units) / KM_M, f"{counted}/{units.distance}")
    wh = answer.scaled(length_factor(units), units.per)
    if units.per != "mi/kWh":
        return wh
    if wh.low <= 0:
        return replace(wh, unit="Wh/mi")
    return Estimate(1000 / wh.value, 1000 / wh.high, 1000 / wh.low, "mi/kWh", wh.coverage)


def in_words(missing: NoEstimate, units: Units) -> NoEstimate:
    """Why there is no answer, with its speeds in the person's unit."""
    def told(text: str) -> str:
        if units.distance == "mi":
            text = _PACE.sub(lambda found: f"{number(float(found[1]) * KM_M / MILE_M, 0)} mph",
                             text)
        return unbroken(text)

    return NoEstimate(told(missing.reason), told(missing.next))
