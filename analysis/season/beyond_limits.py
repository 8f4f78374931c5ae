"""Logs whose amps were beyond what the labels of board and breaker allow.

A worst RMS over a window is held against the limit that is meant for such a time: ten seconds
against the board's peak, ten minutes against its continuous amps and against the breaker. Why a
breaker tripped in one log, with the warmth around it, is ``incidents.breaker_heat``'s subject.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ..digest import LogDigest
from ..estimate import Estimate, NoEstimate
from ..limits import Limits
from ..one_log.use import LogUse
from ..phrases import amps_size
from .findings import SeasonFinding

#: The part of a measured RMS that it may be wrong by: gain of an unchecked shunt (common
#: practice, no source).
GAIN: Final = 0.01


@dataclass(frozen=True, slots=True)
class _Rule:
    kind: str
    #: Field of ``Limits``, and place in ``LogUse.rms_a``.
    limit: str
    window: int
    words: str
    next: str


_RULES: Final = (
    _Rule("over_peak", "peak_a", 0, "over ten seconds; the board's label allows a peak of",
          "pull away more gently, or have the controller's upper amps set below the board's"),
    _Rule("over_continuous", "continuous_a", 2,
          "over ten minutes; the board's label allows for good",
          "let it cool between hard pulls, or have the controller's upper amps set lower"),
    _Rule("over_breaker", "breaker_a", 2, "over ten minutes; the breaker is rated",
          "have a breaker fitted that its maker rates for these amps in DC at the pack's volts; "
          "local code and a licensed hand decide"),
)
#: The windows of ``LogUse.rms_a``.
_TIMES: Final = ("ten seconds", "a minute", "ten minutes")
_LABEL: Final = ("type the labels of board and breaker: {} under [pack.limits] in logbook.toml")


def beyond_limits(digests: Sequence[LogDigest], limits: Limits) -> tuple[SeasonFinding, ...]:
    """One finding for each limit that was passed, at the first log that did; and one that asks
    for the labels that nobody typed. Empty where no log holds amps.

    Parameters
    ----------
    digests
        Of one pack, with the part ``use``.
    """
    seen = [d for d in digests if math.isfinite(d.of(LogUse).rms_a[0])]
    if not seen:
        return ()
    found = [_passed(seen, rule, getattr(limits, rule.limit)) for rule in _RULES]
    missing = [rule for rule in _RULES if not math.isfinite(getattr(limits, rule.limit))]
    told = tuple(finding for finding in found if finding)
    return (*told, _untyped(seen, missing)) if missing else told


def _passed(seen: Sequence[LogDigest], rule: _Rule, limit_a: float) -> SeasonFinding | None:
    """NaN, an untyped limit or a window longer than the log, is never passed."""
    over = [d for d in seen if d.of(LogUse).rms_a[rule.window] > limit_a * (1 + GAIN)]
    if not over:
        return None
    worst_a = max(d.of(LogUse).rms_a[rule.window] for d in over)
    logs = "one log" if len(over) == 1 else f"{len(over)} logs"
    return SeasonFinding(
        rule.kind, "yes", over[0].start_s,
        f"up to {amps_size(worst_a)} {rule.words} {amps_size(limit_a)}: {logs}",
        Estimate.around(worst_a, GAIN * worst_a, "A"), rule.next)


def _untyped(seen: Sequence[LogDigest], missing: Sequence[_Rule]) -> SeasonFinding:
    """Told over the window of the first label that is missing."""
    wanted = missing[0].window
    known = [d for d in seen if math.isfinite(d.of(LogUse).rms_a[wanted])]
    window, logs = (wanted, known) if known else (0, seen)
    worst_a, start_s = max((d.of(LogUse).rms_a[window], d.start_s) for d in logs)
    words = (f"up to {amps_size(worst_a)} over {_TIMES[window]}; whether that is too much cannot "
             "be told without the label")
    ask = _LABEL.format(", ".join(rule.limit for rule in missing))
    return SeasonFinding("limits_untyped", "cannot tell yet", start_s, words,
                         NoEstimate("no limit is typed", ask), ask)
