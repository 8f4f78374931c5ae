"""The largest amps of a log, and when."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..telemetry import Floats
from ..timebase import Observed


@dataclass(frozen=True, slots=True)
class Peak:
    """The largest amps either way; negative is out of the pack."""

    current_a: float
    elapsed_s: float


def find_peak(current_a: Floats, observed: Observed) -> Peak:
    """The sample with the largest amps, in or out; the first of equals.

    A sample is a moment: what flowed between samples may have been more.
    """
    low, high = float(current_a.min()), float(current_a.max())
    peak = low if -low > high else high
    row = int(np.argmax(np.abs(current_a) == abs(peak)))
    return Peak(float(current_a[row]), float(observed.time_s[row]))
