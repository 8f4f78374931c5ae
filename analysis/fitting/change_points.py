"""Where the level of a series stepped: found, dated, sized; nothing found in mere scatter."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..telemetry import Floats

#: Twice the log likelihood ratio that a step needs: 1 % false over 24 figures. It grows with the
#: logarithm of the number of places a step could be.
THRESHOLD: Final = 11.5
_THRESHOLD_FIGURES: Final = 24
#: Figures on both sides of a step, at least.
SIDE_MIN: Final = 3


@dataclass(frozen=True, slots=True)
class Step:
    """The level changed between two figures."""

    #: Index of the first figure of the new level.
    first: int
    before: float
    after: float
    #: Twice the log likelihood ratio.
    strength: float

    @property
    def change(self) -> float:
        return self.after - self.before


def find_steps(values: Floats, least_scatter: float = 0.0) -> tuple[Step, ...]:
    """Steps of the mean of a series, in order.

    The series is halved at its most likely step as long as twice the log likelihood ratio
    ``(m1 - m2)^2 n1 n2 / (n s^2)`` passes the threshold; the scatter ``s`` comes from differences
    of neighbours, which steps and slow drifts hardly move.

    Parameters
    ----------
    values
        In order; no NaN.
    least_scatter
        The scatter is taken to be this at least.
    """
    if len(values) < 2 * SIDE_MIN:
        return ()
    scatter = max(_scatter(values), least_scatter, 1e-12)
    needed = THRESHOLD + 2 * math.log(max(1.0, len(values) / _THRESHOLD_FIGURES))
    edges = sorted(_split(values, 0, len(values), scatter, needed))
    bounds = [0, *edges, len(values)]
    steps = []
    for number, edge in enumerate(edges, start=1):
        before = values[bounds[number - 1]: edge]
        after = values[edge: bounds[number + 1]]
        steps.append(Step(edge, float(before.mean()), float(after.mean()),
                          _strength(before, after, scatter)))
    return tuple(steps)


def _scatter(values: Floats) -> float:
    """Of one figure, from differences of neighbours; the few across a step are left out."""
    differences = np.abs(np.diff(values))
    usual = 3 * 1.4826 * float(np.median(differences))
    kept = differences[differences <= usual]
    return math.sqrt(float(kept @ kept) / len(kept) / 2)


def _split(values: Floats, first: int, end: int, scatter: float, needed: float) -> list[int]:
    count = end - first
    if count < 2 * SIDE_MIN:
        return []
    total = np.cumsum(values[first:end])
    left = np.arange(SIDE_MIN, count - SIDE_MIN + 1)
    gap = total[left - 1] / left - (total[-1] - total[left - 1]) / (count - left)
    strength = np.square(gap / scatter) * left * (count - left) / count
    best = int(np.argmax(strength))
    if strength[best] < needed:
        return []
    edge = first + int(left[best])
    return [*_split(values, first, edge, scatter, needed), edge,
            *_split(values, edge, end, scatter, needed)]


def _strength(before: Floats, after: Floats, scatter: float) -> float:
    weight = len(before) * len(after) / (len(before) + len(after))
    return float(((before.mean() - after.mean()) / scatter) ** 2 * weight)
