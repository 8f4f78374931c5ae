"""Cells told apart by when they differ from their mates: from single logs to findings.

==================  ================  ==============  ============  ==========================
finding             near full         middle, rest    under load    near empty
==================  ================  ==============  ============  ==========================
charge offset       ahead (behind)    same            same          ahead (behind) by the same
low capacity        ahead, or level   same            same          behind
high resistance     same              same            low by amps   same, amps taken off
sense lead          -                 mirror          noisy         mirror
self-leak           falls behind      same            same          falls behind
==================  ================  ==============  ============  ==========================

Charge differs near the ends only; millivolts in the flat middle raise nothing by themselves.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final, Literal

import numpy as np

from ..estimate import Answer, Estimate, NoEstimate, Verdict
from ..fitting.robust_line import robust_slope
from ..telemetry import Floats
from .features import STRETCH_SHARE, CellDigest

Kind = Literal["charge_offset", "low_capacity", "high_resistance", "sense_lead", "self_leak",
               "frozen_sensor"]

#: A cell that came to be ahead or behind by this share of the capacity within a month is told, and
#: stays told down to half: five standard deviations of what healthy packs spread. Before, it may
#: have been a little off the other way, so it is looked at from a lower share. One that always was
#: ahead or behind, or drifted there, is told from the larger share.
OFFSET_SHARE: Final = 0.007
LOOKED_AT_SHARE: Final = 0.006
LASTING_SHARE: Final = 0.01
NEW_DAYS: Final = 30.0
#: Less capacity than the mates by this share is told, or a loss by the lower share against its
#: own first looks: cells of one batch spread by 0.7 %, but each stays as it is.
SMALL_SHARE: Final = 0.025
SHRUNK_SHARE: Final = 0.015
#: Falling behind near empty by this share, against its own first looks, is told.
FALLEN_SHARE: Final = 0.008
#: A cell that is empty first by this share, in a pack never seen near full, is told.
FIRST_EMPTY_SHARE: Final = 0.03
#: No figure repeats better than this. [Ah]
FLOOR_AH: Final = 0.05
#: Looks near empty that make a "before" and a "now".
LOOKS: Final = 3
#: Falling behind by this share a month is told as a leak.
LEAK_SHARE_PER_MONTH: Final = 0.007
#: This many standard deviations, for one of many cells stands out by chance at two.
SIGMAS: Final = 3.5
#: A leak is looked for over windows of this length, with so many charges. [days]
LEAK_DAYS, LEAK_LOGS = 28.0, 6
#: A pause from which a cell comes back behind its mates. [days]
PAUSE_DAYS: Final = 14.0
#: Near full and near empty must be seen within this time to be compared. [days]
PAIR_DAYS: Final = 14.0
#: What a pack without a known capacity is taken for. [Ah]
USUAL_AH: Final = 100.0
#: Amps of a board's bleeding if nobody says (common practice, no source: 0.05 to 0.2 A). [A]
BLEED_A: Final = 0.06
#: What of a digest tells the charge ahead near empty.
BOTTOM: Final = ("bottom_ah", "bottom_sd_ah", "bottom_further_ah")
_DAY_S: Final = 86_400.0
_MONTH_DAYS: Final = 30.44


@dataclass(frozen=True, slots=True)
class Dated:
    """One log's cells and when it began. [s, Unix time]"""

    start_s: float
    digest: CellDigest


@dataclass(frozen=True, slots=True)
class CellFinding:
    """What is so with one cell (or a pair of neighbours), and since when."""

    #: Number of the cell; of a pair, the lower one.
    cell: int
    kind: Kind
    verdict: Verdict
    words: str
    size: Answer
    next: str
    #: First and last log that shows it. [s, Unix time]
    first_s: float
    last_s: float
    #: Whether the latest log that could show it does.
    is_current: bool = True
    #: More figures by name.
    figures: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Series:
    """One figure of one cell over the logs that have it."""

    time_s: Floats
    value: Floats
    sd: Floats
    #: How much further from zero it may be, with its sign.
    further: Floats

    def __len__(self) -> int:
        return len(self.time_s)

    def near(self, time_s: float, days: float) -> Series:
        """The entries within so many days of a moment."""
        return self._of(np.abs(self.time_s - time_s) <= days * _DAY_S)

    def since(self, time_s: float) -> Series:
        return self._of(self.time_s >= time_s)

    def like_last(self) -> Series:
        """The entries that the last does not contradict: none from before a change."""
        apart = np.abs(self.value - self.value[-1])
        return self._of(apart <= SIGMAS * np.hypot(self.sd, self.sd[-1]))

    def _of(self, mask: Any) -> Series:
        return Series(self.time_s[mask], self.value[mask], self.sd[mask], self.further[mask])


def beyond(value: float, half: float, further: float, unit: str) -> Estimate:
    """An estimate whose interval reaches further on one side."""
    return Estimate(value, value - half + min(further, 0.0), value + half + max(further, 0.0), unit)


def series_of(logs: Sequence[Dated], cell: int, name: str, sd_name: str = "",
              further_name: str = "") -> Series:
    """A figure of a cell over the logs, those left out that lack it."""
    rows = []
    for log in logs:
        if cell not in log.digest.cells:
            continue
        place = log.digest.cells.index(cell)
        value = getattr(log.digest, name)[place]
        sd = getattr(log.digest, sd_name)[place] if sd_name else 0.0
        further = getattr(log.digest, further_name) if further_name else ()
        if math.isfinite(value) and math.isfinite(sd):
            rows.append((log.start_s, value, sd, further[place] if further else 0.0))
    return _series(rows)


def _series(rows: list[tuple[float, float, float, float]]) -> Series:
    return Series(*np.array(rows, dtype=float).reshape(-1, 4).T)


def spans(series: Series, enter: float, leave: float) -> list[tuple[int, int]]:
    """First and last place of each stretch in which the size of a figure stays large.

    It begins where two entries in a row (or the only one) reach ``enter`` by the margin of their
    standard deviations, and ends before two in a row that are below ``leave``.
    """
    size = np.abs(series.value)
    is_in = (size >= enter) & (size >= SIGMAS * series.sd)
    is_out = size < leave
    found: list[tuple[int, int]] = []
    place = 0
    while place < len(size):
        both = is_in[place:place + 2]
        if not both.all():
            place += 1
            continue
        end = place
        while end + 1 < len(size) and not is_out[end + 1:end + 3].all():
            end += 1
        found.append((place, end))
        place = end + 1
    return found


@dataclass(frozen=True, slots=True)
class CellState:
    """What a logbook knows of one cell's charge and capacity."""

    cell: int
    scale_ah: float
    top: Series
    bottom: Series
    #: Capacity that it lacks against the median cell, one entry for each look near empty. [Ah]
    lack: Series

    @property
    def lack_now(self) -> Answer:
        """The latest lack; of several within a month that agree with it, their weighted mean."""
        if not len(self.lack):
            return NoEstimate("the pack was not seen near full and near empty within two weeks",
                              "drive once to the knee, then charge to full, logging both")
        last = self.lack.since(float(self.lack.time_s[-1]) - _MONTH_DAYS * _DAY_S).like_last()
        weight = 1 / np.square(last.sd)
        value = float(weight @ last.value / weight.sum())
        return beyond(value, 2 * float(last.sd.min()), float(np.median(last.further)), "Ah")


def cell_states(logs: Sequence[Dated], capacity_ah: float | None = None) -> list[CellState]:
    """Charge and capacity of every cell.

    Parameters
    ----------
    logs
        Oldest first.
    capacity_ah
        What the pack holds, for thresholds only; by default what its percent reckons with. [Ah]
    """
    scales = [log.digest.scale_ah for log in logs if math.isfinite(log.digest.scale_ah)]
    scale = capacity_ah or (float(np.median(scales)) if scales else USUAL_AH)
    numbers = sorted({n for log in logs for n in log.digest.cells})
    return [_state(logs, n, scale) for n in numbers]


def _state(logs: Sequence[Dated], cell: int, scale_ah: float) -> CellState:
    top = series_of(logs, cell, "top_ah", "top_sd_ah")
    bottom = series_of(logs, cell, *BOTTOM)
    rows = []
    for time_s, value, sd, further in zip(bottom.time_s, bottom.value, bottom.sd, bottom.further,
                                          strict=True):
        beside = top.near(float(time_s), PAIR_DAYS)
        if not len(beside):
            continue
        nearest = int(np.argmin(np.abs(beside.time_s - time_s)))
        # Both are seen in the middle of their stretches, so the rest of the lack lies outside.
        whole = 1 / (1 - STRETCH_SHARE)
        rows.append((time_s, (beside.value[nearest] - value) * whole,
                     math.hypot(beside.sd[nearest], sd) * whole, -further * whole))
    return CellState(cell, scale_ah, top, bottom, _series(rows))


def charge_findings(state: CellState, bleed_a: float | None = None) -> list[CellFinding]:
    """Low capacity, self-leak and charge offset of one cell; the first that explains it."""
    small = _low_capacity(state) or _first_empty(state)
    if small:
        return [small]
    leak = _self_leak(state)
    return [leak] if leak else _offsets(state, bleed_a)


def _low_capacity(state: CellState) -> CellFinding | None:
    lack = state.lack_now
    if isinstance(lack, NoEstimate):
        return None
    scale, sd = state.scale_ah, (lack.value - lack.low) / 2
    shrunk = _fallen(state.lack, -1)
    is_small = lack.value >= SMALL_SHARE * scale and lack.value >= SIGMAS * sd
    # One that fell from above its mates to them is not small.
    if not (is_small or (shrunk >= SHRUNK_SHARE * scale and lack.low > 0)):
        return None
    share = 100 * (1 - lack.value / scale)
    first = state.lack.time_s[np.argmax(state.lack.value >= SHRUNK_SHARE * scale)]
    at_top = state.top.value[-1] if len(state.top) else 0.0
    ends = "first at both ends: full before its mates and empty before them" if (
        at_top > 2 * state.top.sd[-1]) else "empty before its mates, though full with them"
    return CellFinding(
        state.cell, "low_capacity", "yes",
        f"cell {state.cell} holds {lack.value:.1f} Ah less than its mates, {share:.0f} % of "
        f"theirs; {ends}. No charging cures that.", lack,
        "keep this log as evidence; claim if it is below what the maker warrants",
        float(first), float(state.lack.time_s[-1]), True, {"share_of_mates_pct": share})


def _first_empty(state: CellState) -> CellFinding | None:
    """A cell behind near empty in a pack that was never seen near full beside it."""
    bottom = state.bottom
    if len(state.lack) or not len(bottom):
        return None
    behind, sd = -float(np.median(bottom.value[-LOOKS:])), float(np.median(bottom.sd[-LOOKS:]))
    fallen = _fallen(bottom, 1)
    if not (behind >= max(FIRST_EMPTY_SHARE * state.scale_ah, SIGMAS * sd)
            or fallen >= FALLEN_SHARE * state.scale_ah):
        return None
    return CellFinding(
        state.cell, "low_capacity", "cannot tell yet",
        f"cell {state.cell} is empty {behind:.1f} Ah before its mates: a small cell, or one that "
        "is out of balance.",
        beyond(behind, 2 * sd, -float(np.median(bottom.further[-LOOKS:])), "Ah"),
        "log one full charge: a small cell is full with its mates or before them",
        float(bottom.time_s[0]), float(bottom.time_s[-1]))


def _fallen(series: Series, sign: int) -> float:
    """How far a figure fell from its first looks to its last; 0 without enough of them.

    Judged by the scatter of the looks themselves: what a curve gets wrong it gets wrong each time.
    """
    looks = min(len(series) // 2, 2 * LOOKS)
    if looks < LOOKS:
        return 0.0
    first, last = series.value[:looks], series.value[-looks:]
    change = sign * float(np.median(first) - np.median(last))
    scatter = max(float(np.std(first)), float(np.std(last)), FLOOR_AH)
    return change if change >= SIGMAS * scatter * math.sqrt(2 / looks) else 0.0


def _self_leak(state: CellState) -> CellFinding | None:
    """Falling behind the mates near full, over a month of charges or over one long pause."""
    found = _leak_over_pause(state) or _leak_by_slope(state)
    if not found:
        return None
    rate, first_s, last_s = found
    return CellFinding(
        state.cell, "self_leak", "yes",
        f"cell {state.cell} falls behind its mates by {rate.value:.1f} Ah a month "
        f"({100 * rate.value / state.scale_ah:.1f} %): it leaks. That is not lost capacity.",
        rate, "fill fully and long; watch the loss a month, and claim if it goes on",
        first_s, last_s, True)


def _leak_over_pause(state: CellState) -> tuple[Estimate, float, float] | None:
    top = state.top
    for k in np.flatnonzero(np.diff(top.time_s) >= PAUSE_DAYS * _DAY_S)[::-1]:
        lost = float(top.value[k] - top.value[k + 1])
        sd = math.hypot(top.sd[k], top.sd[k + 1])
        months = float(top.time_s[k + 1] - top.time_s[k]) / _DAY_S / _MONTH_DAYS
        if lost > OFFSET_SHARE * state.scale_ah and lost > SIGMAS * sd and (
                top.value[k + 1] < -OFFSET_SHARE / 2 * state.scale_ah):
            return (Estimate.around(lost / months, 2 * sd / months, "Ah/month"),
                    float(top.time_s[k]), float(top.time_s[k + 1]))
    return None


def _leak_by_slope(state: CellState) -> tuple[Estimate, float, float] | None:
    """The steepest fall over a window that ends behind the mates.

    A cell that was ahead and is bled down to its mates falls too; it is no leak.
    """
    top, worst = state.top, None
    for end in range(LEAK_LOGS, len(top) + 1):
        first = int(np.searchsorted(top.time_s, top.time_s[end - 1] - LEAK_DAYS * _DAY_S))
        if end - first < LEAK_LOGS or top.value[end - 1] > -SIGMAS * top.sd[end - 1]:
            continue
        days = (top.time_s[first:end] - top.time_s[first]) / _DAY_S
        if days[-1] < LEAK_DAYS / 2:
            continue
        slope, sd = robust_slope(days, top.value[first:end])
        rate, sd = -slope * _MONTH_DAYS, sd * _MONTH_DAYS
        limit = LEAK_SHARE_PER_MONTH * state.scale_ah
        if rate - SIGMAS * sd > 0 and rate >= limit and (worst is None or rate > worst[0].value):
            worst = (Estimate.around(rate, 2 * sd, "Ah/month"),
                     float(top.time_s[first]), float(top.time_s[end - 1]))
    return worst


def _offsets(state: CellState, bleed_a: float | None) -> list[CellFinding]:
    scale = state.scale_ah
    return [_offset(state, a, b, bleed_a) for a, b in
            spans(state.top, LOOKED_AT_SHARE * scale, OFFSET_SHARE / 2 * scale)
            if _is_worth_telling(state, a, b)]


def _is_worth_telling(state: CellState, first: int, last: int) -> bool:
    """Whether an offset is large, or came within a month."""
    top = state.top
    size = float(np.median(np.sort(np.abs(top.value[first:last + 1]))[(last - first) // 2:]))
    if size >= LASTING_SHARE * state.scale_ah:
        return True
    lately = (top.time_s < top.time_s[first]) & (
        top.time_s >= top.time_s[first] - NEW_DAYS * _DAY_S)
    if not lately.any():
        return False
    change = float(np.median(top.value[first:last + 1]) - np.median(top.value[lately]))
    return abs(change) >= OFFSET_SHARE * state.scale_ah


def _offset(state: CellState, first: int, last: int, bleed_a: float | None) -> CellFinding:
    top, is_current = state.top, last == len(state.top) - 1
    values, sds = top.value[first:last + 1], top.sd[first:last + 1]
    # What is still to be cured is the latest; of what is over, its worst half.
    told = np.arange(len(values))[-3:] if is_current else (
        np.argsort(np.abs(values))[len(values) // 2:])
    size = Estimate.around(float(np.median(values[told])), 2 * float(np.median(sds[told])), "Ah")
    value = size.value
    hours = bleeding_hours(size, bleed_a)
    known = not isinstance(state.lack_now, NoEstimate)
    way, who = ("fuller", "it") if value > 0 else ("emptier", "the others")
    words = (f"cell {state.cell} is {abs(value):.1f} Ah {way} than its mates: out of balance, "
             f"curable by long full charges; bleeding {who} takes about {hours.value:.0f} h"
             f"{_bleed_words(bleed_a)}.")
    if not is_current:
        words = (f"cell {state.cell} was {abs(value):.1f} Ah {way} than its mates: out of "
                 "balance; long full charges have cured it.")
    if not known:
        words += " Not told apart from a small cell until the pack is seen near empty."
    return CellFinding(
        state.cell, "charge_offset", "yes" if known else "cannot tell yet", words, size,
        "let the charger stay on for hours after full, several times" if known else
        "log one drive to the knee: a small cell is then first to be empty",
        float(top.time_s[first]), float(top.time_s[last]), is_current,
        {"bleeding_h": hours.as_json()} | ({"bleed_ma": 1000 * bleed_a} if bleed_a else {}))


def bleeding_hours(offset_ah: Estimate, bleed_a: float | None = None) -> Estimate:
    """Hours of bleeding that bring a cell level: amp-hours over amps. [h]

    Without a known bleed the interval spans what boards usually bleed, 0.05 to 0.2 A (common
    practice, no source).
    """
    low_ah, high_ah = sorted((abs(offset_ah.low), abs(offset_ah.high)))
    value = abs(offset_ah.value)
    if bleed_a:
        return Estimate(value / bleed_a, low_ah / bleed_a, high_ah / bleed_a, "h")
    return Estimate(value / BLEED_A, low_ah / 0.2, high_ah / 0.05, "h")


def _bleed_words(bleed_a: float | None) -> str:
    return f" at {1000 * bleed_a:.0f} mA" if bleed_a else (
        f" at {1000 * BLEED_A:.0f} mA (boards bleed 50 to 200)")
