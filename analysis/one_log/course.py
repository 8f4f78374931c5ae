"""The course of the amps in a few columns of time, lowest and highest of each, for a small line."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from ..telemetry import Telemetry

#: Columns that ``course_digest`` looks at.
COURSE_COLUMNS: Final = ("current_a",)
#: Columns of equal time.
COLUMNS: Final = 96


@dataclass(frozen=True, slots=True)
class LogCourse:
    """Lowest and highest amps, positive into the pack, of each of ``COLUMNS`` equal times; ``None``
    where nothing was heard. Empty without amps. Rounded to 0.1 A."""

    ends_a: tuple[tuple[float, float] | None, ...]


def course_digest(telemetry: Telemetry) -> LogCourse:
    """The course of a log's amps: no peak is left out, nothing is drawn into a gap."""
    amps = telemetry["current_a"]
    known = np.isfinite(amps)
    if not known.any():
        return LogCourse(())
    time_s, amps = telemetry.elapsed_s[known], amps[known]
    places = np.searchsorted(time_s, np.linspace(0.0, telemetry.elapsed_s[-1], COLUMNS + 1))
    places[-1] = len(amps)
    return LogCourse(tuple(
        (round(float(part.min()), 1), round(float(part.max()), 1))
        if len(part := amps[first:last]) else None for first, last in pairwise(places)))
