"""Logs whose amps were beyond what the labels of board and breaker allow.

A worst RMS over a window is held against the limit that is meant for such a time: ten seconds
against the board's peak, ten minutes against its continuous amps, out and in apart; four minutes
both ways against the breaker in the heat of its place, as ``incidents.breaker_heat`` has it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from ..digest import LogDigest
from ..estimate import Estimate, NoEstimate
from ..incidents.breaker_heat import BREAKER_NEXT, breaker_load_of
from ..incidents.loading import LogLoading
from ..limits import Limits
from ..phrases import amps_size, type_label
from .findings import SeasonFinding

#: The part of a measured RMS that it may be wrong by: gain of an unchecked shunt (common
#: practice, no source).
GAIN: Final = 0.01


@dataclass(frozen=True, slots=True)
class _Rule:
    kind: str
    #: Field of ``Limits``, way in ``LogLoading``, and place in its windows.
    limit: str
    way: Literal["out_a", "into_a"]
    window: int
    words: str
    next: str
    #: Not asked for where nobody typed it.
    is_rare: bool = False

    def worst_a(self, digest: LogDigest) -> float:
        """Of one log; NaN where it is shorter than the window."""
        return float(getattr(digest.of(LogLoading), self.way)[self.window])


_RULES: Final = (
    _Rule("over_peak", "peak_a", "out_a", 0,
          "out over ten seconds; the board's label allows a peak of",
          "pull away more gently, or have the controller's upper amps set below the board's"),
    _Rule("over_continuous", "continuous_a", "out_a", 1,
          "out over ten minutes; the board's label allows for good",
          "let it cool between hard pulls, or have the controller's upper amps set lower"),
    _Rule("over_charge_peak", "charge_peak_a", "into_a", 0,
          "in over ten seconds; the board's label lets in a peak of",
          "have the controller's braking amps set below what the board lets in", is_rare=True),
    _Rule("over_charge", "charge_a", "into_a", 1,
          "in over ten minutes; the board's label lets in for good",
          "turn the charger down, or have the controller's braking amps set lower", is_rare=True),
)
#: The windows of ``LogLoading``.
_TIMES: Final = ("ten seconds", "ten minutes")
LIST_BREAKER: Final = "list the breaker under Parts (parts.toml)"


def beyond_limits(digests: Sequence[LogDigest], limits: Limits) -> tuple[SeasonFinding, ...]:
    """One finding for each limit that was passed, at the first log that did; and one that asks
    for the labels that nobody typed. Empty where no log holds amps.

    Parameters
    ----------
    digests
        Of one pack, with the part ``loading``.
    """
    seen = [d for d in digests if math.isfinite(d.of(LogLoading).out_a[0])]
    if not seen:
        return ()
    found = [*(_passed(seen, rule, getattr(limits, rule.limit)) for rule in _RULES),
             _breaker(seen, limits), _untyped(seen, limits)]
    return tuple(finding for finding in found if finding)


def _passed(seen: Sequence[LogDigest], rule: _Rule, limit_a: float) -> SeasonFinding | None:
    """NaN, an untyped limit or a window longer than the log, is never passed."""
    over = [d for d in seen if rule.worst_a(d) > limit_a * (1 + GAIN)]
    if not over:
        return None
    worst_a = max(map(rule.worst_a, over))
    return SeasonFinding(
        rule.kind, "yes", over[0].start_s,
        f"up to {amps_size(worst_a)} {rule.words} {amps_size(limit_a)}: {_logs(over)}",
        Estimate.around(worst_a, GAIN * worst_a, "A"), rule.next)


def _breaker(seen: Sequence[LogDigest], limits: Limits) -> SeasonFinding | None:
    """The worst four minutes against the breaker, told at the first log that was too much."""
    loads = [(d.start_s, load) for d in seen
             if (load := breaker_load_of(d.of(LogLoading), limits))]
    over = [(s, load) for s, load in loads if load.rms_a > load.derated_a * (1 + GAIN)]
    if not over:
        return None
    worst = max((load for _, load in over), key=lambda load: load.rms_a)
    return SeasonFinding(
        "over_breaker", "yes", over[0][0],
        f"for minutes the amps were more than the breaker carries, in {_logs(over)}; the hardest: "
        f"{worst.words}",
        Estimate.around(worst.rms_a, GAIN * worst.rms_a, "A"), BREAKER_NEXT)


def _logs(over: Sequence[object]) -> str:
    return "one log" if len(over) == 1 else f"{len(over)} logs"


def _untyped(seen: Sequence[LogDigest], limits: Limits) -> SeasonFinding | None:
    """Told over the window of the first label that is missing."""
    missing = [rule for rule in _RULES if not rule.is_rare
               and not math.isfinite(getattr(limits, rule.limit))]
    asks = [type_label("the board's label", f"{', '.join(rule.limit for rule in missing)} of "
                       "[pack.limits]")] if missing else []
    asks += [] if math.isfinite(limits.breaker_a) else [LIST_BREAKER]
    if not asks:
        return None
    rule = missing[0] if missing else _RULES[1]
    if not any(math.isfinite(rule.worst_a(d)) for d in seen):
        rule = _RULES[0]
    worst_a, start_s = max((rule.worst_a(d), d.start_s) for d in seen
                           if math.isfinite(rule.worst_a(d)))
    words = (f"up to {amps_size(worst_a)} out over {_TIMES[rule.window]}; whether that is too "
             "much cannot be told without the label")
    ask = "; ".join(asks)
    return SeasonFinding("limits_untyped", "cannot tell yet", start_s, words,
                         NoEstimate("no limit is typed", ask), ask)
