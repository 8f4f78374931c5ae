"""Why a thermal breaker tripped: the RMS of the amps and the heat around it.

A thermal breaker is a strip that the amps warm: what counts is their RMS over minutes, not their
peak, and a warm enclosure takes part of the rating away.

References
----------
.. [1] Published derating of a thermal breaker: 100 A become 96 A at 50 °C, 92 A at 55 °C, 85 A at
   60 °C. Makers differ; theirs counts.
.. [2] Continuous load at most 80 % of the rating: inverse of the 125 % of NEC 210.20(A).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..estimate import Verdict
from ..limits import Limits
from .loading import LogLoading

#: Enclosure and share of the rating that is left there; rated at 40 °C.
DERATING: Final = ((40.0, 1.0), (50.0, 0.96), (55.0, 0.92), (60.0, 0.85))
#: Share of a rating that may flow for hours.
CONTINUOUS: Final = 0.8
#: What is to be done about one that is too small.
BREAKER_NEXT: Final = (
    "have a breaker fitted that its maker rates for these amps, this warmth and the pack's volts "
    "at the end of charge, in DC; local code and a licensed hand decide")
#: Heat of its place that a breaker is rated for. [degC]
COOL_C: Final = DERATING[0][0]


@dataclass(frozen=True, slots=True)
class BreakerLoad:
    """A breaker's rating against what flowed."""

    rating_a: float
    enclosure_c: float
    #: Worst RMS of four minutes. [A]
    rms_a: float
    #: What is left of the rating in that warmth. [A]
    derated_a: float
    #: Smallest rating that carries this RMS at 80 % in that warmth. [A]
    needed_a: float
    verdict: Verdict
    words: str


def derating(enclosure_c: float) -> float:
    """Share of a thermal breaker's rating that is left in a warm enclosure.

    A straight line between the published points; 1 below them, the last one above.
    """
    celsius, share = zip(*DERATING, strict=True)
    return float(np.interp(enclosure_c, celsius, share))


def breaker_load(rms_a: float, rating_a: float, enclosure_c: float, *, volts: float = math.nan,
                 rated_v: float = math.nan) -> BreakerLoad:
    """Whether the RMS of the amps explains a trip.

    Parameters
    ----------
    rms_a
        Worst RMS of four minutes. [A]
    volts
        The most the pack showed, or its charge end. [V]
    rated_v
        The breaker's DC volts. [V]

    Returns
    -------
    BreakerLoad
        ``yes`` if the RMS is above the derated rating, ``no`` if it is below 80 % of it, else
        ``cannot tell yet``.
    """
    left_a = rating_a * derating(enclosure_c)
    needed_a = rms_a / CONTINUOUS / derating(enclosure_c)
    verdict: Verdict = "yes" if rms_a > left_a else (
        "no" if rms_a <= CONTINUOUS * left_a else "cannot tell yet")
    told = {"yes": "that can trip it; the breaker is too small",
            "no": "that does not trip it: look for a hot joint, or a worn breaker",
            "cannot tell yet": "more than 80 % of it for minutes: it may trip when warm"}[verdict]
    words = (f"worst four minutes {rms_a:.0f} A RMS; a {rating_a:.0f} A thermal breaker at "
             f"{enclosure_c:.0f} °C carries {left_a:.0f} A: {told}. At 80 % this load needs "
             f"{needed_a:.0f} A or more.")
    if volts > rated_v:
        words += (f" It is marked for {rated_v:.0f} V DC, the pack reaches {volts:.1f} V: too low "
                  "in volts too.")
    return BreakerLoad(rating_a, enclosure_c, rms_a, left_a, needed_a, verdict, words)


def breaker_load_of(loading: LogLoading, limits: Limits,
                    enclosure_c: float = math.nan) -> BreakerLoad | None:
    """The same for a log; ``None`` where the rating is not typed or the log is too short.

    Without a heat of its place, the hottest of what is listed, the log's sensors and 40 °C stands
    in.
    """
    if not math.isfinite(limits.breaker_a) or not math.isfinite(loading.both_a):
        return None
    if not math.isfinite(enclosure_c):
        enclosure_c = max(c for c in (COOL_C, limits.breaker_c, loading.warmest_c)
                          if math.isfinite(c))
    return breaker_load(loading.both_a, limits.breaker_a, enclosure_c, volts=loading.highest_v,
                        rated_v=limits.breaker_v)
