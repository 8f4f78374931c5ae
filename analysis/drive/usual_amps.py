"""The amps that a person usually sees while driving, over a few drives together."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..estimate import NoEstimate
from ..telemetry import Floats, Telemetry
from ..timebase import observe

#: Amps out below this are standing about, not driving. [A]
DRIVING_A: Final = 3.0
#: Share of the driving time whose amps are below the hard ones.
HARD_SHARE: Final = 0.95
#: Less driving than this tells nothing usual. [s]
ENOUGH_S: Final = 300.0


@dataclass(frozen=True, slots=True)
class UsualAmps:
    """Amps out of the pack, as magnitudes, over the time in which it drove."""

    #: Half of the driving time is below it. [A]
    usual_a: float
    #: ``HARD_SHARE`` of the driving time is below it. [A]
    hard_a: float
    most_a: float
    driving_s: float
    drives: int


def usual_amps(drives: Iterable[Telemetry]) -> UsualAmps | NoEstimate:
    """Time-weighted quantiles of the amps out.

    Parameters
    ----------
    drives
        Amps in packhand's sign. Gaps and missing figures count for nothing.
    """
    amps: list[Floats] = []
    weights: list[Floats] = []
    for drive in drives:
        seen = observe(drive, "current_a")
        out_a = -seen.pick(drive["current_a"])
        is_driving = out_a >= DRIVING_A
        amps.append(out_a[is_driving])
        weights.append(seen.weights_s[is_driving])
    out, seconds = (np.concatenate(each) if each else np.empty(0) for each in (amps, weights))
    if float(seconds.sum()) < ENOUGH_S:
        return NoEstimate("less than five minutes of driving were logged", "log a drive")
    order = np.argsort(out, kind="stable")
    share = np.cumsum(seconds[order]) / seconds.sum()
    usual, hard = (float(out[order][np.searchsorted(share, q)]) for q in (0.5, HARD_SHARE))
    return UsualAmps(usual, hard, float(out.max()), float(seconds.sum()), len(amps))
