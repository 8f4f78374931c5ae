"""The sign of the amps over a whole logbook: what each log says, and when it changed.

A charge at steady amps cannot tell its sign by itself, but its neighbours can; and a sign that
turns between two logs (new firmware, a shunt wired the other way) is found and dated.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from ..one_log.sign import Convention, SignFinding, apply_sign, declared_sign
from ..telemetry import Telemetry
from ..timebase import observe

#: Percent must move by this much to tell a sign. [points]
PERCENT_MOVE: Final = 3.0
_SIGNED: Final = ("negative_is_discharge", "positive_is_discharge")


@dataclass(frozen=True, slots=True)
class SignEvidence:
    """What one log knows about its sign."""

    by_volts: Convention
    by_percent: Convention
    told: Convention
    #: ``person``, ``description``, ``log`` or empty.
    told_by: str
    #: When the sign turns within the log, NaN if it does not. [s from its begin]
    turned_s: float = math.nan

    @property
    def turns(self) -> bool:
        """Whether one sign for all of the log would be wrong."""
        return math.isfinite(self.turned_s)

    @property
    def measured(self) -> Convention:
        """What the figures say: the volts first, then the percent."""
        if self.turns:
            return "undecided"
        return self.by_volts if self.by_volts != "undecided" else self.by_percent


@dataclass(frozen=True, slots=True)
class SignChange:
    """The meaning of minus turned between two logs."""

    #: Places in the sequence of logs: the last of the old, the first of the new.
    last_old: int
    first_new: int
    before: Convention
    after: Convention


def sign_evidence(telemetry: Telemetry, heard: SignFinding) -> SignEvidence:
    """Collect a log's evidence. ``heard`` is ``instrument.with_one_sign`` of what its volts say."""
    told, by = declared_sign(telemetry)
    return SignEvidence(heard.convention, _by_percent(telemetry), told, by,
                        heard.turned_s)


def _by_percent(telemetry: Telemetry) -> Convention:
    if "soc_pct" not in telemetry or "current_a" not in telemetry:
        return "undecided"
    both = observe(telemetry, "current_a", "soc_pct")
    if len(both.time_s) < 2:
        return "undecided"
    percent, amps = both.pick(telemetry["soc_pct"]), both.pick(telemetry["current_a"])
    change, net = float(percent[-1] - percent[0]), both.integral(amps)
    # A jump of the percent, or a change in a gap, speaks against the amps; then it tells nothing.
    if abs(change) < PERCENT_MOVE or net == 0 or len(both.gap_steps):
        return "undecided"
    if amps.min() < 0 < amps.max() and abs(net) < 0.5 * both.integral(abs(amps)):
        return "undecided"
    return "negative_is_discharge" if change * net > 0 else "positive_is_discharge"


def resolve_signs(evidence: Sequence[SignEvidence]) -> list[Convention]:
    """The convention of each log, oldest first.

    A person's word stands above all; then volts, percent, the nearest log whose figures tell
    (the earlier of two), and last what the monitor's description says. A log whose sign turns
    within it has none.
    """
    telling = [k for k, each in enumerate(evidence) if each.measured != "undecided"]
    return [_resolve_one(k, evidence, telling) for k in range(len(evidence))]


def _resolve_one(k: int, evidence: Sequence[SignEvidence], telling: list[int]) -> Convention:
    own = evidence[k]
    if own.told_by == "person":
        return own.told
    if own.turns:
        return "undecided"
    if own.measured != "undecided":
        return own.measured
    if telling:
        return evidence[min(telling, key=lambda other: (abs(other - k), other))].measured
    return own.told


def find_sign_changes(evidence: Sequence[SignEvidence]) -> tuple[SignChange, ...]:
    """Where the sign turned, as the volts tell it; a log that only the percent decides is passed
    over, for a corrected percent moves against the charge too."""
    told = [(k, each.by_volts) for k, each in enumerate(evidence) if each.by_volts in _SIGNED]
    return tuple(SignChange(a, b, before, after)
                 for (a, before), (b, after) in pairwise(told)
                 if before != after)


def in_packhand_sign(telemetry: Telemetry, convention: Convention,
                     lag_s: float = 0.0) -> Telemetry:
    """The log with amps positive into the pack; without amps where nobody knows their sign."""
    if convention == "undecided":
        kept = {name: values for name, values in telemetry.columns.items()
                if name not in ("current_a", "power_w")}
        return Telemetry(telemetry.start, telemetry.elapsed_s, kept, telemetry.events,
                         telemetry.meta)
    return apply_sign(telemetry, SignFinding(convention, lag_s=lag_s))
