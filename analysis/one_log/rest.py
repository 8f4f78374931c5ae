"""What the monitor shows at rest: a zero error, reported and never taken off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..telemetry import Floats
from ..timebase import Observed

#: A rest is this long at least ... [s]
REST_S: Final = 60.0
#: ... and its amps stay within this of zero ... [A]
REST_MAX_A: Final = 1.0
#: ... and within this many display steps of each other.
REST_STEPS: Final = 2.5


@dataclass(frozen=True, slots=True)
class Rest:
    """What the amps showed while nothing changed."""

    current_a: float
    seconds: float


def is_zero_error(rest: Rest, current_a: Floats) -> bool:
    """Whether what is shown at rest can be no load.

    Nothing but a panel or a charger's trickle charges a pack between drives: amps into it at rest,
    in a log in which amps also flow out, are most likely the monitor's own. ``current_a`` is in
    packhand's sign, of a monitor that shows one.
    """
    return rest.current_a > 0 and bool(current_a.min() < -REST_MAX_A)


def find_rest(current_a: Floats, observed: Observed, resolution_a: float) -> Rest | None:
    """The mean amps over all minutes in which they hardly moved near zero; ``None`` if none.

    This is the zero error if everything was switched off, else what something small drew.
    """
    starts_s = np.arange(observed.time_s[0], observed.time_s[-1] - REST_S, REST_S)
    starts = np.searchsorted(observed.time_s, starts_s)
    if not len(starts):
        return None
    starts = starts[np.append(True, starts[1:] > starts[:-1])]
    low = np.minimum.reduceat(current_a, starts)
    high = np.maximum.reduceat(current_a, starts)
    still = (np.maximum(high, -low) <= REST_MAX_A) & (
        high - low <= REST_STEPS * max(resolution_a, 0.01))
    ends = np.append(starts[1:], len(current_a))
    minutes = [current_a[starts[k]: ends[k]] for k in np.flatnonzero(still)]
    if not minutes:
        return None
    return Rest(float(np.concatenate(minutes).mean()), len(minutes) * REST_S)
