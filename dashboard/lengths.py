"""Distances and what they cost, in the units of the person who asks."""

from __future__ import annotations

from dataclasses import replace
from typing import Final, overload

from analysis.estimate import Answer, Estimate, NoEstimate

from .quantities import MILE_M, Units, length_factor, scale
from .wording import in_words

KM_M: Final = 1000.0


def length_m(units: Units) -> float:
    """One kilometre or one mile. [m]"""
    return MILE_M if units.distance == "mi" else KM_M


def speed_unit(units: Units) -> str:
    return scale("km/h", units).unit


@overload
def way(answer: Estimate, units: Units) -> Estimate: ...
@overload
def way(answer: Answer, units: Units) -> Answer: ...
def way(answer: Answer, units: Units) -> Answer:
    """A size, such as kilometres, in the person's unit, and so the reason why there is none.

    A temperature stays: its interval has no zero to be scaled from.
    """
    if isinstance(answer, NoEstimate):
        return in_words(answer, units)
    told = scale(answer.unit, units)
    return answer if told.offset else answer.scaled(told.factor, told.unit)


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
