"""What the pack holds: full tests, fills from low, and other spans between anchors.

Each span gives a share of the scale ``x`` between two anchors and the amp-hours ``y`` counted
between them, both with an error. Spans are joined by weighted total least squares: with
``y = Q x``, ``Q`` minimises

    chi2(Q) = sum (y - Q x)^2 / (s_y^2 + Q^2 s_x^2)

(G. L. Plett, *Journal of Power Sources* 196 (2011) 2319), and its interval is where ``chi2`` is
within 3.84 of its least, solved for the two roots. A plain regression of ``y`` on ``x`` is biased
low. A gain error of the amps goes into ``Q`` in full and never averages out: it is added last.

No capacity is ever worked out between two mid-range points: the flat volts of iron phosphate tell
nothing there, and a displayed percent that counts gives back its own setting.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import numpy as np

from ..estimate import Answer, Estimate, NoEstimate
from ..fitting.student import CHI2_95_ONE
from ..one_log.charge import COVERAGE_FACTOR, Instrument
from ..telemetry import Floats

#: With a relative error of the shares larger than this the answer is useless and refused.
SHARE_ERROR_MAX: Final = 0.2
#: From this many spans on their scatter may widen the interval.
SCATTER_SPANS: Final = 6
_NEXT: Final = "fill fully, then drive or discharge to the low end in one go, logging all of it"


def capacity_from_spans(share: Floats, charge_ah: Floats, share_sd: Floats, charge_sd: Floats, *,
                        instrument: Instrument | None = None) -> Answer:
    """Capacity from spans between anchors, errors in both variables.

    Parameters
    ----------
    share
        Part of the whole scale each span covers, 0.6 for from 90 to 30 %; shape (n,).
    charge_ah
        Counted in the same direction. [Ah]
    share_sd, charge_sd
        Standard uncertainties; positive. The count's without its gain.
    instrument
        Its gain is added to the interval; leave it out for comparisons by one meter.

    Returns
    -------
    Estimate or NoEstimate
        In Ah, 95 %. Refused without spans, or if the shares are too uncertain to give an upper
        end.
    """
    if not len(share):
        return NoEstimate("no span between two anchors", _NEXT)
    strength = float(np.sum((share / share_sd) ** 2))
    if strength < 1 / SHARE_ERROR_MAX**2:
        return NoEstimate("the spans are too short for how well their ends are known", _NEXT)

    def misfit(capacity: float) -> float:
        return float(np.sum((charge_ah - capacity * share) ** 2
                            / (charge_sd**2 + (capacity * share_sd) ** 2)))

    best = _least(misfit, _first_guess(share, charge_ah, share_sd, charge_sd))
    least, rise = misfit(best), CHI2_95_ONE
    freedom = len(share) - 1
    if len(share) >= SCATTER_SPANS and least > freedom:
        rise *= least / freedom
    if strength <= least + rise or best <= 0:
        return NoEstimate("the spans are too uncertain to give an upper end", _NEXT)
    low = _root(lambda q: misfit(q) - least - rise, best, 0.5)
    high = _root(lambda q: misfit(q) - least - rise, best, 2.0)
    gain = instrument.gain / math.sqrt(3) * COVERAGE_FACTOR * best if instrument else 0.0
    return Estimate(best, best - math.hypot(best - low, gain), best + math.hypot(high - best, gain),
                    "Ah")


def proportional_fit(share: Floats, charge_ah: Floats, ratio: float) -> float:
    """Total least squares in closed form, for errors with one ratio ``s_x / s_y``.

    ``Q = (-c1 + k^2 c3 + sqrt((c1 - k^2 c3)^2 + 4 k^2 c2^2)) / (2 k^2 c2)`` with ``c1 = sum x^2``,
    ``c2 = sum x y``, ``c3 = sum y^2`` (Plett 2011; formula from memory, checked in the tests
    against the minimum itself).
    """
    c1, c2, c3 = float(share @ share), float(share @ charge_ah), float(charge_ah @ charge_ah)
    k2 = ratio * ratio
    return (-c1 + k2 * c3 + math.sqrt((c1 - k2 * c3) ** 2 + 4 * k2 * c2 * c2)) / (2 * k2 * c2)


def _first_guess(share: Floats, charge_ah: Floats, share_sd: Floats, charge_sd: Floats) -> float:
    """The closed form with the median of the errors' ratios."""
    return proportional_fit(share, charge_ah, float(np.median(share_sd / charge_sd)))


def _least(misfit: Callable[[float], float], guess: float) -> float:
    """Golden section around a guess, on a scale of factors."""
    low, high = math.log(guess) - 1.0, math.log(guess) + 1.0
    shrink = (math.sqrt(5) - 1) / 2
    for _ in range(90):
        a, b = high - shrink * (high - low), low + shrink * (high - low)
        low, high = (low, b) if misfit(math.exp(a)) < misfit(math.exp(b)) else (a, high)
    return math.exp((low + high) / 2)


def _root(excess: Callable[[float], float], inside: float, factor: float) -> float:
    """Where a misfit that is below 0 at ``inside`` rises to 0, in steps of ``factor``."""
    outside = inside * factor
    while excess(outside) < 0 and 1e-6 * inside < outside < 1e6 * inside:
        outside *= factor
    for _ in range(100):
        middle = (inside + outside) / 2
        inside, outside = (middle, outside) if excess(middle) < 0 else (inside, middle)
    return (inside + outside) / 2
