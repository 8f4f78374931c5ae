"""Is something dragging? Energy per distance together with how fast the vehicle slows by itself.

More energy per distance alone is a load, the wind, the way, or the driver. A brake that does not
let go takes more energy *and* shortens every coast-down; a heavy load does not (rolling resistance
and mass grow together), and a wind helps one way as much as it hinders the other.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..estimate import Estimate, NoEstimate, Verdict
from ..finding import DatedFinding
from ..one_log.distance import distance_m
from ..telemetry import Floats, Telemetry
from ..timebase import observe

COAST_COLUMNS: Final = ("current_a", "voltage_v", "speed_m_s", "distance_m")
#: No amps while coasting. [A]
COAST_A: Final = 1.0
#: A coast-down slows steadily, by at least so much a second, for at least so long, over at least
#: so much speed. [m/s2], [s], [m/s]
SLOWING_M_S2: Final = 0.02
COAST_S: Final = 4.0
COAST_M_S: Final = 1.0
#: The gentlest of a log's coast-downs are those without the driver's brake: this quantile.
GENTLE: Final = 0.25
#: Less than this is not a drive. [m]
DRIVE_MIN_M: Final = 500.0
#: Earlier logs that make "usual", at least and at most.
HISTORY_MIN, HISTORY_MAX = 5, 20
#: What is told: slowing and energy per distance above the usual, and scatters above it.
SLOWING_GAIN, ENERGY_GAIN = 0.15, 0.06
SCATTERS: Final = 4.0
_MAD: Final = 1.4826
_DAY_S: Final = 86_400.0


@dataclass(frozen=True, slots=True)
class LogCoasting:
    """One log's energy per distance and coast-downs; NaN where it cannot tell."""

    consumption_wh_per_km: float
    #: How fast the vehicle slows with no amps, gentle end of the coast-downs. [m/s2]
    slowing_m_s2: float
    coasts: int


def coasting_digest(telemetry: Telemetry) -> LogCoasting:
    """Coast-downs of one log; amps in packhand's sign."""
    nothing = LogCoasting(math.nan, math.nan, 0)
    if "speed_m_s" not in telemetry or "current_a" not in telemetry:
        return nothing
    covered = distance_m(telemetry)
    if isinstance(covered, NoEstimate) or covered.value < DRIVE_MIN_M:
        return nothing
    seen = observe(telemetry, "current_a", "speed_m_s")
    amps, speed = seen.pick(telemetry["current_a"]), seen.pick(telemetry["speed_m_s"])
    slowings = _coasts(seen.time_s, seen.width_s, amps, speed)
    spent = math.nan
    if "voltage_v" in telemetry:
        both = observe(telemetry, "current_a", "voltage_v")
        watts = both.pick(telemetry["current_a"]) * both.pick(telemetry["voltage_v"])
        spent = -both.integral(watts) / 3600 / (covered.value / 1000)
    gentle = float(np.quantile(slowings, GENTLE)) if len(slowings) else math.nan
    return LogCoasting(spent, gentle, len(slowings))


def _coasts(time_s: Floats, width_s: Floats, amps: Floats, speed: Floats) -> Floats:
    """Mean slowing of each coast-down. [m/s2]"""
    slowing = np.zeros(len(width_s))
    np.divide(-np.diff(speed), width_s, out=slowing, where=width_s > 0)
    still = np.abs(amps) < COAST_A
    is_coast = (slowing > SLOWING_M_S2) & still[1:] & still[:-1]
    edges = np.flatnonzero(np.diff(np.concatenate(([False], is_coast, [False])).astype(int)))
    found = [(speed[a] - speed[b]) / (time_s[b] - time_s[a]) for a, b in edges.reshape(-1, 2)
             if time_s[b] - time_s[a] >= COAST_S and speed[a] - speed[b] >= COAST_M_S]
    return np.array(found, dtype=float)


def find_drag(logs: Sequence[tuple[float, LogCoasting]]) -> list[DatedFinding]:
    """Stretches in which the vehicle dragged, against its own earlier drives.

    Parameters
    ----------
    logs
        Unix time of the start, and coasting, oldest first.
    """
    usable = [(t, c) for t, c in logs if math.isfinite(c.slowing_m_s2)]
    usual: list[LogCoasting] = []
    stretches: list[list[tuple[float, LogCoasting, tuple[float, float, bool]]]] = []
    is_open = False
    for time_s, coasting in usable:
        gains = _gains(coasting, usual)
        if gains is None or not gains[2]:
            usual = [*usual, coasting][-HISTORY_MAX:]
            is_open = False
            continue
        if not is_open:
            stretches.append([])
        is_open = True
        stretches[-1].append((time_s, coasting, gains))
    return [_drag(stretch) for stretch in stretches]


def _gains(coasting: LogCoasting, usual: list[LogCoasting]) -> tuple[float, float, bool] | None:
    """Gain of slowing and of energy per distance, and whether the slowing stands out."""
    if len(usual) < HISTORY_MIN:
        return None
    slowing = np.array([c.slowing_m_s2 for c in usual])
    spent = np.array([c.consumption_wh_per_km for c in usual])[-HISTORY_MIN * 2:]
    middle = float(np.median(slowing))
    scatter = _MAD * float(np.median(np.abs(slowing - middle)))
    gain = coasting.slowing_m_s2 / middle - 1
    energy = coasting.consumption_wh_per_km / float(np.nanmedian(spent)) - 1
    stands_out = gain >= SLOWING_GAIN and gain * middle >= SCATTERS * scatter
    return gain, energy, stands_out


def _drag(stretch: list[tuple[float, LogCoasting, tuple[float, float, bool]]]) -> DatedFinding:
    gains = np.array([(slow, energy) for _, _, (slow, energy, _) in stretch])
    slow, energy = float(np.median(gains[:, 0])), float(np.nanmedian(gains[:, 1]))
    verdict: Verdict = "yes" if energy >= ENERGY_GAIN else "cannot tell yet"
    spread = 100 * float(np.std(gains[:, 1])) if len(gains) > 2 else 3.0
    told = (f"energy per distance is up {100 * energy:.0f} %" if verdict == "yes"
            else "energy per distance hardly changed")
    return DatedFinding(
        "dragging", verdict, stretch[0][0], stretch[-1][0],
        f"the vehicle slows {1 + slow:.1f} times as fast as it used to when left to roll, and "
        f"{told}: something drags, a brake or a bearing; it is not the battery",
        Estimate.around(100 * energy, 2 * max(spread, 1.0), "%"),
        "with the vehicle chocked and lifted as its maker says, turn each wheel by hand; feel "
        "for a warm hub after a drive")
