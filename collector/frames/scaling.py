"""From the number on the wire to the figure in its unit: value = raw x scale + offset."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Self


@dataclass(frozen=True, slots=True)
class Scaling:
    """A linear step kept in whole numbers, ``(raw * times + plus) / over``.

    With an integer raw value the result is the double nearest to the exact decimal: 3 steps of
    0.1 A are 0.3 A, and not 0.30000000000000004.
    """

    times: int = 1
    plus: int = 0
    over: int = 1

    @classmethod
    def of(cls, scale: float, offset: float) -> Self:
        """From decimal numbers, taken as they are written; ``scale`` is not 0."""
        times, plus = Fraction(repr(scale)), Fraction(repr(offset))
        over = times.denominator * plus.denominator
        return cls(int(times * over), int(plus * over), over)

    def apply(self, raw: float) -> float:
        return (raw * self.times + self.plus) / self.over

    def undo(self, value: float) -> float:
        """The raw number, not rounded."""
        return (value * self.over - self.plus) / self.times
