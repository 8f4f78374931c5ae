"""The coil of a solenoid or contactor: heat at the pack's volts, and whether it still pulls in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from .cautions import CONTACTS
from .pack import PackFigures
from .verdict import Check, Judged, check, unknown

#: A coil takes this much over its marking in the long run; common practice, no source.
OVER_SHARE: Final = 1.1


@dataclass(frozen=True, slots=True)
class Coil:
    """A coil as typed."""

    name: str
    marked_v: float
    #: Measured across the coil, cold. [ohm]
    resistance_ohm: float | None = None
    #: What its maker allows in the long run. [V]
    max_v: float | None = None
    #: What its maker says it needs to pull in. [V]
    pull_in_v: float | None = None


def power_ratio(volts: float, marked_v: float) -> float:
    """``(V / V_marked)^2``: heat against the heat it was made for, at the same ohms."""
    return (volts / marked_v) ** 2


def dropping_resistor(volts: float, marked_v: float, coil_ohm: float) -> tuple[float, float]:
    """The resistor in series that leaves the coil its marked volts. [ohm], and its heat [W]"""
    amps = marked_v / coil_ohm
    return (volts - marked_v) / amps, (volts - marked_v) * amps


def judge_coil(coil: Coil, pack: PackFigures) -> Judged:
    """Heat at the full pack, pull-in at the lowest volts."""
    checks = [_heat(coil, pack)]
    if coil.pull_in_v is not None:
        checks.append(_pull_in(coil.pull_in_v, pack))
    return Judged("coil", coil.name, tuple(checks), (CONTACTS,))


def _heat(coil: Coil, pack: PackFigures) -> Check:
    limit_v = coil.max_v or OVER_SHARE * coil.marked_v
    told = "allowed by its maker" if coil.max_v else "110 % of the marking, as usual"
    full, highest = pack.full_rest_v, pack.highest_v
    lines = [f"({volts:.1f} V / {coil.marked_v:g} V)² = {power_ratio(volts, coil.marked_v):.1f} "
             f"times its heat, {when}" for volts, when in (
                 (full.value, "pack full and resting"), (highest.value, "while charging ends"))]
    if coil.resistance_ohm is not None:
        lines.append(f"{full.value:.1f} V² / {coil.resistance_ohm:g} Ω = "
                     f"{full.value**2 / coil.resistance_ohm:.0f} W instead of "
                     f"{coil.marked_v**2 / coil.resistance_ohm:.0f} W")
    lines.append(f"allowed: {limit_v:.1f} V ({told})")
    # It may be pulled in while the pack is charged, so the highest volts count.
    return check("Does the coil stand the pack's volts?", highest.value <= limit_v, tuple(lines),
                 f"a coil marked for the pack: {full.value:.0f} V with {highest.value:.1f} V "
                 f"allowed{_resistor(coil, full.value)}")


def _resistor(coil: Coil, volts: float) -> str:
    if coil.resistance_ohm is None or volts <= coil.marked_v:
        return "; measure its ohms for a resistor in series"
    ohm, watts = dropping_resistor(volts, coil.marked_v, coil.resistance_ohm)
    return (f"; or, if its maker agrees, {ohm:.0f} Ω in series, {watts:.0f} W in it (rated for "
            "twice that)")


def _pull_in(pull_in_v: float, pack: PackFigures) -> Check:
    question = "Does it pull in when the pack is low?"
    if pack.lowest_v is None:
        return unknown(question, "the lowest volts are not known", "log drives, or type lowest_v")
    return check(question, pack.lowest_v.value >= pull_in_v, (
        f"needs {pull_in_v:g} V; lowest {pack.lowest_v.text}",),
        "a coil that pulls in lower: a weak pull chatters and burns the contacts")
