"""A pre-charge resistor: how long to wait, what it takes, what it drains."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from .cautions import CAPACITORS
from .pack import PackFigures
from .verdict import Check, Judged, check, unknown

#: The capacitors are to hold this share of the pack's volts before the contactor closes.
CHARGED_SHARE: Final = 0.95


@dataclass(frozen=True, slots=True)
class Precharge:
    """A resistor across the contactor and the capacitors behind it."""

    name: str
    resistance_ohm: float
    capacitance_mf: float | None = None
    #: How long the vehicle waits before it closes. [s]
    wait_s: float | None = None
    rating_w: float | None = None
    #: Across the contactor for good, so that it carries amps whenever the far side is empty.
    is_permanent: bool = True


def time_to_share_s(resistance_ohm: float, capacitance_f: float, share: float) -> float:
    """``t = -R C ln(1 - share)``; 0.95 takes three time constants. [s]"""
    return -resistance_ohm * capacitance_f * math.log(1 - share)


def share_after(resistance_ohm: float, capacitance_f: float, wait_s: float) -> float:
    """``1 - exp(-t / R C)``"""
    return -math.expm1(-wait_s / (resistance_ohm * capacitance_f))


def judge_precharge(part: Precharge, pack: PackFigures) -> Judged:
    """Wait and watts at the pack's highest volts."""
    return Judged("precharge", part.name, (_wait(part, pack), _watts(part, pack)), (CAPACITORS,),
                  if_no="change it")


def _wait(part: Precharge, pack: PackFigures) -> Check:
    question = "Are the capacitors charged before the contactor closes?"
    if part.capacitance_mf is None:
        return unknown(question, "the controller's capacitance is not known",
                       "time its volts with a meter: three fifths are reached after R x C")
    farad = part.capacitance_mf / 1000
    needed_s = time_to_share_s(part.resistance_ohm, farad, CHARGED_SHARE)
    lines = (f"R x C = {part.resistance_ohm:g} Ω x {part.capacitance_mf:g} mF = "
             f"{part.resistance_ohm * farad:.1f} s",
             f"95 % after 3.0 x R x C = {needed_s:.1f} s",
             f"they take ½ C V² = {farad * pack.highest_v.value**2 / 2:.1f} J")
    if part.wait_s is None:
        return Check(question, "cannot tell yet", lines, "type wait_s: key on to contactor closed")
    left_v = pack.highest_v.value * (1 - share_after(part.resistance_ohm, farad, part.wait_s))
    return check(question, part.wait_s >= needed_s, (
        *lines, f"it waits {part.wait_s:g} s: {left_v:.1f} V are left across the contacts"),
        f"a wait of {needed_s:.0f} s, or a smaller resistor that stands the watts")


def _watts(part: Precharge, pack: PackFigures) -> Check:
    question = "Does the resistor stand its watts?"
    volts = pack.highest_v.value
    watts, amps = volts**2 / part.resistance_ohm, volts / part.resistance_ohm
    lines = (f"V² / R = ({volts:.1f} V)² / {part.resistance_ohm:g} Ω = {watts:.1f} W and "
             f"{1000 * amps:.0f} mA while the far side is empty or shorted",)
    if part.rating_w is None:
        return Check(question, "cannot tell yet", lines, "read its watts and type rating_w")
    if part.is_permanent:
        return check(question, part.rating_w >= watts, (
            *lines, f"rated {part.rating_w:g} W; it is there for good, so it must stand them"),
            f"{2 * watts:.0f} W, twice the figure, mounted clear of anything that burns")
    return check(question, True if part.rating_w >= watts else None, (
        *lines, f"rated {part.rating_w:g} W; it is switched, so they last some seconds"),
        "its maker's figure for a short pulse")
