"""Does a temperature sensor sit on the pack? One that hangs in the air ignores the load.

A pack of tens of kilograms warms slowly while amps flow and cannot jump while nobody looks. Two
signs together tell a sensor that fell off: it stays still through load that used to warm it, and
between two logs it moves with the air.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..estimate import Estimate
from ..finding import DatedFinding
from ..telemetry import Telemetry
from ..timebase import observe

WARMTH_COLUMNS: Final = ("current_a", "temp_1_c", "temp_2_c")
#: Logs that make "usual".
HISTORY: Final = 30
#: A rise smaller than this is none. [K]
STILL_K: Final = 0.5
#: Standing still counts once the load would have warmed the sensor by so much in all. [K]
EXPECTED_K: Final = 4.0
#: A sensor beside the board's, in a pack at rest, reads within this of it on the mean. [K]
TOGETHER_K: Final = 0.5


@dataclass(frozen=True, slots=True)
class LogWarmth:
    """One log's heat and what the pack's sensor made of it; NaN where it cannot tell."""

    #: Integral of the squared amps. [A2 h]
    heat_a2h: float
    #: From first to last figure, rises and falls within stretches only. [K]
    rise_k: float
    #: First reading, and of the second sensor (board) beside it. [degC]
    first_c: float
    board_first_c: float


def warmth_digest(telemetry: Telemetry) -> LogWarmth:
    """Heat and warming of one log."""
    if "temp_1_c" not in telemetry or "current_a" not in telemetry:
        return LogWarmth(math.nan, math.nan, math.nan, math.nan)
    seen = observe(telemetry, "current_a", "temp_1_c")
    if not len(seen.time_s):
        return LogWarmth(math.nan, math.nan, math.nan, math.nan)
    amps, celsius = seen.pick(telemetry["current_a"]), seen.pick(telemetry["temp_1_c"])
    rise = sum(float(celsius[end - 1] - celsius[first]) for first, end in seen.runs())
    return LogWarmth(seen.integral(np.square(amps)) / 3600, rise, float(celsius[0]),
                     float(seen.pick(telemetry["temp_2_c"])[0]))


def find_loose_sensor(logs: Sequence[tuple[float, LogWarmth]]) -> list[DatedFinding]:
    """Stretches in which the pack's sensor did not answer the load.

    Parameters
    ----------
    logs
        Unix time of the start, and warmth, oldest first.
    """
    usable = [(t, w) for t, w in logs if w.heat_a2h > 0 and math.isfinite(w.rise_k)]
    usual: list[LogWarmth] = []
    run: list[tuple[float, LogWarmth]] = []
    found = []
    for time_s, warmth in [*usable, (math.inf, _END)]:
        if abs(warmth.rise_k) < STILL_K:
            run.append((time_s, warmth))
            continue
        expected_k = _expected_k(usual, run)
        apart = _apart_from_board(run)
        if expected_k >= EXPECTED_K and apart:
            found.append(_loose(apart, expected_k))
        else:
            usual = [*usual, *(w for _, w in run)][-HISTORY:]
        usual, run = [*usual, warmth][-HISTORY:], []
    return found


#: Ends the last run.
_END: Final = LogWarmth(1.0, math.inf, math.nan, math.nan)


def _expected_k(usual: list[LogWarmth], run: list[tuple[float, LogWarmth]]) -> float:
    """What the load of a run used to warm the sensor by."""
    heat = sum(w.heat_a2h for w in usual)
    if len(usual) < HISTORY // 3 or not heat:
        return 0.0
    return sum(w.rise_k for w in usual) / heat * sum(w.heat_a2h for _, w in run)


def _apart_from_board(run: list[tuple[float, LogWarmth]]) -> list[tuple[float, LogWarmth]]:
    """The run from where the sensor parts from the board's; the whole run without a second."""
    apart = np.array([abs(w.first_c - w.board_first_c) for _, w in run])
    if not np.isfinite(apart).any():
        return run
    first = int(np.argmax(apart > TOGETHER_K))
    return run[first:] if np.nanmean(apart[first:]) > TOGETHER_K else []


def _loose(run: list[tuple[float, LogWarmth]], expected_k: float) -> DatedFinding:
    return DatedFinding(
        "loose_sensor", "yes", run[0][0], run[-1][0],
        f"the pack's temperature sensor does not respond to load: over {len(run)} logs it stood "
        f"still where it used to warm by {expected_k:.0f} K in all, and followed the air from log "
        "to log; it is not on the cells",
        Estimate(0.0, 0.0, STILL_K, "K"),
        "with everything switched off, fix the sensor to a cell again; until then the board does "
        "not know frost, so do not charge near 0 °C")
