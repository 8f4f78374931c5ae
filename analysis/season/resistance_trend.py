"""Pack resistance over a logbook: brought to 20 degC, its trend, its steps, and cold told from old.

Resistance falls with temperature, about exponentially: ``ln R = a + b (T - 20) + c t``. With the
temperature term fitted from the pack's own logs a cold morning explains itself, and what is left
is age. Without one nothing below 20 % is credible.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from ..estimate import Answer, Estimate, NoEstimate
from ..fitting.line_fit import LineFit, huber_fit
from ..one_log.resistance import find_resistance
from ..phrases import iso_utc
from ..telemetry import Floats, Telemetry
from ..timebase import observe

RESISTANCE_COLUMNS: Final = ("current_a", "voltage_v", "temp_1_c")
REFERENCE_C: Final = 20.0
YEAR_S: Final = 365.25 * 86400
#: A log says something about resistance if its amps out reach this. [A]
OUT_MIN_A: Final = 15.0
#: Logs that a trend needs, and the range of temperature that its term needs. [K]
LOGS_MIN: Final = 8
RANGE_MIN_K: Final = 4.0
#: ``b`` where the pack's own logs do not span enough: rise per kelvin of cold.
#: (methods from real drives of an electric car: 3.8 % per kelvin over 2 to 30 degC)
USUAL_PER_K: Final = -0.03
#: Scatter between drives after temperature (4.5 % on real drives of an electric car).
SCATTER: Final = 0.045
#: A drive this much colder than 20 degC, and resistance this far above its figure there, is cold.
COLD_K: Final = 10.0
COLD_RISE: Final = 0.33
#: Cold drives closer than this are one spell. [s]
SPELL_S: Final = 5 * 86400.0
#: Neighbours in time that a drive is compared with.
NEIGHBOURS: Final = 10


@dataclass(frozen=True, slots=True)
class LogResistance:
    """One log's resistance; NaN where it cannot tell."""

    after_1_s_mohm: float
    after_1_s_sd: float
    after_10_s_mohm: float
    after_10_s_sd: float
    #: Mean of the pack's sensor. [degC]
    temp_c: float
    skew_s: float


@dataclass(frozen=True, slots=True)
class ColdLog:
    """A log whose resistance was high because it was cold."""

    start_s: float
    temp_c: float
    #: Against the pack's own figure at 20 degC, as measured. [parts]
    rise: float
    #: What is left of it against its neighbours in time, all brought to 20 degC. [parts]
    unexplained: float

    @property
    def words(self) -> str:
        return (f"at {self.temp_c:.0f} °C the resistance was {100 * self.rise:.0f} % above its "
                f"figure at 20 °C; brought to 20 °C, {100 * self.unexplained:+.0f} % against the "
                "drives around it: cold, not old. It comes back with the warmth. Do not charge "
                "below 0 °C")


@dataclass(frozen=True, slots=True)
class ResistanceTrend:
    """Resistance 10 s after a change, at 20 degC, over a logbook."""

    #: Start of each log [s], and its resistance at 20 degC. [mohm]
    start_s: tuple[float, ...]
    at_reference_mohm: tuple[float, ...]
    sd_mohm: tuple[float, ...]
    #: At the end of the logbook. [mohm]
    now_mohm: Answer
    per_year_pct: Answer
    #: Per kelvin. [parts]
    per_kelvin: float
    cold: tuple[ColdLog, ...]

    def as_json(self) -> list[dict[str, Any]]:
        return [{"time": iso_utc(start), "mohm_at_20_c": round(value, 3), "sd_mohm": round(sd, 3)}
                for start, value, sd in zip(self.start_s, self.at_reference_mohm, self.sd_mohm,
                                            strict=True)]


def resistance_digest(telemetry: Telemetry) -> LogResistance:
    """Resistance of one log; amps in packhand's sign."""
    celsius = telemetry["temp_1_c"]
    finite = celsius[np.isfinite(celsius)]
    temp = float(finite.mean()) if len(finite) else math.nan
    if "current_a" not in telemetry or "voltage_v" not in telemetry:
        return LogResistance(*(math.nan,) * 4, temp, 0.0)
    seen = observe(telemetry, "current_a", "voltage_v")
    amps = seen.pick(telemetry["current_a"])
    # A charge that is switched on once says more about its volts' slow rise than about ohms.
    if not len(amps) or -float(amps.min()) < OUT_MIN_A:
        return LogResistance(*(math.nan,) * 4, temp, 0.0)
    found = find_resistance(telemetry, seen)
    one, ten = _figure(found.after_1_s), _figure(found.after_10_s)
    return LogResistance(*one, *ten, temp, found.skew_s)


def _figure(answer: Answer) -> tuple[float, float]:
    return (answer.value, answer.half_width / 2) if isinstance(answer, Estimate) else (
        math.nan, math.nan)


def resistance_trend(logs: Sequence[tuple[float, LogResistance]]) -> ResistanceTrend:
    """The trend over a logbook.

    Parameters
    ----------
    logs
        Start of each log [s] and its resistance, oldest first; logs without one are passed over.
    """
    held = [(start, log) for start, log in logs
            if log.after_10_s_mohm > 0 and math.isfinite(log.temp_c)]
    if len(held) < LOGS_MIN:
        missing = NoEstimate(f"{len(held)} drives with resistance and temperature, "
                             f"{LOGS_MIN} are needed", "log more drives, the pack's sensor too")
        return ResistanceTrend((), (), (), missing, missing, USUAL_PER_K, ())
    start = np.array([s for s, _ in held])
    ohms = np.array([log.after_10_s_mohm for _, log in held])
    cold = np.array([log.temp_c for _, log in held]) - REFERENCE_C
    fit, per_kelvin = _fit(np.log(ohms), cold, (start - start[-1]) / YEAR_S)
    level = ohms * np.exp(-per_kelvin * cold)
    now, _ = fit.at(*_row(fit, 0.0, 0.0))
    half = fit.coefficient(0, "").half_width
    rate = fit.coefficient(1, "").scaled(100.0, "%/yr")
    return ResistanceTrend(
        tuple(start.tolist()), tuple(level.tolist()),
        tuple((np.array([log.after_10_s_sd for _, log in held]) * level / ohms).tolist()),
        Estimate(math.exp(now), math.exp(now - half), math.exp(now + half), "mohm"),
        rate, per_kelvin, _cold_logs(start, ohms, level, cold))


def _fit(log_ohms: Floats, cold: Floats, years: Floats) -> tuple[LineFit, float]:
    """Level at the end and at 20 degC, rate a year, and the temperature term."""
    one = np.ones(len(years))
    if float(np.ptp(cold)) < RANGE_MIN_K:
        return huber_fit(np.column_stack([one, years]), log_ohms - USUAL_PER_K * cold), USUAL_PER_K
    fit = huber_fit(np.column_stack([one, years, cold]), log_ohms)
    return fit, float(fit.coefficients[2])


def _row(fit: LineFit, years: float, cold: float) -> tuple[float, ...]:
    return (1.0, years, cold)[: len(fit.coefficients)]


def _cold_logs(start: Floats, ohms: Floats, level: Floats, cold: Floats) -> tuple[ColdLog, ...]:
    found = []
    for k in np.flatnonzero(cold <= -COLD_K):
        near = np.argsort(np.abs(start - start[k]))[1: NEIGHBOURS + 1]
        usual = float(np.median(level[near]))
        rise, left = float(ohms[k]) / usual - 1, float(level[k]) / usual - 1
        if rise >= COLD_RISE and abs(left) < 2 * SCATTER:
            found.append(ColdLog(float(start[k]), float(cold[k] + REFERENCE_C), rise, left))
    return tuple(_worst_of_spells(found))


def _worst_of_spells(found: list[ColdLog]) -> list[ColdLog]:
    """Of cold drives within a few days the one with the largest rise."""
    return [log for log in found if all(
        log.rise >= other.rise for other in found if abs(other.start_s - log.start_s) < SPELL_S)]
