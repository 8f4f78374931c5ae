"""How hard one log loaded board and breaker, amps out and amps in apart.

A board allows other amps out than in, so a charge must not count against what it gives. A breaker
is warmed by amps both ways.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..one_log.rolling import squared_amps, worst_windows
from ..telemetry import Telemetry
from ..timebase import observe, once

#: Columns that ``loading_digest`` looks at.
LOADING_COLUMNS: Final = ("current_a", "voltage_v", "temp_1_c", "temp_2_c")
#: A board is held against ten seconds and ten minutes. [s]
BOARD_S: Final = (10.0, 600.0)
#: The strip of a thermal breaker follows the amps within minutes (chosen here). [s]
BREAKER_S: Final = 240.0


@dataclass(frozen=True, slots=True)
class LogLoading:
    """The hardest of one log; NaN where it cannot tell."""

    #: Worst RMS over each of ``BOARD_S``, of what went out alone and of what came in alone. [A]
    out_a: tuple[float, float]
    into_a: tuple[float, float]
    #: Worst RMS of both over ``BREAKER_S``. [A]
    both_a: float
    #: Of the sensors of the pack. [degC]
    warmest_c: float
    highest_v: float


def loading_digest(telemetry: Telemetry) -> LogLoading:
    """The loading of one log; amps positive into the pack."""
    warmest = max((_highest(telemetry, name) for name in ("temp_1_c", "temp_2_c")), key=_or_less)
    highest = _highest(telemetry, "voltage_v")
    if "current_a" not in telemetry:
        return LogLoading((math.nan,) * 2, (math.nan,) * 2, math.nan, warmest, highest)
    seen = observe(telemetry, "current_a")
    out, into = once(telemetry, squared_amps)
    (out_10_s, out_10_min), (in_10_s, in_10_min) = (
        worst_windows(one_way, seen, BOARD_S) for one_way in (out, into))
    return LogLoading((out_10_s, out_10_min), (in_10_s, in_10_min),
                      worst_windows(out + into, seen, (BREAKER_S,))[0], warmest, highest)


def _highest(telemetry: Telemetry, column: str) -> float:
    if column not in telemetry:
        return math.nan
    highest = float(telemetry[column].max())
    return highest if math.isfinite(highest) else float(np.nanmax(telemetry[column]))


def _or_less(value: float) -> float:
    return value if math.isfinite(value) else -math.inf
