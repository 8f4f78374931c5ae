"""How one log used the pack: what flowed, how hard, how hot, how long at the limits."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..estimate import Estimate
from ..telemetry import Floats, Telemetry
from ..timebase import Observed, observe, once, pieces
from .charge import display_step_a, resolution_term_ah, sampling_term_ah, throughput
from .distance import distance_m
from .rolling import squared_amps, worst_windows

#: Columns that ``use_digest`` looks at.
USE_COLUMNS: Final = ("current_a", "voltage_v", "soc_pct", "temp_1_c", "speed_m_s", "distance_m")
#: A log whose mean size of the amps stays below this is a rest. [A]
REST_MEAN_A: Final = 1.0
#: One direction prevails if it moves this many times the other.
PREVAILS: Final = 5.0
#: A test is a discharge within 5 % of its usual amps for nine tenths of half an hour or more.
STEADY_BAND: Final = 0.05
STEADY_SHARE: Final = 0.9
TEST_MIN_S: Final = 1800.0
#: Whether a log is steady is told by so many of its rows or more, evenly spread.
_TOLD_BY: Final = 10_000
#: Percent from which a pack counts as full or as nearly empty. [points]
HIGH_PCT, LOW_PCT = 99.0, 10.0
#: Above this a pack ages faster; below this charging harms iron phosphate. [degC]
HOT_C, FROST_C = 40.0, 0.0


@dataclass(frozen=True, slots=True)
class LogUse:
    """What one log did to the pack. NaN where the log cannot tell. Amps positive into the pack."""

    #: ``drive``, ``charge``, ``rest`` or ``test``, found from the amps; empty without amps.
    kind: str
    samples: int
    observed_s: float
    #: Time inside the log that nobody saw. [s]
    gap_s: float
    into_ah: float
    out_ah: float
    into_wh: float
    out_wh: float
    #: Standard uncertainty of a count from sampling and resolution alone. [Ah]
    count_sd_ah: float
    peak_in_a: float
    peak_out_a: float
    #: Worst RMS of 10 s, 1 min, 10 min. [A]
    rms_a: tuple[float, float, float]
    voltage_min_v: float
    voltage_max_v: float
    percent_start: float
    percent_end: float
    #: Pack temperature. [degC]
    temp_min_c: float
    temp_mean_c: float
    temp_max_c: float
    distance_m: float
    #: Seconds at or above ``HIGH_PCT``, at or below ``LOW_PCT``, above ``HOT_C``, and taking
    #: charge below ``FROST_C``.
    high_s: float
    low_s: float
    hot_s: float
    frost_charge_s: float


def use_digest(telemetry: Telemetry) -> LogUse:
    """The use of the pack in one log; amps in packhand's sign."""
    seen = observe(telemetry, "current_a") if "current_a" in telemetry else observe(telemetry)
    into, out, into_wh, out_wh, spread = _counts(telemetry, seen)
    amps = seen.pick(telemetry["current_a"])
    has_amps = "current_a" in telemetry and len(amps) > 1
    volts, percent, celsius = (telemetry[c] for c in ("voltage_v", "soc_pct", "temp_1_c"))
    away = distance_m(telemetry)
    low_v, _, high_v = _spread(volts)
    low_c, mean_c, high_c = _spread(celsius)
    begun, ended = first_and_last(percent)
    everything = seen if seen.rows is None else observe(telemetry)
    return LogUse(
        kind=_kind(amps, seen, into, out) if has_amps else "",
        samples=len(telemetry), observed_s=seen.seconds,
        gap_s=float(telemetry.elapsed_s[-1]) - seen.seconds,
        into_ah=into, out_ah=out, into_wh=into_wh, out_wh=out_wh, count_sd_ah=spread,
        peak_in_a=max(0.0, float(amps.max())) if has_amps else math.nan,
        peak_out_a=max(0.0, -float(amps.min())) if has_amps else math.nan,
        rms_a=_rms(telemetry, seen) if has_amps else (math.nan,) * 3,
        voltage_min_v=low_v, voltage_max_v=high_v, percent_start=begun, percent_end=ended,
        temp_min_c=low_c, temp_mean_c=mean_c, temp_max_c=high_c,
        distance_m=away.value if isinstance(away, Estimate) else math.nan,
        high_s=_seconds_where(everything, percent >= HIGH_PCT),
        low_s=_seconds_where(everything, percent <= LOW_PCT),
        hot_s=_seconds_where(everything, celsius > HOT_C) if high_c > HOT_C else 0.0,
        frost_charge_s=_seconds_where(everything, (celsius < FROST_C) & (
            telemetry["current_a"] > REST_MEAN_A)) if low_c < FROST_C else 0.0)


def _counts(telemetry: Telemetry, seen: Observed) -> tuple[float, float, float, float, float]:
    if "current_a" not in telemetry or len(seen.time_s) < 2:
        return (math.nan,) * 5
    amps = seen.pick(telemetry["current_a"])
    charge = throughput(seen, amps)
    spread = math.hypot(resolution_term_ah(amps, seen, display_step_a(amps)),
                        sampling_term_ah(amps, seen))
    if "voltage_v" not in telemetry:
        return charge.into, charge.out, math.nan, math.nan, spread
    both = observe(telemetry, "current_a", "voltage_v", like=seen)
    energy = throughput(both, both.pick(telemetry["current_a"]), both.pick(telemetry["voltage_v"]))
    return charge.into, charge.out, energy.into, energy.out, spread


def _kind(amps: Floats, seen: Observed, into_ah: float, out_ah: float) -> str:
    moved = into_ah + out_ah
    if moved * 3600 <= REST_MEAN_A * max(seen.seconds, 1.0):
        return "rest"
    if into_ah > PREVAILS * out_ah:
        return "charge"
    if out_ah > PREVAILS * into_ah and _is_steady(amps, seen):
        return "test"
    return "drive"


def _is_steady(amps: Floats, seen: Observed) -> bool:
    apart = max(1, len(amps) // _TOLD_BY)
    amps, weights_s = amps[::apart], seen.weights_s[::apart]
    loaded = amps < -REST_MEAN_A
    seconds = float(weights_s[loaded].sum())
    if seconds * apart < TEST_MIN_S:
        return False
    usual = float(np.median(amps[loaded]))
    near = np.abs(amps - usual) <= STEADY_BAND * abs(usual)
    return float(weights_s[near].sum()) >= STEADY_SHARE * seconds


def _rms(telemetry: Telemetry, seen: Observed) -> tuple[float, float, float]:
    out, into = once(telemetry, squared_amps)
    ten, minute, minutes = worst_windows(out + into, seen, (10.0, 60.0, 600.0))
    return ten, minute, minutes


def _spread(values: Floats) -> tuple[float, float, float]:
    # A sum is finite only if all its terms are, and costs less than a copy of them.
    finite = values if math.isfinite(values.sum()) else values[np.isfinite(values)]
    if not len(finite):
        return math.nan, math.nan, math.nan
    return float(finite.min()), float(finite.mean()), float(finite.max())


def first_and_last(values: Floats) -> tuple[float, float]:
    """The first and the last figure of a column; NaN if it holds none."""
    return _first(values), _first(values[::-1])


def _first(values: Floats) -> float:
    for part in pieces(len(values)):
        finite = np.isfinite(values[part])
        if finite.any():
            return float(values[part][finite.argmax()])
    return math.nan


def _seconds_where(everything: Observed, mask: NDArray[np.bool_]) -> float:
    """Seconds of the steps that begin at a masked row; a gap counts for nothing."""
    return float(everything.width_s[mask[:-1]].sum()) if mask.any() else 0.0
