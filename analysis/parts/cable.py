"""A cable: what it loses both ways, the heat in it, and a published ampacity for reference."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from .cautions import BARE_HANDS
from .conductor import (
    REFERENCE_AMPACITY_A,
    WARM_C,
    Conductor,
    InsulationC,
    area_for_sag_mm2,
    by_gauge,
    reference_ampacity_a,
    smallest_of_area,
)
from .pack import Figure, PackFigures
from .verdict import Check, Judged, check, unknown

#: Sag allowed to circuits that matter and to others: boat practice. [%]
CRITICAL_SAG_PCT: Final = 3.0
OTHER_SAG_PCT: Final = 10.0

_SAG: Final = "Does it lose no more volts than usual practice allows?"
_AMPACITY: Final = "Is its load within the published reference?"


@dataclass(frozen=True, slots=True)
class Cable:
    """A cable as typed; ``length_m`` is one way."""

    name: str
    size: Conductor
    length_m: float
    insulation_c: InsulationC | None = None
    #: True for the way from pack to motor control; False for lamps and the like.
    is_critical: bool = True
    in_engine_space: bool = False
    #: Amps that it carries, where they are not the pack's. [A]
    load_a: float | None = None
    #: Its volts, where they are not the pack's: 12 behind a converter. [V]
    circuit_v: float | None = None

    @property
    def ampacity_a(self) -> float | None:
        """By the reference; ``None`` if the insulation is not known or the size too small."""
        if self.insulation_c is None:
            return None
        amps = reference_ampacity_a(self.size, self.insulation_c, self.in_engine_space)
        return None if math.isnan(amps) else amps

    def sag_v(self, current_a: float) -> float:
        """``V = 2 L I R``, both ways, warm. [V]"""
        return current_a * self.size.resistance_ohm(2 * self.length_m)

    def heat_w(self, current_rms_a: float) -> float:
        """``I^2 R``, both ways, warm. [W]"""
        return current_rms_a**2 * self.size.resistance_ohm(2 * self.length_m)


def judge_cable(cable: Cable, pack: PackFigures) -> Judged:
    """Sag at the worst 10 s, heat and ampacity at the worst 10 min."""
    return Judged("cable", cable.name, (_sag(cable, pack), _ampacity(cable, pack)), (BARE_HANDS,))


def _load(cable: Cable, measured: Figure | None) -> Figure | None:
    return measured if cable.load_a is None else Figure(cable.load_a, "A", "typed", cable.name)


def _sag(cable: Cable, pack: PackFigures) -> Check:
    amps = _load(cable, pack.rms_10_s_a)
    allowed_pct = CRITICAL_SAG_PCT if cable.is_critical else OTHER_SAG_PCT
    circuit_v = cable.circuit_v or pack.nominal_v.value
    allowed_v = allowed_pct / 100 * circuit_v
    path_m = 2 * cable.length_m
    ohm = cable.size.resistance_ohm(path_m)
    copper = (f"{cable.size.text}, {cable.length_m:g} m there and as much back: "
              f"{1000 * ohm:.2f} mΩ at {WARM_C:.0f} °C")
    if amps is None:
        return Check(_SAG, "cannot tell yet", (
            copper, f"usual on boats: at most {allowed_pct:g} % of {circuit_v:.1f} V, which is "
            f"reached at {allowed_v / ohm:.0f} A", "the worst amps of 10 s are not known"),
            "log a drive, or type rms_10_s_a")
    sag_v = cable.sag_v(amps.value)
    needed = area_for_sag_mm2(amps.value, path_m, allowed_v)
    return check(_SAG, sag_v <= allowed_v, (
        copper, f"worst 10 s: {amps.text} x {1000 * ohm:.2f} mΩ = {sag_v:.2f} V",
        f"{sag_v:.2f} V / {circuit_v:.1f} V = {100 * sag_v / circuit_v:.1f} %; usual on boats: "
        f"at most {allowed_pct:g} %"),
        f"{_size(needed, cable)} or more, or a shorter way")


def _ampacity(cable: Cable, pack: PackFigures) -> Check:
    amps = _load(cable, pack.rms_10_min_a)
    if amps is None:
        return unknown(_AMPACITY, "the worst amps of 10 min are not known",
                       "log a drive, or type rms_10_min_a")
    heat_w = cable.heat_w(amps.value)
    heat = (f"worst 10 min: {amps.text}; heat {heat_w:.1f} W, "
            f"{heat_w / (2 * cable.length_m):.1f} W a metre of cable")
    limit = cable.ampacity_a
    if limit is None:
        return Check(_AMPACITY, "cannot tell yet", (heat, "the insulation's rating is not known, "
                                                    "or the size is below the reference"),
                     "read the rating off the jacket and type insulation_c")
    space = ", in an engine space" if cable.in_engine_space else ""
    return check(_AMPACITY, amps.value <= limit, (
        heat, f"reference (33 CFR 183.425, boats, 30 °C, {cable.insulation_c} °C insulation"
        f"{space}): {limit:.0f} A",
        "for reference only: bundles, heat and local code change it"),
        f"{_for_amps(amps.value, cable)}, or fewer amps")


def _size(area_mm2: float, cable: Cable) -> str:
    found = smallest_of_area(area_mm2, cable.size.areas)
    return found.text if found else f"{area_mm2:.0f} mm²"


def _for_amps(current_a: float, cable: Cable) -> str:
    """The smallest gauge whose reference carries the amps."""
    rating_c = cable.insulation_c
    if rating_c is not None:
        for number in REFERENCE_AMPACITY_A:
            size = by_gauge(number, "AWG")
            if reference_ampacity_a(size, rating_c, cable.in_engine_space) >= current_a:
                return f"{size.text} or more"
    return "several cables in parallel, laid out by someone qualified"
