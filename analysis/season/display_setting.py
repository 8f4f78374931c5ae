"""The capacity that a display reckons with, over a logbook, and the day somebody changed it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..fitting.change_points import find_steps
from .percent_jumps import LogPercent

#: A log's slope takes part if it is known this well. [parts]
SLOPE_SD_MAX: Final = 0.02
#: A setting changed by less than this is not told. [parts]
RATIO_MIN: Final = 0.015
#: Scatter of the slopes, at least. [parts]
SLOPE_SCATTER: Final = 0.004


@dataclass(frozen=True, slots=True)
class SettingStep:
    """Somebody set another capacity in the display."""

    #: When the percent jumped, or the start of the first log with the new setting. [Unix s]
    moment_s: float
    before_ah: float
    after_ah: float
    #: The jump of the percent that goes with it was seen.
    is_seen: bool

    @property
    def ratio(self) -> float:
        """Old setting over new: what every percent was multiplied by."""
        return self.before_ah / self.after_ah

    @property
    def words(self) -> str:
        return (f"the display's capacity setting went from {self.before_ah:.0f} to "
                f"{self.after_ah:.0f} Ah: every percent was multiplied by {self.ratio:.2f}, "
                "and no amps flowed; the pack did not change")


def setting_steps(logs: Sequence[tuple[float, LogPercent]]) -> tuple[SettingStep, ...]:
    """Changes of the setting of a display that counts.

    Parameters
    ----------
    logs
        Start of each log [s] and what its percent did, oldest first.
    """
    held = [(start, log) for start, log in logs
            if log.ah_per_100 > 0 and log.ah_per_100_sd <= SLOPE_SD_MAX * log.ah_per_100
            and not log.jumps]
    if not held:
        return ()
    slopes = np.log([log.ah_per_100 for _, log in held])
    found = []
    for step in find_steps(slopes, SLOPE_SCATTER):
        if abs(step.change) < RATIO_MIN:
            continue
        before, after = (float(np.exp(np.median(part))) for part in (
            slopes[max(0, step.first - 20): step.first], slopes[step.first: step.first + 20]))
        if abs(math.log(before / after)) < RATIO_MIN:  # a few odd logs, and back again
            continue
        seen_s = _jump_between(logs, held[step.first - 1][0], held[step.first][0], before / after)
        found.append(SettingStep(held[step.first][0] if math.isnan(seen_s) else seen_s,
                                 before, after, math.isfinite(seen_s)))
    return tuple(found)


def _jump_between(logs: Sequence[tuple[float, LogPercent]], after_s: float, before_s: float,
                  ratio: float) -> float:
    """The moment of the jump by that ratio; NaN if none was seen."""
    for start, log in logs:
        if after_s <= start <= before_s:
            for jump in log.jumps:
                # Whole percents: the ratio of a jump is known to about half a point on both sides.
                slack = 1.0 / max(min(jump.from_pct, jump.to_pct), 1.0)
                if abs(jump.ratio - ratio) <= ratio * slack:
                    return start + jump.elapsed_s
    return math.nan
