"""Energy that the pack gives: full, and left now above a reserve."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from ..digest import LogDigest
from ..estimate import Answer, Estimate, NoEstimate
from ..one_log.use import LogUse
from ..phrases import type_label
from ..season.capacity_now import capacity_as_counted, spans_of_late
from ..season.spans import Span, find_spans
from ..season.state_of_charge import charge_left_at_end
from .consumption import is_drive

#: Parts that these answers need.
PARTS_NEEDED: Final = ("use", "trips", "anchors", "zero")
#: A rating is met to about a tenth either way (common practice, no source).
RATED_SHARE: Final = 0.1
#: What the displayed percent may be off by, beside its own step. [points] (common practice)
PERCENT_OFF: Final = 3.0
#: Drives that count as of now, and spans where none is of late.
RECENT_DRIVES, RECENT_SPANS = 10, 6
_NEXT: Final = (f"{type_label('the rated amp-hours', 'rated_ah')}, or discharge from full to empty "
                "in one log")


def capacity_now_ah(digests: Sequence[LogDigest], rated_ah: float | None) -> Answer:
    """What the pack holds at the temperatures of late: measured, else as rated. [Ah]"""
    measured = capacity_as_counted(telling_spans(digests))
    if isinstance(measured, Estimate):
        return measured
    if rated_ah is None:
        return NoEstimate("the capacity of the pack is not known", _NEXT)
    return Estimate.around(rated_ah, RATED_SHARE * rated_ah, "Ah")


def telling_spans(digests: Sequence[LogDigest]) -> tuple[Span, ...]:
    """The spans between anchors that tell what the pack holds now: those of late, or where there
    are none the last ones."""
    spans = find_spans(digests)
    return spans_of_late(spans, digests[-1].end_s if digests else 0.0) or spans[-RECENT_SPANS:]


def full_energy_wh(digests: Sequence[LogDigest], capacity_ah: Answer) -> Answer:
    """What a full pack gives on the road: capacity times the mean volts of the last drives."""
    if isinstance(capacity_ah, NoEstimate):
        return capacity_ah
    drives = [d.of(LogUse) for d in digests if is_drive(d)][-RECENT_DRIVES:]
    known = [u for u in drives if math.isfinite(u.out_wh) and u.out_ah > 0]
    if not known:
        return NoEstimate("no drive has both amps and volts", "log volts beside amps")
    volts = sum(u.out_wh for u in known) / sum(u.out_ah for u in known)
    return capacity_ah.scaled(volts, "Wh")


def percent_now(digests: Sequence[LogDigest], capacity_ah: Answer) -> Answer:
    """What is left: counted from the last anchor, else as the last log displays it. [%]"""
    counted = charge_left_at_end(digests, capacity_ah)
    if isinstance(counted, Estimate):
        return counted
    told = [p for d in digests if math.isfinite(p := d.of(LogUse).percent_end)]
    if not told:
        return NoEstimate("no log tells what is left",
                          "log the percent, or type it with --percent")
    return displayed_percent(told[-1])


def displayed_percent(percent: float) -> Estimate:
    """A displayed percent with what it is usually off by. [%]"""
    return Estimate(percent, max(0.0, percent - PERCENT_OFF), min(100.0, percent + PERCENT_OFF),
                    "%")


def above_reserve(percent: Answer, reserve_pct: float) -> Answer:
    """Percent left above a reserve, not below none. [%]"""
    if isinstance(percent, NoEstimate):
        return percent
    low, value, high = (max(0.0, p - reserve_pct)
                        for p in (percent.low, percent.value, percent.high))
    if value <= 0:
        return NoEstimate(f"{percent.value:.0f} % is not above the reserve of {reserve_pct:.0f} %",
                          "charge")
    return Estimate(value, low, high, "%", percent.coverage)


def usable_wh(full_wh: Answer, left: Answer) -> Answer:
    """Energy in the part of the percent that is left: relative half widths in quadrature. [Wh]"""
    if isinstance(left, NoEstimate):
        return left
    if isinstance(full_wh, NoEstimate):
        return full_wh
    value = full_wh.value * left.value / 100
    down = math.hypot(1 - full_wh.low / full_wh.value, 1 - left.low / left.value)
    up = math.hypot(full_wh.high / full_wh.value - 1, left.high / left.value - 1)
    return Estimate(value, value * max(0.0, 1 - down), value * (1 + up), "Wh")
