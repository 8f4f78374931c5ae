"""The one reading that cannot fit with the others: most likely mistyped, or typed too late."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from .choice import Verdict
from .readings import Reading
from .stream import Times
from .windows import windows_of

#: Readings of a figure from which on one of them can be doubted.
_READINGS_LEAST: Final = 4
#: The others have to agree by so much better than by chance. [log10]
_CHANCE: Final = -2.0


@dataclass(frozen=True)
class Misfit:
    """A typed figure beside what the bytes said that all other readings agree on."""

    #: Which reading, counted from 1.
    number: int
    typed: float
    #: The lowest and highest that the display can have shown then.
    low: float
    high: float
    #: Where the others agree.
    place: str


def find_misfit(column: str, readings: Sequence[Reading], times_s: Times,
                look: Callable[[Sequence[Reading]], Verdict]) -> tuple[Misfit, Verdict] | None:
    """The reading without which all others agree, and what they agree on.

    ``None`` where no reading is such, or more than one: then nobody can say which is wrong.
    ``look`` is the search for this column with some of the readings.
    """
    typed = [n for n, reading in enumerate(readings) if column in reading.values]
    if len(typed) < _READINGS_LEAST:
        return None
    found = []
    for n in typed:
        verdict = look([reading for k, reading in enumerate(readings) if k != n])
        if verdict.chosen is not None and verdict.log10_chance < _CHANCE:
            found.append((n, verdict))
    if len(found) != 1:
        return None
    n, verdict = found[0]
    windows = windows_of(column, [readings[n]], times_s)
    if verdict.chosen is None or not windows:
        return None
    shown = verdict.chosen.values[windows[0].rows]
    return Misfit(n + 1, windows[0].value, float(np.min(shown)), float(np.max(shown)),
                  verdict.chosen.spot.place), verdict
