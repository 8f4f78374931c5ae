"""The two shapes of an answer: a value with its interval, or why there is none."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

#: The three verdicts a question can get.
Verdict = Literal["yes", "no", "cannot tell yet"]

#: Where a figure comes from.
Badge = Literal["measured", "worked out", "typed", "claimed"]


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value and the interval that holds the truth with probability ``coverage``."""

    value: float
    low: float
    high: float
    unit: str
    coverage: float = 0.95

    def __post_init__(self) -> None:
        if not all(map(math.isfinite, (self.value, self.low, self.high))):
            raise ValueError(f"an estimate is finite: {self}")
        if not self.low <= self.value <= self.high:
            raise ValueError(f"an estimate lies within its interval: {self}")

    @property
    def half_width(self) -> float:
        """Half the interval's width, in ``unit``."""
        return (self.high - self.low) / 2

    def scaled(self, factor: float, unit: str) -> Estimate:
        """The estimate times an exactly known factor, in another unit."""
        ends = sorted((self.low * factor, self.high * factor))
        return Estimate(self.value * factor, ends[0], ends[1], unit, self.coverage)

    def as_json(self) -> dict[str, Any]:
        return {"value": self.value, "low": self.low, "high": self.high,
                "unit": self.unit, "coverage": self.coverage}

    @classmethod
    def around(cls, value: float, half_width: float, unit: str, coverage: float = 0.95) -> Estimate:
        """A symmetric interval."""
        return cls(value, value - half_width, value + half_width, unit, coverage)


@dataclass(frozen=True, slots=True)
class NoEstimate:
    """Why the data cannot support an answer, and the next cheapest measurement that would."""

    reason: str
    next: str

    def as_json(self) -> dict[str, Any]:
        return {"value": None, "reason": self.reason, "next": self.next}


#: What a question is answered with.
Answer = Estimate | NoEstimate
