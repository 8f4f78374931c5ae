"""Charge and energy that come out again of what went in, between two full charges.

Between two moments at which the pack is full nothing has stayed in it, so what went out over what
went in is its efficiency. A zero error spoils it in proportion to time; it is taken off first and
its uncertainty makes the interval.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ..digest import LogDigest
from ..estimate import Answer, Estimate, NoEstimate
from ..one_log.charge import COVERAGE_FACTOR, SECONDS_PER_HOUR
from ..one_log.use import LogUse
from .spans import PARKED_SD_A, Moment, place_anchors
from .zero import LogZero, ZeroHistory, zero_history

#: An efficiency that is known no better than this tells nothing. [points]
HALF_WIDTH_MAX: Final = 20.0


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
    return _between(fulls[0], fulls[-1], digests, zero, len(fulls))


def _between(first: Moment, last: Moment, digests: Sequence[LogDigest], zero: ZeroHistory,
             fulls: int) -> Efficiency:
    """The logs after the first full one, up to the last full one; each counts by its net.

    What follows a full charge in its own log is a rest.
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
    if into_ah <= 0:
        missing = NoEstimate("nothing went in between", "log the charges too")
        return Efficiency(missing, missing, fulls)
    unseen_s = last.moment_s - first.moment_s - (last.seen_s - first.seen_s)
    error_ah = math.hypot(zero.uncertainty_a() * seen_s, PARKED_SD_A * max(0.0, unseen_s)) / (
        SECONDS_PER_HOUR)
    half = 100 * COVERAGE_FACTOR * error_ah / into_ah
    return Efficiency(_ratio(out_ah, into_ah, half), _ratio(out_wh, into_wh, half), fulls)


def _mean_volts(use: LogUse) -> float:
    moved = use.into_ah + use.out_ah
    return (use.into_wh + use.out_wh) / moved if moved > 0 else 0.0


def _ratio(out: float, into: float, half: float) -> Answer:
    if half > HALF_WIDTH_MAX or not (into > 0 and math.isfinite(out)):
        return NoEstimate("the zero error over that time is not known well enough",
                          "check the zero with a clamp meter while all is off")
    value = 100 * out / into
    # More never comes out than went in; a value above is the zero's error and stays visible.
    return Estimate(value, value - half, max(value, min(100.0, value + half)), "%")
