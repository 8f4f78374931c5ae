"""Charge and energy that come out again of what went in, between full charges.

Between two moments at which the pack is full nothing has stayed in it, so what went out over what
went in is its efficiency. Two things spoil it in proportion to time: a zero error, which is taken
off first, and what the pack loses while nobody logs. Over many cycles of different lengths the
second tells itself apart,

    out_i = efficiency in_i - loss t_i

with ``t_i`` the time of cycle ``i`` that no log saw; with few cycles it only widens the interval.
A shunt's gain is the same in both directions and cancels.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from ..digest import LogDigest
from ..estimate import Answer, Estimate, NoEstimate
from ..fitting.line_fit import huber_fit
from ..one_log.charge import COVERAGE_FACTOR, SECONDS_PER_HOUR
from ..one_log.use import LogUse
from ..telemetry import Floats
from .spans import PARKED_SD_A, Moment, place_anchors
from .zero import LogZero, ZeroHistory, zero_history

#: An efficiency that is known no better than this tells nothing. [points]
HALF_WIDTH_MAX: Final = 20.0
#: From so many cycles on the loss while parked is told apart. Chosen here.
CYCLES_MIN: Final = 8
#: ... if charge and time differ: condition number of the two columns. Chosen here.
CONDITION_MAX: Final = 20.0

#: From one full charge to the next; longer than this somebody used or filled the pack unlogged.
#: Chosen here. [s]
CYCLE_MAX_S: Final = 31 * 86400.0


@dataclass(frozen=True, slots=True)
class Efficiency:
    """Out over in between the first and the last full charge."""

    #: Amp-hours and watt-hours. [%]
    charge_pct: Answer
    energy_pct: Answer
    fulls: int


def find_efficiency(digests: Sequence[LogDigest]) -> Efficiency:
    """Efficiency of a logbook; ``digests`` with the parts ``anchors``, ``use`` and ``zero``."""
    zero = zero_history([(d.start_s, d.of(LogZero)) for d in digests])
    fulls = [m for m in place_anchors(digests, zero) if m.anchor.kind == "full"]
    if len(fulls) < 2 or fulls[-1].place <= fulls[0].place:
        missing = NoEstimate("two full charges are needed", "charge until full twice, logging it")
        return Efficiency(missing, missing, len(fulls))
    cycles = np.array([_cycle(a, b, digests, zero) for a, b in pairwise(fulls)
                       if b.place > a.place and b.moment_s - a.moment_s <= CYCLE_MAX_S]
                      ).reshape(-1, 6)
    out_ah, into_ah, out_wh, into_wh, seen_h, unseen_h = cycles[cycles[:, 1] > 0].T
    if not into_ah.size:
        missing = _nothing_between(digests)
        return Efficiency(missing, missing, len(fulls))
    zero_ah = zero.uncertainty_a() * float(seen_h.sum())
    return Efficiency(_ratio(out_ah, into_ah, unseen_h, zero_ah / float(into_ah.sum())),
                      _ratio(out_wh, into_wh, unseen_h, zero_ah / float(into_ah.sum())),
                      len(fulls))


def _nothing_between(digests: Sequence[LogDigest]) -> NoEstimate:
    if not any(d.of(LogUse).kind == "charge" for d in digests):
        return NoEstimate("no charge is logged", "log the charges too")
    return NoEstimate("no charge lies between two moments at which the pack was full",
                      "log two full charges, and the use between them")


def _cycle(first: Moment, last: Moment, digests: Sequence[LogDigest],
           zero: ZeroHistory) -> tuple[float, ...]:
    """Ah and Wh out and in, hours seen and unseen, from one full charge to the next.

    Of the logs after the first full one each counts by its net: what follows a full charge in its
    own log is a rest.
    """
    into_ah = out_ah = into_wh = out_wh = seen_s = 0.0
    for digest in digests[first.place + 1: last.place + 1]:
        use = digest.of(LogUse)
        if not math.isfinite(use.into_ah):
            continue
        level = zero.level_at(digest.start_s)
        off_ah = (0.0 if math.isnan(level) else level) * use.observed_s / SECONDS_PER_HOUR
        net_ah = use.into_ah - use.out_ah - off_ah
        net_wh = use.into_wh - use.out_wh - off_ah * _mean_volts(use)
        into_ah, out_ah = into_ah + max(0.0, net_ah), out_ah + max(0.0, -net_ah)
        into_wh, out_wh = into_wh + max(0.0, net_wh), out_wh + max(0.0, -net_wh)
        seen_s += use.observed_s
    unseen_s = last.moment_s - first.moment_s - (last.seen_s - first.seen_s)
    return (out_ah, into_ah, out_wh, into_wh, seen_s / SECONDS_PER_HOUR,
            max(0.0, unseen_s) / SECONDS_PER_HOUR)


def _mean_volts(use: LogUse) -> float:
    moved = use.into_ah + use.out_ah
    return (use.into_wh + use.out_wh) / moved if moved > 0 else 0.0


def _ratio(out: Floats, into: Floats, unseen_h: Floats, zero_share: float) -> Answer:
    """Out of in over the cycles. [%]

    ``zero_share`` is the standard uncertainty from the zero error.
    """
    if not (np.isfinite(out).all() and np.isfinite(into).all()):
        return NoEstimate("volts are missing in some logs", "log volts beside amps")
    if _are_told_apart(into, unseen_h):
        fit = huber_fit(np.stack([into, -unseen_h], axis=1), out).coefficient(0, "")
        value, spread = fit.value, fit.half_width
    else:
        value = float(out.sum() / into.sum())
        spread = COVERAGE_FACTOR * PARKED_SD_A * float(unseen_h.sum()) / float(into.sum())
    half = 100 * math.hypot(spread, COVERAGE_FACTOR * zero_share)
    if half > HALF_WIDTH_MAX:
        return NoEstimate("the zero error over that time is not known well enough",
                          "check the zero with a clamp meter while all is off")
    # More never comes out than went in; a value above is the zero's error and stays visible.
    value *= 100
    return Estimate(value, value - half, max(value, min(100.0, value + half)), "%")


def _are_told_apart(into: Floats, unseen_h: Floats) -> bool:
    """Whether the cycles differ enough in charge and in time that nobody saw."""
    if len(into) < CYCLES_MIN or unseen_h.max() <= 0:
        return False
    columns = np.stack([into / into.max(), unseen_h / unseen_h.max()], axis=1)
    return float(np.linalg.cond(columns)) < CONDITION_MAX
