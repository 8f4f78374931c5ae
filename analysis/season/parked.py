"""What a parked pack loses, also where the display shows 0.0 A; and the date it runs low.

Between two true full charges the pack ends where it began, so whatever was counted in beyond what
was counted out went somewhere: into time that nobody saw, and into amps too small for the monitor.

    drain = (counted in - counted out) / unseen hours

The monitor's own zero error is taken off the count first. The percent, where the display goes on
counting while parked, tells the same from what it lost between two logs; a dead band hides a drain
from it, and then the two disagree.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any, Final

import numpy as np

from ..digest import LogDigest
from ..estimate import Answer, Estimate, NoEstimate, Verdict
from ..finding import DatedFinding
from ..one_log.use import LogUse
from ..phrases import iso_utc
from .spans import END_SD, Moment, place_anchors
from .zero import LogZero, zero_history

#: Parts of the digests that parked time needs.
PARKED_PARTS: Final = ("use", "anchors", "zero")
#: A drain is told from this; display, board and converter alone draw less. [A]
DRAIN_MIN_A: Final = 0.1
#: Said wherever a clamp and the pulling of fuses are asked for.
CAUTION: Final = ("Live metal: insulated tools, no rings, one hand. Turn the key off before a fuse "
                  "is pulled, follow the maker's manual, and ask a licensed electrician "
                  "where the law does.")
#: Intervals in a row that make an episode, and how far above the usual in standard deviations.
RUN: Final = 3
SIGMAS: Final = 3.0
#: An interval counts if this much of it was unseen, and it is no longer than this. [h]
UNSEEN_MIN_H: Final = 6.0
UNSEEN_MAX_H: Final = 31 * 24.0
#: Percent to reckon to: below it a pack must not be stored (common practice, no source). [%]
LAY_UP_PCT: Final = 20.0
_MAD: Final = 1.4826
#: What a pack is taken to hold when nobody typed it. [Ah]
USUAL_AH: Final = 100.0


@dataclass(frozen=True, slots=True)
class Interval:
    """From one true full charge to the next."""

    start_s: float
    end_s: float
    lost_ah: float
    sd_ah: float
    unseen_h: float
    #: What the amps read at rest meanwhile; NaN if there was no rest. [A]
    shown_a: float

    @property
    def drain_a(self) -> float:
        return self.lost_ah / self.unseen_h

    @property
    def sd_a(self) -> float:
        return self.sd_ah / self.unseen_h


@dataclass(frozen=True, slots=True)
class Parked:
    """What parking costs over a logbook."""

    #: Usual drain from counted charge, episodes left out, and from the percent lost. [A]
    usual_a: Answer
    by_percent_a: Answer
    episodes: tuple[DatedFinding, ...]
    intervals: tuple[Interval, ...]

    def as_json(self) -> dict[str, Any]:
        return {"usual_a": self.usual_a.as_json(), "by_percent_a": self.by_percent_a.as_json(),
                "episodes": [{"start": iso_utc(e.start_s), "end": iso_utc(e.end_s),
                              "verdict": e.verdict, "drain_a": e.size.as_json(),
                              "words": e.words, "next": e.next} for e in self.episodes]}


def find_parked(digests: Sequence[LogDigest], capacity_ah: float = USUAL_AH) -> Parked:
    """The drain of a parked pack over a logbook.

    Parameters
    ----------
    digests
        Of one pack, oldest first, with the parts ``PARKED_PARTS``.
    capacity_ah
        What 100 % stands for; for the percent and for how well a full charge is known. [Ah]
    """
    intervals = full_to_full(digests, capacity_ah)
    runs = _episodes(intervals)
    within = {id(i) for run in runs for i in run}
    calm = [i for i in intervals if id(i) not in within]
    return Parked(_usual(calm), drain_by_percent(digests, capacity_ah),
                  tuple(_episode(run) for run in runs), tuple(intervals))


def full_to_full(digests: Sequence[LogDigest], capacity_ah: float) -> list[Interval]:
    """What was counted in beyond what was counted out, from each true full to the next."""
    zero = zero_history([(d.start_s, d.of(LogZero)) for d in digests])
    fulls = _last_of_each_log([m for m in place_anchors(digests, zero) if m.anchor.kind == "full"])
    found = []
    for first, last in pairwise(fulls):
        seen_s = last.seen_s - first.seen_s
        unseen_h = (last.moment_s - first.moment_s - seen_s) / 3600
        if not UNSEEN_MIN_H <= unseen_h <= UNSEEN_MAX_H:
            continue
        sd = math.hypot(math.sqrt(2) * END_SD * capacity_ah, zero.uncertainty_a() * seen_s / 3600)
        shown = [d.of(LogZero).rest_a for d in digests[first.place + 1:last.place + 1]]
        held = [a for a in shown if math.isfinite(a)]
        found.append(Interval(first.moment_s, last.moment_s, last.net_ah - first.net_ah, sd,
                              unseen_h, float(np.median(held)) if held else math.nan))
    return found


def _last_of_each_log(moments: list[Moment]) -> list[Moment]:
    return list({m.place: m for m in moments}.values())


def _episodes(intervals: list[Interval]) -> list[list[Interval]]:
    """Runs of intervals that lose clearly more than the usual."""
    if len(intervals) < 2 * RUN:
        return []
    drains = np.array([i.drain_a for i in intervals])
    usual = float(np.median(drains))
    scatter = _MAD * float(np.median(np.abs(drains - usual)))
    runs: list[list[Interval]] = [[]]
    for interval in intervals:
        extra = interval.drain_a - usual
        if extra >= DRAIN_MIN_A and extra >= SIGMAS * max(scatter, 0.3 * interval.sd_a):
            runs[-1].append(interval)
        elif runs[-1]:
            runs.append([])
    return [run for run in runs if len(run) >= RUN]


def _mean_drain(intervals: Sequence[Interval]) -> Estimate:
    """Charge lost over unseen hours; each interval's ends are errors of their own."""
    hours = sum(i.unseen_h for i in intervals)
    value = sum(i.lost_ah for i in intervals) / hours
    sd = math.sqrt(sum(i.sd_ah ** 2 for i in intervals)) / hours
    return Estimate.around(value, 2 * sd, "A")


def _usual(intervals: list[Interval]) -> Answer:
    if not intervals:
        return NoEstimate("no two true full charges with parked time between",
                          "log two full charges with everything between them")
    return _mean_drain(intervals)


def _episode(run: list[Interval]) -> DatedFinding:
    # It began and ended somewhere inside the first and the last interval.
    drain = _mean_drain(run[1:-1] if len(run) > RUN else run)
    shown = float(np.nanmedian([i.shown_a for i in run]))
    hidden = ""
    if math.isfinite(shown):
        hidden = (f", though the display shows {abs(shown):.1f} A at rest" if abs(shown) < 0.1
                  else f"; the display shows {shown:+.1f} A at rest")
    verdict: Verdict = "yes" if drain.low > DRAIN_MIN_A / 2 else "cannot tell yet"
    return DatedFinding(
        "parked_drain", verdict, run[0].start_s, run[-1].end_s,
        f"parked, the pack loses {drain.value:.2f} A or {24 * drain.value:.1f} Ah a day{hidden}",
        drain, "one clamp reading on the main cable with the key off, jaws zeroed, then pull "
               "fuses one by one until it falls")


def drain_by_percent(digests: Sequence[LogDigest], capacity_ah: float) -> Answer:
    """Drain from the percent lost between one log's end and the next log's start. [A]

    Percent that rises (a charge nobody logged) and jumps by correction are left out by taking
    the median over the pauses; a display with a dead band shows no loss.
    """
    rates, hours = [], []
    for before, after in pairwise(digests):
        pause_h = (after.start_s - before.end_s) / 3600
        lost = before.of(LogUse).percent_end - after.of(LogUse).percent_start
        if UNSEEN_MIN_H <= pause_h <= UNSEEN_MAX_H and math.isfinite(lost) and lost >= 0:
            rates.append(lost / 100 * capacity_ah / pause_h)
            hours.append(pause_h)
    if len(rates) < RUN:
        return NoEstimate("fewer than three pauses between logs that tell a percent",
                          "log the percent before and after parking")
    # A whole-number percent is right to its step at each end.
    half = capacity_ah / 100 / float(np.mean(hours)) / math.sqrt(len(rates))
    value = float(np.average(rates, weights=hours))
    return Estimate(value, max(0.0, value - 2 * half), value + 2 * half, "A")


def _day(moment: datetime) -> str:
    return f"{moment.day} {moment:%B %Y}"


@dataclass(frozen=True, slots=True)
class LayUp:
    """When a parked pack comes down to a percent."""

    days: Answer
    #: Expected date; earliest and latest follow from the interval.
    date: datetime | None
    words: str

    def as_json(self) -> dict[str, Any]:
        return {"days": self.days.as_json(),
                "date": self.date.date().isoformat() if self.date else None, "words": self.words}


def lay_up(percent: float, drain_a: Estimate, capacity_ah: float, start: datetime,
           until_pct: float = LAY_UP_PCT) -> LayUp:
    """The date a parked pack reaches a percent: ``(percent - until) / 100 Q / drain``.

    Parameters
    ----------
    percent
        At the start. [%]
    drain_a
        Positive is out of the pack. [A]
    capacity_ah
        [Ah]
    """
    left_ah = (percent - until_pct) / 100 * capacity_ah
    if left_ah <= 0:
        return LayUp(NoEstimate(f"it stands at {percent:.0f} % already", "charge it first"),
                     start, f"It is at or below {until_pct:.0f} % now: charge it first.")
    if drain_a.value <= 0:
        return LayUp(NoEstimate("no drain is known", "take one clamp reading with the key off"),
                     None, "No drain is known: take one clamp reading with the key off.")
    days = left_ah / drain_a.value / 24
    late = left_ah / drain_a.low / 24 if drain_a.low > 0 else 10 * days
    answer = Estimate(days, left_ah / drain_a.high / 24, max(days, late), "days")
    date = start + timedelta(days=days)
    words = (f"From {percent:.0f} % at {1000 * drain_a.value:.0f} mA it reaches {until_pct:.0f} % "
             f"in {days:.0f} days, about {_day(date)}; "
             f"top it up by {_day(start + timedelta(days=answer.low))}.")
    return LayUp(answer, date, words)
