"""Peukert's law in its two conventions, kept apart: they share a letter and not a capacity.

Good for one constant rate at one temperature; not for loads that come and go.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class OneAmpCapacity:
    """``t = C_p / I^k``, with ``C_p`` the capacity at one amp."""

    one_amp_ah: float
    exponent: float

    def hours_at(self, current_a: float) -> float:
        """Hours at a constant rate. [h]"""
        return float(self.one_amp_ah / _positive(current_a) ** self.exponent)

    def capacity_at_ah(self, current_a: float) -> float:
        """``I t`` at a constant rate. [Ah]"""
        return current_a * self.hours_at(current_a)


@dataclass(frozen=True, slots=True)
class RatedCapacity:
    """``t = H (C / (I H))^k``, with ``C`` the capacity of a discharge over ``H`` hours."""

    rated_ah: float
    rated_h: float
    exponent: float

    def hours_at(self, current_a: float) -> float:
        """Hours at a constant rate. [h]"""
        return float(self.rated_h * (self.rated_ah / (_positive(current_a) * self.rated_h))
                     ** self.exponent)

    def capacity_at_ah(self, current_a: float) -> float:
        """``I t`` at a constant rate. [Ah]"""
        return current_a * self.hours_at(current_a)

    def as_one_amp(self) -> OneAmpCapacity:
        """The same battery in the other convention: ``C_p = H (C / H)^k``."""
        return OneAmpCapacity(float(self.rated_h * (self.rated_ah / self.rated_h)
                                    ** self.exponent), self.exponent)


def exponent_of(first_ah: float, first_h: float, second_ah: float, second_h: float) -> float:
    """``k = ln(t2 / t1) / ln(I1 / I2)`` from two stated capacities.

    Raises
    ------
    ValueError
        If both are of the same rate.
    """
    rates = (first_ah / first_h) / (second_ah / second_h)
    if math.isclose(rates, 1.0):
        raise ValueError("two capacities of one rate give no exponent")
    return math.log(second_h / first_h) / math.log(rates)


def _positive(current_a: float) -> float:
    if not current_a > 0:
        raise ValueError(f"Peukert's law needs amps above 0, not {current_a!r}")
    return current_a
