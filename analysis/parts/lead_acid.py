"""A lead-acid bank: capacity at a draw, rest volts, the gas of its charge."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from .peukert import OneAmpCapacity, RatedCapacity, exponent_of

#: Percent of charge and volts of a rested 12 V block at 26.7 degC: a table printed by the trade,
#: read second-hand. Another one differs by 0.2 V at empty, so never better than 10 points.
REST_BLOCK_V: Final = ((0.0, 11.89), (25.0, 12.06), (50.0, 12.24), (75.0, 12.45), (100.0, 12.65))
BLOCK_CELLS: Final = 6
#: Peukert exponents: lowest, usual, highest of ranges that published pages disagree in.
EXPONENTS: Final = {"flooded": (1.10, 1.25, 1.60), "AGM": (1.05, 1.10, 1.15),
                    "gel": (1.10, 1.15, 1.25)}
#: Beyond these a capacity was mistyped; chosen here.
EXPONENT_MIN, EXPONENT_MAX = 1.0, 2.0
#: Of the capacity, without wearing the bank out; common practice, no source. [%]
LEAD_USABLE_PCT: Final = 50.0
#: Hydrogen of a charge that only gasses, as a secondary page quotes IEEE 484: 0.000269 cubic feet
#: a minute for each amp and cell. [m3/h]
HYDROGEN_M3_PER_H: Final = 0.000269 * 60 * 0.3048**3
#: IEEE 485's temperature factor of the bank that a load needs, by the cubic printed with it (read
#: second-hand; that its variable is a hundredth of the degC was found from its table).
COLD_CUBIC: Final = (-2.8117, 4.1916, -2.4941, 1.405)
#: Where that table ends. [degC]
COLD_RANGE_C: Final = (-3.9, 51.7)


@dataclass(frozen=True, slots=True)
class LeadBank:
    """The bank that was, or that could be, as typed.

    Its capacity in one of two conventions, never both: ``rated_ah`` over ``rated_h`` hours, or
    ``one_amp_ah``.
    """

    cells: int
    kind: Literal["flooded", "AGM", "gel"] = "flooded"
    rated_ah: float | None = None
    rated_h: float | None = None
    one_amp_ah: float | None = None
    #: A second stated capacity, from which the exponent follows.
    second_ah: float | None = None
    second_h: float | None = None
    exponent: float | None = None
    mass_kg: float | None = None
    usable_pct: float = LEAD_USABLE_PCT
    #: While it charges, for the air it needs. [A]
    charge_a: float | None = None

    def __post_init__(self) -> None:
        is_rated = self.rated_ah is not None and self.rated_h is not None
        is_one_amp = self.one_amp_ah is not None
        is_mixed = is_one_amp and not (self.rated_ah is None and self.rated_h is None)
        if is_rated == is_one_amp or is_mixed:
            raise ValueError("type rated_ah with rated_h, or one_amp_ah alone; the two "
                             "conventions of Peukert's law do not mix")
        if self.second_ah is not None and not (self.second_h and is_rated):
            raise ValueError("second_ah needs second_h, rated_ah and rated_h")
        exponents, origin = self.exponents()
        if not all(EXPONENT_MIN <= k <= EXPONENT_MAX for k in exponents):
            raise ValueError(f"an exponent of {exponents[1]:.2f} ({origin}); usual are 1.05 to "
                             f"1.6, allowed {EXPONENT_MIN:g} to {EXPONENT_MAX:g}")

    def exponents(self) -> tuple[tuple[float, float, float], str]:
        """Lowest, usual and highest exponent, and where they come from."""
        if self.exponent is not None:
            return (self.exponent,) * 3, "typed"
        if self.second_ah and self.second_h and self.rated_ah and self.rated_h:
            found = exponent_of(self.rated_ah, self.rated_h, self.second_ah, self.second_h)
            return (found,) * 3, (f"from {self.rated_ah:g} Ah in {self.rated_h:g} h and "
                                  f"{self.second_ah:g} Ah in {self.second_h:g} h")
        return EXPONENTS[self.kind], f"published for {self.kind}, which disagree"

    def law(self, exponent: float) -> OneAmpCapacity | RatedCapacity:
        """Peukert's law in the convention that was typed."""
        if self.rated_ah is not None and self.rated_h is not None:
            return RatedCapacity(self.rated_ah, self.rated_h, exponent)
        return OneAmpCapacity(self.one_amp_ah or math.nan, exponent)


def lead_rest_cell_v(percent: float) -> float:
    """Volts of a rested lead cell, straight between the table's points. [V]"""
    pct, volts = zip(*REST_BLOCK_V, strict=True)
    return float(np.interp(percent, pct, volts)) / BLOCK_CELLS


def lead_cold_share(celsius: float) -> float:
    """Part of its capacity at 25 degC that a lead bank gives; 1 over IEEE 485's factor.

    Outside the range of the standard's table the share of its nearest end.
    """
    return 1 / float(np.polyval(COLD_CUBIC, np.clip(celsius, *COLD_RANGE_C) / 100))


def hydrogen_m3_per_h(charge_a: float, cells: int) -> float:
    """Hydrogen while every amp gasses: the most there can be. [m3/h]"""
    return HYDROGEN_M3_PER_H * charge_a * cells
