"""Copper conductors: sizes, areas, resistance, and a published ampacity for reference.

Sizes are written ``6 AWG`` or ``2/0 AWG`` (areas of the standard gauge), ``6 SAE`` (the smaller
areas that vehicle and marine cable of the same number may have) or ``16 mm2``.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

#: Volume resistivity of annealed copper at 20 degC, 1/58: IEC 60028:1925. [ohm mm2 / m]
COPPER_OHM_MM2_PER_M: Final = 1 / 58
#: Rise of copper's resistance, of its figure at 20 degC. [1 / K]
COPPER_PER_K: Final = 0.00393
#: Strands are longer than the cable: with this, solid copper by gauge agrees within 0.25 % with
#: the stranded figures of NEC Chapter 9 Table 8 at 75 degC.
STRAND_LAY: Final = 1.02
#: The temperature of a cable at work that sag is worked out for, as in that table. [degC]
WARM_C: Final = 75.0
MM_PER_INCH: Final = 25.4
MM2_PER_CIRCULAR_MIL: Final = math.pi / 4 * (MM_PER_INCH / 1000) ** 2

#: Areas of SAE cable by gauge number. [circular mils]
SAE_CIRCULAR_MILS: Final[Mapping[str, int]] = {
    "18": 1537, "16": 2336, "14": 3702, "12": 5833, "10": 9343, "8": 14810, "6": 24538,
    "4": 37360, "2": 62450, "1": 77790, "1/0": 98980, "2/0": 125100, "3/0": 158600,
    "4/0": 205500,
}
#: Temperature ratings of insulation that the reference knows. [degC]
InsulationC = Literal[60, 75, 80, 90, 105, 125, 200]
_RATINGS_C: Final[tuple[InsulationC, ...]] = (60, 75, 80, 90, 105, 125, 200)
#: 33 CFR 183.425 Table 5: amps at 30 degC ambient, outside engine spaces, for gasoline boats.
#: Land vehicles have no such table of their own; for reference only.
REFERENCE_AMPACITY_A: Final[Mapping[str, tuple[int, ...]]] = {
    "18": (10, 10, 15, 20, 20, 25, 25), "16": (15, 15, 20, 25, 25, 30, 35),
    "14": (20, 20, 25, 30, 35, 40, 45), "12": (25, 25, 35, 40, 45, 50, 55),
    "10": (40, 40, 50, 55, 60, 70, 70), "8": (55, 65, 70, 70, 80, 90, 100),
    "6": (80, 95, 100, 100, 120, 125, 135), "4": (105, 125, 130, 135, 160, 170, 180),
    "3": (120, 145, 150, 155, 180, 195, 210), "2": (140, 170, 175, 180, 210, 225, 240),
    "1": (165, 195, 210, 210, 245, 265, 280), "1/0": (195, 230, 245, 245, 285, 305, 325),
    "2/0": (225, 265, 285, 285, 330, 355, 370), "3/0": (260, 310, 330, 330, 385, 410, 430),
    "4/0": (300, 360, 385, 385, 445, 475, 510),
}
#: Share of it left in an engine space, at 105 degC insulation: the same regulation.
ENGINE_SPACE: Final = 0.85

Areas = Literal["AWG", "SAE", "mm2"]
_SIZE: Final = re.compile(r"(\d+(?:/0)?(?:[.,]\d+)?)\s*(AWG|SAE|mm2|mm²)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Conductor:
    """One size of stranded copper."""

    #: As it is written: ``6 AWG``.
    label: str
    area_mm2: float
    areas: Areas

    def resistance_ohm(self, length_m: float, celsius: float = WARM_C) -> float:
        """``R = 1.02 rho20 (1 + 0.00393 (T - 20)) L / A``. [ohm]"""
        return _ohm_mm2_per_m(celsius) * length_m / self.area_mm2

    @property
    def text(self) -> str:
        """In both ways: ``6 AWG (13.3 mm²)``, ``16 mm² (more than 6 AWG)``."""
        if self.areas != "mm2":
            return f"{self.label} ({self.area_mm2:.1f} mm²)"
        within = _gauge_within(self.area_mm2)
        return f"{self.label} (more than {within} AWG)" if within else self.label


def parse_size(text: str) -> Conductor:
    """A conductor as a person writes it.

    Raises
    ------
    ValueError
        If the text is no size that is known.
    """
    match = _SIZE.fullmatch(text.strip())
    if not match:
        raise ValueError(f"{text!r} is not a size; write '6 AWG', '2/0 AWG', '6 SAE' or '16 mm2'")
    number, unit = match[1].replace(",", "."), match[2].upper()
    if unit.startswith("MM"):
        area = float(number) if "/" not in number else 0.0
        if not area > 0:
            raise ValueError(f"{text!r} is not an area; write for example '16 mm2'")
        return Conductor(f"{area:g} mm²", area, "mm2")
    return by_gauge(number, "SAE" if unit == "SAE" else "AWG")


def by_gauge(number: str, areas: Areas) -> Conductor:
    """A conductor by its gauge number.

    Raises
    ------
    ValueError
        If the table has no such gauge.
    """
    if areas == "SAE":
        known: Mapping[str, object] = SAE_CIRCULAR_MILS
        area = SAE_CIRCULAR_MILS.get(number, 0) * MM2_PER_CIRCULAR_MIL
    else:
        known = REFERENCE_AMPACITY_A
        area = awg_area_mm2(number) if number in known else 0.0
    if not area:
        raise ValueError(f"no gauge {number!r}; known: {', '.join(known)}")
    return Conductor(f"{number} {areas}", area, areas)


def awg_diameter_mm(number: str) -> float:
    """``d = 0.005 in x 92^((36 - n) / 39)``, 0 for 1/0, -1 for 2/0 and so on: ASTM B258-02."""
    aughts, slash, _ = number.partition("/")
    n = 1 - int(aughts) if slash else int(aughts)
    return float(0.005 * MM_PER_INCH * 92 ** ((36 - n) / 39))


def awg_area_mm2(number: str) -> float:
    """Area of solid wire of a gauge. [mm2]"""
    return math.pi / 4 * awg_diameter_mm(number) ** 2


def area_for_sag_mm2(current_a: float, path_m: float, sag_v: float,
                     celsius: float = WARM_C) -> float:
    """The copper area at which a path loses so many volts; ``path_m`` is there and back. [mm2]"""
    return _ohm_mm2_per_m(celsius) * path_m * current_a / sag_v


def smallest_of_area(area_mm2: float, areas: Areas) -> Conductor | None:
    """The smallest gauge with at least this area; ``None`` beyond the table.

    A cable told in mm2 is answered in mm2, as its exact area.
    """
    if areas == "mm2":
        return Conductor(f"{area_mm2:.1f} mm²", area_mm2, "mm2")
    numbers = SAE_CIRCULAR_MILS if areas == "SAE" else REFERENCE_AMPACITY_A
    sizes = (by_gauge(number, areas) for number in numbers)
    return next((size for size in sizes if size.area_mm2 >= area_mm2), None)


def reference_ampacity_a(conductor: Conductor, insulation_c: InsulationC,
                         in_engine_space: bool = False) -> float:
    """Amps by 33 CFR 183.425, for reference; NaN below the table.

    A size between two gauges counts as the smaller one.
    """
    column = _RATINGS_C.index(insulation_c)
    # An SAE gauge is in the table by its number; an area by the largest gauge within it.
    number = (_gauge_within(conductor.area_mm2) if conductor.areas == "mm2"
              else conductor.label.split()[0])
    if number not in REFERENCE_AMPACITY_A:
        return math.nan
    return REFERENCE_AMPACITY_A[number][column] * (ENGINE_SPACE if in_engine_space else 1.0)


def _gauge_within(area_mm2: float) -> str:
    """The largest gauge of no more than this area; empty if there is none."""
    within = [number for number in REFERENCE_AMPACITY_A if awg_area_mm2(number) <= area_mm2]
    return within[-1] if within else ""


def _ohm_mm2_per_m(celsius: float) -> float:
    return COPPER_OHM_MM2_PER_M * STRAND_LAY * (1 + COPPER_PER_K * (celsius - 20))
