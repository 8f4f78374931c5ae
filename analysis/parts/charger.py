"""A charger: end volts, profile, amps, hours."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from .cautions import FROST
from .pack import PackFigures
from .verdict import Check, Judged, check, unknown

#: A cell of iron phosphate hardly fills below this end volts; common practice, no source. [V]
FILLS_FROM_CELL_V: Final = 3.45
#: Amp-hours out of iron phosphate for those put in; common practice, no source.
CHARGE_EFFICIENCY: Final = 0.99


@dataclass(frozen=True, slots=True)
class Charger:
    """A charger as typed."""

    name: str
    end_v: float
    current_a: float
    #: Whether its profile has an equalise or desulphate stage that cannot be switched off.
    equalises: bool | None = None


def hours_to_fill(capacity_ah: float, current_a: float) -> float:
    """``Q / (0.99 I)``: at the least, for the tail is slower. [h]"""
    return capacity_ah / (CHARGE_EFFICIENCY * current_a)


def judge_charger(charger: Charger, pack: PackFigures) -> Judged:
    """End volts both ways, profile, amps against the board's limit."""
    return Judged("charger", charger.name, (
        _not_too_high(charger, pack), _fills(charger, pack), _profile(charger),
        _amps(charger, pack)), (FROST,), if_no="change its setting, or replace")


def _not_too_high(charger: Charger, pack: PackFigures) -> Check:
    limit = pack.charge_end_v
    return check("Does it end no higher than the pack may?", charger.end_v <= limit.value, (
        f"{charger.end_v:.1f} V / {pack.cells} cells = {charger.end_v / pack.cells:.2f} V a cell; "
        f"the pack's charge end {limit.text}",), f"an end of {limit.value:.1f} V at most")


def _fills(charger: Charger, pack: PackFigures) -> Check:
    low_v = pack.cells * FILLS_FROM_CELL_V
    question = "Does it end high enough to fill and level the cells?"
    return check(question, charger.end_v >= low_v - 1e-9, (
        f"{charger.end_v:.1f} V; {pack.cells} cells x {FILLS_FROM_CELL_V:.2f} V = {low_v:.1f} V "
        "(common practice; the pack's maker rules)",), f"an end between {low_v:.1f} V and the "
        "pack's charge end")


def _profile(charger: Charger) -> Check:
    question = "Is its profile free of an equalise stage?"
    if charger.equalises is None:
        return unknown(question, "not typed", "look for equalise or desulphate in its manual")
    words = "it equalises, as lead acid wants" if charger.equalises else "no equalise stage"
    return check(question, not charger.equalises, (words,),
                 "a profile for iron phosphate, or the stage switched off for good")


def _amps(charger: Charger, pack: PackFigures) -> Check:
    question = "Does the board take its amps?"
    hours = () if pack.capacity_ah is None else (
        f"{pack.capacity_ah.value:.0f} Ah / {charger.current_a:g} A: "
        f"{hours_to_fill(pack.capacity_ah.value, charger.current_a):.1f} h at least, and the tail",)
    if pack.charge_max_a is None:
        return Check(question, "cannot tell yet",
                     (*hours, "what the board lets in is not known"), "type charge_max_a")
    limit = pack.charge_max_a
    return check(question, charger.current_a <= limit.value,
                 (*hours, f"{charger.current_a:g} A; the board lets in {limit.text}"),
                 f"{limit.value:.0f} A or less")
