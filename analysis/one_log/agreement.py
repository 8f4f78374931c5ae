"""Do the display's figures agree: amps, percent, hours left, capacity.

Hours left are amp-hours left over amps, and amp-hours left are percent of capacity. From any
three figures follows the fourth; where all are known and do not agree, the likeliest reasons are
tried in turn (job knowledge: common practice, no source).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from ..estimate import Answer, Estimate, NoEstimate, Verdict
from ..phrases import amps_size

#: How far figures read off a display may be off: half of what people round to.
AMPS_OFF_A: Final = 0.5
PERCENT_OFF: Final = 0.5
HOURS_OFF_H: Final = 2.5 / 60
#: A mean that explains the hours lies this near to the amps they imply.
MATCH: Final = 0.05
#: What a display holds back is rarely more than this. [%]
RESERVE_MAX_PCT: Final = 30.0


@dataclass(frozen=True, slots=True)
class Reading:
    """Figures as the display showed them at one moment. Amps in any sign."""

    current_a: float | None = None
    soc_pct: float | None = None
    hours_left: float | None = None
    voltage_v: float | None = None
    capacity_ah: float | None = None
    #: Mean amps over the last minutes by window ("5 min"), if a log tells them; in any sign.
    mean_current_a: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Explanation:
    """One reason why the figures may differ, and how to check it."""

    kind: str
    words: str
    check: str


@dataclass(frozen=True, slots=True)
class Agreement:
    """Whether the figures agree, and what each says about the others."""

    verdict: Verdict
    words: str
    #: What 100 % would hold if amps, percent and hours were all right. [Ah]
    implied_capacity_ah: Answer
    #: The amps that the hours left were worked out with. [A]
    implied_current_a: Answer
    #: Most likely first; empty if they agree.
    explanations: tuple[Explanation, ...]

    def as_json(self) -> dict[str, Any]:
        return {
            "verdict": self.verdict, "words": self.words,
            "implied_capacity_ah": self.implied_capacity_ah.as_json(),
            "implied_current_a": self.implied_current_a.as_json(),
            "explanations": [{"kind": e.kind, "words": e.words, "check": e.check}
                             for e in self.explanations],
        }


def check_figures(reading: Reading) -> Agreement:
    """Check whether a display's figures agree, allowing for their rounding."""
    capacity, amps = implied_capacity_ah(reading), implied_current_a(reading)
    if isinstance(capacity, Estimate) and reading.capacity_ah is not None:
        if capacity.low <= reading.capacity_ah <= capacity.high:
            return Agreement("yes", "The figures agree: amps times hours is what the percent "
                             "leaves of the capacity.", capacity, amps, ())
        reasons = _explanations(reading, capacity, amps)
        words = ("The figures do not agree: amps, percent and hours together would mean a pack of "
                 f"{capacity.value:.0f} Ah, not {reading.capacity_ah:.0f} Ah.")
        return Agreement("no", words, capacity, amps, reasons)
    if isinstance(capacity, Estimate):
        words = (f"They agree if 100 % is {capacity.low:.0f} to {capacity.high:.0f} Ah "
                 f"(about {capacity.value:.0f} Ah).")
        return Agreement("cannot tell yet", words, capacity, amps,
                         _explanations(reading, capacity, amps))
    if isinstance(amps, Estimate):
        words = f"The hours were worked out with {amps.low:.0f} to {amps.high:.0f} A."
        return Agreement("cannot tell yet", words, capacity, amps, ())
    return Agreement("cannot tell yet", f"Too few figures: {capacity.reason}.", capacity, amps, ())


def implied_capacity_ah(reading: Reading) -> Answer:
    """Amps times hours over percent. [Ah]"""
    amps, percent, hours = _size(reading.current_a), reading.soc_pct, reading.hours_left
    if amps is None or percent is None or hours is None:
        return NoEstimate("amps, percent and hours left are needed together",
                          "read all three at the same moment")
    if amps <= AMPS_OFF_A or percent <= PERCENT_OFF:
        return NoEstimate("with almost no amps or percent the hours mean nothing",
                          "read them while driving")
    return Estimate(
        amps * hours / percent * 100,
        (amps - AMPS_OFF_A) * max(hours - HOURS_OFF_H, 0.0) / (percent + PERCENT_OFF) * 100,
        (amps + AMPS_OFF_A) * (hours + HOURS_OFF_H) / (percent - PERCENT_OFF) * 100, "Ah")


def implied_current_a(reading: Reading) -> Answer:
    """Percent of the capacity over hours. [A]"""
    percent, hours, capacity = reading.soc_pct, reading.hours_left, reading.capacity_ah
    if percent is None or hours is None or capacity is None:
        return NoEstimate("percent, hours left and the capacity setting are needed together",
                          "look up the capacity that the display is set to")
    if hours <= HOURS_OFF_H:
        return NoEstimate("the hours left are almost none", "read them with more left")
    return Estimate(percent * capacity / 100 / hours,
                    max(percent - PERCENT_OFF, 0.0) * capacity / 100 / (hours + HOURS_OFF_H),
                    (percent + PERCENT_OFF) * capacity / 100 / (hours - HOURS_OFF_H), "A")


def _size(amps: float | None) -> float | None:
    return None if amps is None else abs(amps)


def _explanations(reading: Reading, capacity: Estimate,
                  amps: Answer) -> tuple[Explanation, ...]:
    """Reasons that fit, the most telling first: a matching mean, reserve, settings, a load."""
    found = []
    if isinstance(amps, Estimate):
        found += _matching_means(reading, amps)
        if not found:
            found.append(Explanation(
                "averaging", f"the hours come from a mean of about {amps_size(amps.value)}, not "
                f"from {amps_size(reading.current_a or 0.0)} now",
                "hold the same pace for fifteen minutes and read again"))
        reserve = _reserve(reading, capacity)
        if reserve is not None:
            found.append(reserve)
    found.append(Explanation(
        "capacity setting", f"the display is set to about {capacity.value:.0f} Ah",
        "look up the capacity in the display's settings"))
    if isinstance(amps, Estimate) and amps.value > abs(reading.current_a or 0.0):
        extra = amps.value - abs(reading.current_a or 0.0)
        found.append(Explanation(
            "unmeasured load", f"another {amps_size(extra)} flow past where the amps are measured",
            "compare with a clamp meter on the pack's lead"))
    return tuple(found)


def _matching_means(reading: Reading, amps: Estimate) -> list[Explanation]:
    near = [(abs(abs(mean) / amps.value - 1), name, abs(mean))
            for name, mean in reading.mean_current_a.items()]
    return [Explanation("averaging",
                        f"the hours fit the mean of the last {name}, {amps_size(mean)}",
                        "watch how fast the hours follow the amps")
            for off, name, mean in sorted(near) if off <= MATCH]


def _reserve(reading: Reading, capacity: Estimate) -> Explanation | None:
    """A share held back: the hours are worked out with less than the percent says."""
    if reading.capacity_ah is None or reading.soc_pct is None:
        return None
    held_pct = reading.soc_pct * (1 - capacity.value / reading.capacity_ah)
    if not 0 < held_pct <= RESERVE_MAX_PCT:
        return None
    return Explanation("reserve", f"the display keeps about {held_pct:.0f} % in reserve",
                       "see whether the hours reach zero before the percent does")
