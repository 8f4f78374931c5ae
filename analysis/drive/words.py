"""Plain sentences from figures: what a moment of a log means, and a whole drive.

Pure functions of numbers. ``moments_of`` prepares, for a whole log at once, what a sentence needs
at each row; ``moment_sentence`` puts one into words, cheap enough to follow a cursor.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from ..one_log.charge import display_step_a
from ..one_log.rest import REST_STEPS, Rest, find_rest, is_zero_error
from ..one_log.rolling import rolling_mean
from ..one_log.sign import Convention, SignFinding
from ..phrases import amps_size, hours_text, percent_text, watts_size
from ..telemetry import Floats, Telemetry
from ..timebase import Gap, observe

#: Amps this small are called none: about two steps of a common display. [A]
STILL_A: Final = 0.25
#: Amps shown at rest are told from this on. [A]
REST_TOLD_A: Final = 0.1
#: The window of the mean that hours left are worked out with. [s]
MEAN_WINDOW_S: Final = 300.0
MINUS_IS_OUT: Final = SignFinding("negative_is_discharge")
_NAN: Final = float("nan")


@dataclass(frozen=True, slots=True)
class Moment:
    """The figures of one moment; NaN is missing. Amps positive into the pack."""

    current_a: float = _NAN
    voltage_v: float = _NAN
    soc_pct: float = _NAN
    #: Mean amps over the time just before. [A]
    mean_current_a: float = _NAN
    #: How much of that time was seen. [s]
    mean_seconds: float = _NAN
    #: Amp-hours left, and whether the display tells them (or they are worked out).
    left_ah: float = _NAN
    left_is_told: bool = False
    #: What the log's amps read at rest, where this moment is at rest and they read something. [A]
    at_rest_a: float = _NAN
    #: Amps into a pack that rests, in a log of driving: no load, and no charger's trickle.
    is_zero_error: bool = False

    @property
    def hours_left(self) -> float:
        """Hours until empty at the mean; NaN if unknown or nothing flows out."""
        out_a = -self.mean_current_a
        return self.left_ah / out_a if out_a > STILL_A and self.left_ah >= 0 else _NAN


@dataclass(frozen=True, slots=True)
class Moments:
    """What sentences need, at each row of a log."""

    telemetry: Telemetry
    mean_current_a: Floats
    mean_seconds: Floats
    left_ah: Floats
    left_is_told: bool
    rest: Rest | None
    #: What the display shows no finer than. [A]
    step_a: float
    is_zero_error: bool

    def at(self, row: int) -> Moment:
        """The moment of one row."""
        columns = self.telemetry.columns
        amps, volts, percent = (float(columns[name][row]) if name in columns else _NAN
                                for name in ("current_a", "voltage_v", "soc_pct"))
        return Moment(amps, volts, percent, float(self.mean_current_a[row]),
                      float(self.mean_seconds[row]), float(self.left_ah[row]), self.left_is_told,
                      self.at_rest_a(amps), self.is_zero_error)

    def at_rest_a(self, current_a: float) -> float:
        """What the log reads at rest, if these amps are no more than that; NaN otherwise. [A]"""
        if self.rest is None or abs(self.rest.current_a) < REST_TOLD_A:
            return _NAN
        near_a = REST_STEPS * max(self.step_a, 0.01)
        return self.rest.current_a if abs(current_a - self.rest.current_a) <= near_a else _NAN


def moments_of(telemetry: Telemetry, capacity_ah: float | None = None) -> Moments:
    """Prepare the sentences of a whole log.

    Parameters
    ----------
    telemetry
        Amps in packhand's sign.
    capacity_ah
        What 100 % holds, if known; needed for hours left where the monitor does not tell
        amp-hours left. [Ah]
    """
    mean_a, seconds = rolling_mean(telemetry, "current_a", MEAN_WINDOW_S)
    if "charge_left_ah" in telemetry:
        left, is_told = telemetry["charge_left_ah"], True
    else:
        left, is_told = telemetry["soc_pct"] / 100 * (capacity_ah or _NAN), False
    return Moments(telemetry, mean_a, seconds, left, is_told, *_at_rest(telemetry))


def _at_rest(telemetry: Telemetry) -> tuple[Rest | None, float, bool]:
    """What the amps read at rest, the step of the display, whether it is a zero error."""
    if "current_a" not in telemetry:
        return None, _NAN, False
    seen = observe(telemetry, "current_a")
    amps = seen.pick(telemetry["current_a"])
    step_a = display_step_a(amps)
    if len(amps) < 2:
        return None, step_a, False
    rest = find_rest(amps, seen, step_a)
    return rest, step_a, rest is not None and is_zero_error(rest, amps)


def moment_sentence(moment: Moment, sign: SignFinding = MINUS_IS_OUT) -> str:
    """What a moment's figures mean, in one sentence.

    Such as "Minus means out of the pack: 23 A out, 1.2 kW; at the mean of the last five minutes
    3 h 10 left." ``sign`` is how the monitor shows amps, so that the sentence speaks of the sign on
    the person's display.
    """
    convention = sign.convention
    if math.isnan(moment.current_a):
        return "No amps were heard at this moment."
    if not math.isnan(moment.at_rest_a) and convention != "undecided":
        return f"{_at_rest_words(moment, convention)}{_rest(moment)}."
    if abs(moment.current_a) < STILL_A:
        return f"Almost nothing flows{_rest(moment)}{_hours(moment)}."
    if convention == "undecided":
        return f"{amps_size(moment.current_a)}{_watts(moment)}; {sign.open_words}."
    is_out = moment.current_a < 0
    way = "out" if is_out else "in"
    return (f"{_meaning(convention, is_out)}: {amps_size(moment.current_a)} {way}"
            f"{_watts(moment)}{_hours(moment)}.")


def _at_rest_words(moment: Moment, convention: Convention) -> str:
    """The zero error, or what else it may be; without a sign on the display that stays open."""
    is_in = moment.is_zero_error and convention != "unsigned"
    what = "most likely the monitor's zero error, no load" if is_in else (
        "the monitor's zero error, or something small that is on")
    return f"{abs(moment.at_rest_a):.2f} A shown at rest is {what}"


def _meaning(convention: Convention, is_out: bool) -> str:
    into = "out of the pack" if is_out else "into the pack"
    if convention == "unsigned":
        return f"The display shows no sign; the volts say {into}"
    is_minus = is_out == (convention == "negative_is_discharge")
    return f"{'Minus' if is_minus else 'Plus'} means {into}"


def _watts(moment: Moment) -> str:
    watts = moment.current_a * moment.voltage_v
    return "" if math.isnan(watts) else f", {watts_size(watts)}"


def _rest(moment: Moment) -> str:
    parts = []
    if not math.isnan(moment.voltage_v):
        parts.append(f"{moment.voltage_v:.1f} V")
    if not math.isnan(moment.soc_pct):
        parts.append(percent_text(moment.soc_pct))
    return f": {', '.join(parts)}" if parts else ""


def _hours(moment: Moment) -> str:
    hours = moment.hours_left
    if math.isnan(hours):
        return ""
    minutes = moment.mean_seconds / 60
    window = "the last five minutes" if minutes > 4.5 else "the time so far"
    about = "" if moment.left_is_told else "about "
    return f"; at the mean of {window} {about}{hours_text(hours)} left"


def gap_sentence(gap: Gap) -> str:
    """What to say while nothing was heard."""
    seconds = gap.seconds
    length = f"{seconds:.0f} s" if seconds < 120 else hours_text(seconds / 3600)
    return f"Nothing was heard for {length}: {gap.cause}."
