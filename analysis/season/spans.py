"""Spans of a logbook between moments at which the charge left is known, counted across logs.

A span joins two neighbouring anchors, from full to empty or from low to full. Its count is the
sum over the logs in between, each with its zero error taken off; time that nobody saw adds what a
parked pack may have lost. What is left in the pack at a *low* anchor is learnt from the pack's own
discharges to empty where there is one, else from a general curve with a wide error.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

import numpy as np

from ..digest import LogDigest
from ..one_log.anchors import Anchor, LogAnchors
from ..one_log.charge import SECONDS_PER_HOUR
from ..one_log.use import LogUse
from .zero import LogZero, ZeroHistory, zero_history

SpanMethod = Literal["full test", "full to empty", "refill", "low to full", "full to low"]

#: How well a full or an empty pack is known. [Ah of 100 Ah] (job practice: 0.6 Ah at both ends)
END_SD: Final = 0.004
#: A pack's rest near empty, from its own discharge to empty. [parts]
OWN_LOW_SD: Final = 0.005
#: Rested volts of iron phosphate near empty against percent left. [V, %]
#: (low-rate charge curves of two cells, He and others 2026 and another, differ by 1.5 points;
#: rounded here)
GENERAL_LOW: Final = ((2.8, 0.5), (3.0, 2.0), (3.05, 3.0), (3.1, 4.0), (3.15, 5.0), (3.2, 7.0))
GENERAL_LOW_SD: Final = 0.02
#: Loss of capacity below 20 degC, and how well that is known. [parts per kelvin]
#: (common practice, no source: about a tenth to a fifth less at 0 degC than at 25 degC)
PER_KELVIN, PER_KELVIN_SD = 0.005, 0.0012
REFERENCE_C: Final = 20.0
#: What a parked, unseen pack may lose. [A] (common practice, no source)
PARKED_SD_A: Final = 0.03
#: A span with more unseen time than this is not counted. [s]
UNSEEN_MAX_S: Final = 4 * 86400.0
#: Discharged in one log, within this time: a test. [s]
TEST_MAX_S: Final = 86400.0


@dataclass(frozen=True, slots=True)
class Span:
    """Charge counted between two anchors."""

    method: SpanMethod
    #: When it ended [Unix s], and the log that it ended in.
    end_s: float
    log: str
    #: Counted out of or into the pack, zero error off; positive. [Ah]
    charge_ah: float
    #: Standard uncertainty of the count, gain left out. [Ah]
    charge_sd: float
    #: Part of the whole scale, and its standard uncertainty.
    share: float
    share_sd: float
    #: Mean of the pack's sensor; NaN if it has none. [degC]
    temp_c: float

    @property
    def at_reference_ah(self) -> float:
        """Capacity that this span alone gives, at 20 degC where the temperature is known. [Ah]"""
        return self.charge_ah / self.share / (1 - PER_KELVIN * self._cold_k)

    @property
    def sd_ah(self) -> float:
        """Standard uncertainty of it by the same meter: gain left out. [Ah]"""
        cold = self._cold_k * PER_KELVIN_SD
        return self.at_reference_ah * math.sqrt((self.charge_sd / self.charge_ah) ** 2
                                                + (self.share_sd / self.share) ** 2 + cold**2)

    @property
    def _cold_k(self) -> float:
        """Kelvin below 20 degC; above it capacity hardly changes."""
        return 0.0 if math.isnan(self.temp_c) else max(0.0, REFERENCE_C - self.temp_c)


@dataclass(frozen=True, slots=True)
class Moment:
    """An anchor on the logbook's own axis."""

    anchor: Anchor
    #: Place of its log.
    place: int
    moment_s: float
    #: Since the logbook's start: counted with the zero error off [Ah], and seen [s].
    net_ah: float
    seen_s: float


def find_spans(digests: Sequence[LogDigest]) -> tuple[Span, ...]:
    """Every span of a logbook that gives a capacity, oldest first.

    ``digests`` are of one pack, with the parts ``anchors``, ``use`` and ``zero``.
    """
    zero = zero_history([(d.start_s, d.of(LogZero)) for d in digests])
    moments = place_anchors(digests, zero)
    left = _own_low(digests)
    found = []
    for first, last in pairwise(_telling(moments)):
        # Of fulls in a row the last begins a span, and of fulls after an empty the first ends it.
        if span := _span(first, last, digests, zero.uncertainty_a(), left):
            found.append(span)
    return tuple(found)


def _telling(moments: list[Moment]) -> list[Moment]:
    """Without the *low* ones between two fulls that also saw *empty*, which is known better."""
    fulls = [-1, *(k for k, m in enumerate(moments) if m.anchor.kind == "full"), len(moments)]
    ran_empty = [a for a, b in pairwise(fulls)
                 if any(m.anchor.kind == "empty" for m in moments[a + 1:b])]
    return [m for k, m in enumerate(moments) if m.anchor.kind != "low"
            or fulls[bisect_left(fulls, k) - 1] not in ran_empty]


def place_anchors(digests: Sequence[LogDigest], zero: ZeroHistory) -> list[Moment]:
    """All anchors with the charge counted since the logbook's start."""
    net_ah = seen_s = 0.0
    moments = []
    for place, digest in enumerate(digests):
        part = digest.of(LogAnchors)
        level = zero.level_at(digest.start_s)
        error_a = 0.0 if math.isnan(level) else level
        for anchor in part.anchors:
            count = anchor.net_ah - error_a * anchor.seen_s / SECONDS_PER_HOUR
            moments.append(Moment(anchor, place, digest.start_s + anchor.elapsed_s,
                                   net_ah + count, seen_s + anchor.seen_s))
        if math.isfinite(part.net_ah):
            net_ah += part.net_ah - error_a * part.seen_s / SECONDS_PER_HOUR
        seen_s += part.seen_s
    return moments


def _own_low(digests: Sequence[LogDigest]) -> list[tuple[float, float]]:
    """The pack's own (volts, Ah left) from its discharges to empty, averaged; may be empty.

    A zero error stays in: over the last quarter of an hour it moves a figure by less than the
    figure's own error.
    """
    curves = [dict(d.of(LogAnchors).left_at_low) for d in digests if d.of(LogAnchors).left_at_low]
    marks = sorted({mark for curve in curves for mark in curve})
    return [(mark, float(np.mean([curve[mark] for curve in curves if mark in curve])))
            for mark in marks]


def _span(first: Moment, last: Moment, digests: Sequence[LogDigest], zero_sd_a: float,
          own_low: list[tuple[float, float]]) -> Span | None:
    charge_ah = abs(last.net_ah - first.net_ah)
    seen_s = last.seen_s - first.seen_s
    unseen_s = max(0.0, last.moment_s - first.moment_s - seen_s)
    kinds = (first.anchor.kind, last.anchor.kind)
    is_out = kinds[0] == "full"
    if kinds == ("low", "empty") or kinds[1] == kinds[0] or unseen_s > UNSEEN_MAX_S or (
            (last.net_ah < first.net_ah) != is_out) or "full" not in kinds:
        return None
    low = next((m for m in (first, last) if m.anchor.kind == "low"), None)
    rest, rest_sd = (0.0, 0.0) if low is None else _left(low.anchor.low_v, own_low, charge_ah)
    spread = math.hypot(zero_sd_a * seen_s, PARKED_SD_A * unseen_s) / SECONDS_PER_HOUR
    logs = digests[first.place: last.place + 1]
    spread = math.sqrt(spread**2 + sum(d.of(LogUse).count_sd_ah ** 2 for d in logs))
    whole = charge_ah + rest
    share_sd = math.hypot(math.sqrt(2) * END_SD, rest_sd / whole)
    return Span(_method(first, last, digests), last.moment_s, digests[last.place].log, charge_ah,
                spread, charge_ah / whole, share_sd, _mean_temp(logs))


def _method(first: Moment, last: Moment, digests: Sequence[LogDigest]) -> SpanMethod:
    kinds = (first.anchor.kind, last.anchor.kind)
    if kinds == ("empty", "full"):
        return "refill"
    if kinds == ("low", "full"):
        return "low to full"
    if kinds == ("full", "low"):
        return "full to low"
    is_test = digests[last.place].of(LogUse).kind == "test"
    short = last.moment_s - first.moment_s <= TEST_MAX_S
    return "full test" if is_test and short else "full to empty"


def _left(low_v: float, own: list[tuple[float, float]], charge_ah: float) -> tuple[float, float]:
    """Amp-hours left at rested volts near empty, and the standard uncertainty. [Ah]"""
    volts, left = zip(*own, strict=True) if own else ((), ())
    if len(volts) >= 3 and volts[0] <= low_v <= volts[-1]:
        return float(np.interp(low_v, volts, left)), OWN_LOW_SD * charge_ah
    general_v, percent = zip(*GENERAL_LOW, strict=True)
    share = float(np.interp(low_v, general_v, percent)) / 100
    return charge_ah * share / (1 - share), GENERAL_LOW_SD * charge_ah


def _mean_temp(logs: Sequence[LogDigest]) -> float:
    """Mean of the sensor over the logs, by the charge that each moved. [degC]"""
    uses = [d.of(LogUse) for d in logs]
    pairs = [(u.temp_mean_c, u.into_ah + u.out_ah) for u in uses
             if math.isfinite(u.temp_mean_c) and u.into_ah + u.out_ah > 0]
    weight = sum(w for _, w in pairs)
    return sum(c * w for c, w in pairs) / weight if weight else math.nan
