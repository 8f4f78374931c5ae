"""Moments at which the charge left is known without counting: full, empty, rested and low.

A count of amp-hours drifts; an anchor puts it right. *Full* needs the volts' own signature, never
the display's word: a cell at its top, amps that taper at steady volts, or a steep rise at the end
of a charge. *Empty* is the lowest cell at its bottom when the current stops. *Low* is a rest with
the lowest cell below the knee, where iron phosphate's volts are steep. In its flat middle the
volts tell nothing (``state_of_charge.rest_volts``), and no anchor is taken there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from collector.record import QUANTITIES

from ..telemetry import Floats, Telemetry
from ..timebase import Observed, Rows, observe, once
from .charge import SECONDS_PER_HOUR

#: More cells in series than any pack here has.
CELL_COLUMNS: Final = tuple(QUANTITIES["cell_{n}_v"].column(n) for n in range(1, 33))
ANCHOR_COLUMNS: Final = ("current_a", "voltage_v", "soc_pct", "temp_1_c", "cell_min_v",
                         "cell_max_v", *CELL_COLUMNS)
#: A cell that ever stands above this is not iron phosphate. [V]
OTHER_CHEMISTRY_V: Final = 3.75
#: A cell is at its top: iron phosphate, others. [V] (common practice, no source)
TOP_V: Final = (3.50, 4.10)
#: A cell is at its bottom: iron phosphate, others. [V] (common practice, no source)
BOTTOM_V: Final = (2.80, 3.05)
#: Below this, rested, iron phosphate's volts are steep. [V]
STEEP_BELOW_V: Final = 3.20
#: A cell that tapers is above this, if cells are told. [V]
TAPER_ABOVE_V: Final = 3.37
#: Amps at the end of a taper, against the largest of that charge.
TAPER_SHARE: Final = 0.5
#: Rise of the pack's volts over the last five minutes at steady amps, in parts.
STEEP_RISE: Final = 0.008
STEEP_S: Final = 300.0
#: Volts at the end of a full charge, against the highest of the log.
NEAR_TOP: Final = 0.97
#: A pause shorter than this does not end a charge; a charge is this long at least. [s]
PAUSE_S, CHARGE_MIN_S = 60.0, 20.0
#: A rest is this long, and its amps stay below this. [s, A]
REST_S, REST_A = 300.0, 1.0
#: Volts at which the end of a discharge is kept for later: charge left at low volts.
LOW_MARKS_V: Final = (3.20, 3.175, 3.15, 3.125, 3.10, 3.075, 3.05, 3.0, 2.9)

AnchorKind = Literal["full", "empty", "low"]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Anchor:
    """A moment of a log at which the charge left is known."""

    kind: AnchorKind
    #: Since the log's start. [s]
    elapsed_s: float
    #: Counted since the log's start, positive in, zero error included. [Ah]
    net_ah: float
    #: Seen since the log's start, and not seen. [s]
    seen_s: float
    gap_s: float
    #: Lowest and highest cell; NaN if the log has no cells. [V]
    low_v: float
    high_v: float
    #: Why it counts: ``cell``, ``taper``, ``rise`` or ``rest``.
    sign_of_it: str


@dataclass(frozen=True, slots=True)
class LogAnchors:
    """A log's anchors in order, and its whole count, so that counts join across logs."""

    anchors: tuple[Anchor, ...]
    net_ah: float
    seen_s: float
    gap_s: float
    #: Of a log that runs to empty: (no-load volts of the lowest cell, amp-hours left then).
    left_at_low: tuple[tuple[float, float], ...]
    #: Lowest and highest cell while nothing flowed at the very start; NaN if it flowed. [V]
    first_low_v: float
    first_high_v: float


@dataclass(frozen=True)
class _Trace:
    """What anchors are looked for in: aligned arrays of the rows that hold amps and volts."""

    seen: Observed
    amps: Floats
    volts: Floats
    low: Floats
    high: Floats
    #: Seen since the start. [s]
    clock_s: Floats
    #: 0 for iron phosphate (and where cells are not told), 1 for others.
    chemistry: int

    @cached_property
    def net_ah(self) -> Floats:
        """Counted since the start. [Ah]"""
        return self.seen.running(self.amps) / SECONDS_PER_HOUR

    @property
    def whole_ah(self) -> float:
        """The count of the whole log; most logs hold no anchor, and need no other. [Ah]"""
        return self.seen.integral(self.amps) / SECONDS_PER_HOUR

    def anchor(self, kind: AnchorKind, row: int, reason: str) -> Anchor:
        elapsed, clock = float(self.seen.time_s[row]), float(self.clock_s[row])
        return Anchor(kind, elapsed, float(self.net_ah[row]), clock, elapsed - clock,
                      float(self.low[row]), float(self.high[row]), reason)

    def back(self, rows: Rows, seconds: float) -> Rows:
        """The rows that many seconds earlier."""
        return np.searchsorted(self.seen.time_s, self.seen.time_s[rows] - seconds)


def anchors_digest(telemetry: Telemetry) -> LogAnchors:
    """Anchors of one log; amps in packhand's sign. Without amps or volts there are none."""
    trace = _trace(telemetry)
    if trace is None:
        seen = observe(telemetry)
        return LogAnchors((), math.nan, seen.seconds, float(telemetry.elapsed_s[-1]) - seen.seconds,
                          (), math.nan, math.nan)
    found = [*_full_anchors(trace), *_empty_anchors(trace), *_low_anchors(trace)]
    still = bool(np.all(np.abs(trace.amps[:5]) <= REST_A))
    return LogAnchors(
        tuple(sorted(found, key=lambda anchor: anchor.elapsed_s)), trace.whole_ah,
        float(trace.clock_s[-1]), float(telemetry.elapsed_s[-1] - trace.clock_s[-1]),
        _left_at_low(trace, found), float(trace.low[0]) if still else math.nan,
        float(trace.high[0]) if still else math.nan)


def _trace(telemetry: Telemetry) -> _Trace | None:
    if "current_a" not in telemetry or "voltage_v" not in telemetry:
        return None
    seen = observe(telemetry, "current_a", "voltage_v")
    if len(seen.time_s) < 2:
        return None
    amps = seen.pick(telemetry["current_a"])
    low, high = map(seen.pick, once(telemetry, lowest_and_highest))
    chemistry = int(bool((high > OTHER_CHEMISTRY_V).any()))
    return _Trace(seen, amps, seen.pick(telemetry["voltage_v"]), low, high, seen.clock_s,
                  chemistry)


def lowest_and_highest(telemetry: Telemetry) -> tuple[Floats, Floats]:
    """The lowest and the highest cell of each row; NaN where no cell is told. [V]"""
    names = telemetry.cells
    if not names:
        return telemetry["cell_min_v"], telemetry["cell_max_v"]
    low, high = telemetry[names[0]].copy(), telemetry[names[0]].copy()
    for name in names[1:]:
        np.fmin(low, telemetry[name], out=low)
        np.fmax(high, telemetry[name], out=high)
    return low, high


def _full_anchors(trace: _Trace) -> list[Anchor]:
    floor = max(REST_A, 0.02 * float(trace.amps.max()))
    # The end of a full charge is among the highest volts of its log.
    near_top_v = NEAR_TOP * float(trace.volts.max())
    charges = _stretches(trace, trace.amps > floor)
    firsts, lasts = charges.T
    is_whole = (trace.volts[lasts] >= near_top_v) & ~_is_cut_off(trace, lasts) & (
        trace.clock_s[lasts] - trace.clock_s[firsts] >= CHARGE_MIN_S)
    charges = charges[is_whole]
    return [trace.anchor("full", int(last), reason)
            for last, reason in zip(charges[:, 1], _full_signatures(trace, charges), strict=True)
            if reason]


def _is_cut_off(trace: _Trace, lasts: Rows) -> Flags:
    """Whether the log ends, or has a gap, before a charge does."""
    end = len(trace.amps) - 2
    return np.asarray((lasts >= end) | (trace.seen.width_s[np.minimum(lasts, end)] == 0))


def _full_signatures(trace: _Trace, charges: Rows) -> list[str]:
    """Why the end of each charge is a full one; empty where it is not."""
    firsts, lasts = charges.T
    amps, volts = trace.amps, trace.volts
    at_top = np.concatenate(([0], np.cumsum(trace.high >= TOP_V[trace.chemistry])))
    by_cell = at_top[lasts + 1] > at_top[np.maximum(firsts, trace.back(lasts, 30.0))]
    bounds = np.column_stack([firsts, lasts + 1]).ravel()
    most_a, most_v = (np.maximum.reduceat(column, bounds)[::2] for column in (amps, volts))
    # Where cells are not told the comparison is with NaN, and nothing speaks against it.
    is_high = ~((trace.low[lasts] + trace.high[lasts]) / 2 < TAPER_ABOVE_V)
    end_a = amps[np.maximum(lasts[:, None] - np.arange(3), firsts[:, None])].max(axis=1)
    by_taper = is_high & (end_a <= TAPER_SHARE * most_a) & (volts[lasts] >= 0.997 * most_v)
    before = trace.back(lasts, STEEP_S)
    by_rise = is_high & (before > firsts) & (volts[lasts] >= (1 + STEEP_RISE) * volts[before])
    for k in np.flatnonzero(by_rise):
        by_rise[k] = np.ptp(amps[before[k]: lasts[k]]) <= 0.1 * most_a[k]
    reasons = np.select([by_cell, by_taper, by_rise], ["cell", "taper", "rise"], "")
    return [str(reason) for reason in reasons]


def _empty_anchors(trace: _Trace) -> list[Anchor]:
    """Where the lowest cell was at its bottom and the discharge ended."""
    loaded = trace.amps < -REST_A
    at_bottom = loaded & (trace.low <= BOTTOM_V[trace.chemistry])
    found = []
    if not at_bottom.any():
        return []
    lasts = _stretches(trace, loaded)[:, 1]
    for last, begin in zip(lasts.tolist(), trace.back(lasts, 10.0).tolist(), strict=True):
        if at_bottom[begin: last + 1].any():
            found.append(trace.anchor("empty", last, "cell"))
    return found


def _low_anchors(trace: _Trace) -> list[Anchor]:
    """Rests with the lowest cell below the knee; only iron phosphate's knee is known here."""
    resting = np.abs(trace.amps) <= REST_A
    low = resting & (trace.low <= STEEP_BELOW_V)
    if trace.chemistry or not low.any():
        return []
    found = []
    rests = _stretches(trace, resting, pause_s=0.0)
    is_long = trace.clock_s[rests[:, 1]] - trace.clock_s[rests[:, 0]] >= REST_S
    lasts = rests[is_long & low[rests[:, 1]], 1]
    for last, begin in zip(lasts.tolist(), trace.back(lasts, 60.0).tolist(), strict=True):
        anchor = trace.anchor("low", last, "rest")
        settled = float(np.median(trace.low[begin: last + 1]))
        if settled > BOTTOM_V[0]:
            found.append(Anchor(**{name: getattr(anchor, name) for name in (
                "kind", "elapsed_s", "net_ah", "seen_s", "gap_s", "high_v", "sign_of_it")},
                low_v=settled))
    return found


def _stretches(trace: _Trace, mask: Flags, pause_s: float = PAUSE_S) -> Rows:
    """First and last row of each stretch where the mask holds, short pauses bridged; (m, 2)."""
    edges = np.flatnonzero(np.diff(mask, prepend=False, append=False))
    firsts, lasts = edges[::2], edges[1::2] - 1
    if not len(firsts):
        return np.empty((0, 2), dtype=np.intp)
    time_s = trace.seen.time_s
    apart = time_s[firsts[1:]] - time_s[lasts[:-1]] > pause_s
    # A gap in the log ends a stretch, however short.
    gaps = trace.seen.gap_steps
    apart |= np.searchsorted(gaps, firsts[1:]) > np.searchsorted(gaps, lasts[:-1])
    return np.column_stack([firsts[np.append(True, apart)], lasts[np.append(apart, True)]])


def _left_at_low(trace: _Trace, found: list[Anchor]) -> tuple[tuple[float, float], ...]:
    """Amp-hours left at low volts, learnt from a discharge that ran to empty.

    The volts are brought to no load with the rise of the lowest cell when the current stopped:
    all of it within the rest that follows, divided by the amps before.
    """
    empty = next((anchor for anchor in found if anchor.kind == "empty"), None)
    if empty is None:
        return ()
    row = int(np.searchsorted(trace.seen.time_s, empty.elapsed_s))
    begin = int(np.searchsorted(trace.seen.time_s, trace.seen.time_s[row] - 3600.0))
    rest = slice(row + 1, int(np.searchsorted(trace.seen.time_s, empty.elapsed_s + REST_S)))
    resting = trace.low[rest][np.abs(trace.amps[rest]) <= REST_A]
    load_a = -float(np.median(trace.amps[begin: row]))
    if not len(resting) or load_a <= REST_A:
        return ()
    ohm = max(0.0, float(resting[-1]) - float(trace.low[row])) / load_a
    settled = trace.low[begin: row] - ohm * trace.amps[begin: row]
    marks = []
    for mark in LOW_MARKS_V:
        below = np.flatnonzero(settled <= mark)
        if len(below) and below[0] > 0:
            marks.append((mark, float(trace.net_ah[begin + below[0]] - trace.net_ah[row])))
    return tuple(marks)
