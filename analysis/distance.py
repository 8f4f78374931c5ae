"""Distance covered, from the odometer column or from speed."""

from __future__ import annotations

from typing import Final

import numpy as np

from .estimate import Answer, Estimate, NoEstimate
from .telemetry import Telemetry
from .timebase import Observed, observe

#: What wheel size and rounding may be wrong by (common practice, no source).
SPEED_GAIN: Final = 0.03


def distance_m(telemetry: Telemetry, like: Observed | None = None) -> Answer:
    """Distance covered in a log. [m]

    From ``distance_m`` if the log has it: the sum of its steps forward, across gaps too, for an
    odometer counts on; a step back is a reset and counts nothing. Else the trapezoid of
    ``speed_m_s`` over observed time, so that what was driven in a gap is missing.
    ``like`` as in ``timebase.observe``.
    """
    if "distance_m" in telemetry:
        figures = telemetry["distance_m"]
        steps = np.diff(figures[np.isfinite(figures)])
        covered = float(steps[steps > 0].sum())
    elif "speed_m_s" in telemetry:
        observed = observe(telemetry, "speed_m_s", like=like)
        covered = observed.integral(observed.pick(telemetry["speed_m_s"]))
    else:
        return NoEstimate("the log holds neither speed nor distance",
                          "log speed, or note the odometer before and after")
    return Estimate.around(covered, abs(covered) * SPEED_GAIN, "m")
