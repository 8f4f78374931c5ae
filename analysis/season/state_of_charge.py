"""The charge left, counted from the last anchor, with an interval that grows until the next.

    s = s_a + q / Q,   u^2 = u_a^2 + (u_o t / Q)^2 + (g q / Q)^2 + (u_Q q / Q^2)^2 + (u_p t_p / Q)^2

with ``q`` the charge counted since the anchor, ``Q`` the capacity, ``u_o`` the zero's and ``g`` the
gain's standard uncertainty, ``t`` the time that was seen and ``t_p`` the time that was not. No
filter on the volts: with a general curve of iron phosphate it is worse than none.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..digest import LogDigest
from ..estimate import Answer, Estimate, NoEstimate
from ..one_log.anchors import LogAnchors
from ..one_log.charge import COVERAGE_FACTOR, SECONDS_PER_HOUR, Instrument
from .spans import GENERAL_LOW, GENERAL_LOW_SD, PARKED_SD_A, UNSEEN_MAX_S, place_anchors
from .zero import LogZero, zero_history

#: How well a full or an empty pack is known. [parts]
ANCHOR_SD: Final = 0.005
#: Between these rested volts a cell of iron phosphate tells nothing about its charge. [V]
FLAT_V: Final = (3.20, 3.40)


@dataclass(frozen=True, slots=True)
class Reckoning:
    """What was counted since an anchor."""

    #: Share of the scale at the anchor, and its standard uncertainty.
    share: float
    share_sd: float
    #: Counted since, positive in, zero error off. [Ah]
    net_ah: float
    seen_s: float
    unseen_s: float = 0.0


def charge_left(since: Reckoning, capacity: Estimate, zero_sd_a: float,
                instrument: Instrument | None = None) -> Answer:
    """State of charge. [%]

    Parameters
    ----------
    capacity
        In Ah; its interval is taken as 95 % of a normal.
    zero_sd_a
        Standard uncertainty of what is left of the zero error. [A]
    instrument
        For its gain; a usual shunt monitor by default.

    Returns
    -------
    Estimate or NoEstimate
        Held within 0 and 100. Refused where the interval covers more than half of the scale.
    """
    gain = (instrument or Instrument()).gain / math.sqrt(3)
    moved = since.net_ah / capacity.value
    spread = math.sqrt(
        since.share_sd**2 + (gain * moved) ** 2
        + (capacity.half_width / COVERAGE_FACTOR / capacity.value * moved) ** 2
        + (zero_sd_a * since.seen_s / SECONDS_PER_HOUR / capacity.value) ** 2
        + (PARKED_SD_A * since.unseen_s / SECONDS_PER_HOUR / capacity.value) ** 2)
    half = 100 * COVERAGE_FACTOR * spread
    if half > 25:
        return NoEstimate("the last full charge is too long ago to count from",
                          "charge until full: the tail must taper, or one cell reach its top")
    value, low, high = (min(100.0, max(0.0, 100 * (since.share + moved) + shift))
                        for shift in (0.0, -half, half))
    return Estimate(value, low, high, "%")


def rest_volts(cell_v: float) -> Answer:
    """What the rested volts of one iron-phosphate cell say about its charge. [%]

    Only near empty they say something: in the flat middle 1 mV is several percent, and two cells
    of one kind differ by more (slope of measured curves: 0.2 to 5 mV per percent from 20 to 95 %).
    Above, volts depend more on the rest since the charge than on the charge.
    """
    if not math.isfinite(cell_v):
        return NoEstimate("no cell volts", "log the single cells")
    if cell_v > FLAT_V[0]:
        where = "in the flat middle" if cell_v < FLAT_V[1] else "still settling after a charge"
        return NoEstimate(f"{cell_v:.2f} V at rest is {where}: the volts of iron phosphate tell "
                          "nothing about the charge there", "charge until full, then count")
    volts, percent = zip(*GENERAL_LOW, strict=True)
    value, half = float(np.interp(cell_v, volts, percent)), 200 * GENERAL_LOW_SD
    return Estimate(value, max(0.0, value - half), value + half, "%")


def charge_left_at_end(digests: Sequence[LogDigest], capacity: Answer) -> Answer:
    """State of charge at the end of a logbook. [%]

    ``digests`` are of one pack, with the parts ``anchors``, ``use`` and ``zero``.
    """
    if isinstance(capacity, NoEstimate):
        return capacity
    zero = zero_history([(d.start_s, d.of(LogZero)) for d in digests])
    known = [m for m in place_anchors(digests, zero) if m.anchor.kind != "low"]
    if not known:
        return NoEstimate("the pack was never seen full or empty", "charge until full, logging it")
    last = known[-1]
    net_ah = seen_s = 0.0
    for digest in digests:
        part = digest.of(LogAnchors)
        level = zero.level_at(digest.start_s)
        net_ah += part.net_ah - (0.0 if math.isnan(level) else level) * part.seen_s / (
            SECONDS_PER_HOUR) if math.isfinite(part.net_ah) else 0.0
        seen_s += part.seen_s
    unseen_s = digests[-1].end_s - last.moment_s - (seen_s - last.seen_s)
    if unseen_s > UNSEEN_MAX_S * 5:
        return NoEstimate("weeks since the last full charge were not logged",
                          "charge until full, logging it")
    return charge_left(Reckoning(1.0 if last.anchor.kind == "full" else 0.0, ANCHOR_SD,
                                 net_ah - last.net_ah, seen_s - last.seen_s, max(0.0, unseen_s)),
                       capacity, zero.uncertainty_a())
