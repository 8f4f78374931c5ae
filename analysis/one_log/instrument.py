"""What one log says of the instrument: a zero error, a wrong scale, figures told at two moments."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Final

import numpy as np

from ..estimate import Answer, Estimate, NoEstimate
from ..finding import Finding
from ..phrases import clock_text
from ..telemetry import Telemetry
from ..timebase import Observed, observe
from .charge import display_step_a
from .direction import POINTS_MIN
from .percent import PercentAgreement
from .resistance import SKEW_MAX_S, Resistance
from .rest import find_rest, is_zero_error
from .sign import (
    PARTS,
    Convention,
    SignFinding,
    evidence_along,
    find_sign,
    sign_from_volts,
)

#: Where less of the throughput than this flows the other way, the amps are of one sign.
_OTHER_WAY: Final = 0.05
#: A turn known to within this is told as one moment. [s]
ABOUT_S: Final = 180.0
#: Two ways to find a skew agree within this. [s]
_AGREE_S: Final = 0.5
#: What 100 % stands for is told if it is so many half widths from the typed capacity: a drive in
#: twenty is more than one away.
_FAR: Final = 2.5


def with_one_sign(finding: SignFinding, telemetry: Telemetry, both: Observed) -> SignFinding:
    """The same sign, or none where the volts say that it turns within the log.

    The parts of the log are looked at only where its widest windows do not agree.

    New firmware or a shunt put in again turns it; amp-hours out and in would be mixed up. Amps that
    seem to carry no sign, though each part of the log has the same one, have that: only the skew
    between amps and volts changed.

    Parameters
    ----------
    telemetry
        As loaded: amps in the monitor's own sign.
    both
        ``observe(telemetry, "current_a", "voltage_v")``.
    """
    seems_unsigned = finding.convention == "unsigned" and finding.decided_by == "volts"
    if finding.decided_by == "person" or len(both.time_s) < PARTS * POINTS_MIN or not (
            seems_unsigned or (finding.is_disputed and _flows_both_ways(telemetry, both))):
        return finding
    parts = [(edges_s, part) for edges_s, part in _signs_of_parts(telemetry, both)
             if part.convention != "undecided"]
    conventions = {part.convention for _, part in parts}
    if seems_unsigned:
        is_signed = len(parts) > 1 and len(conventions) == 1 and "unsigned" not in conventions
        return parts[0][1] if is_signed else finding
    for (before_s, before), (after_s, after) in pairwise(parts):
        if before.convention != after.convention:
            return _turning(telemetry.between(before_s[0], after_s[1]),
                            before.convention, after.convention)
    return finding


def sign_of_log(telemetry: Telemetry, both: Observed | None = None) -> SignFinding:
    """What the sign of a log's amps means, or that no one meaning holds for all of it.

    Parameters
    ----------
    telemetry
        As loaded: amps in the monitor's own sign.
    both
        ``observe(telemetry, "current_a", "voltage_v")`` if it is at hand.
    """
    finding = find_sign(telemetry, both)
    if "current_a" not in telemetry or "voltage_v" not in telemetry:
        return finding
    return with_one_sign(finding, telemetry, both or observe(telemetry, "current_a", "voltage_v"))


def _turning(telemetry: Telemetry, before: Convention, after: Convention) -> SignFinding:
    """The sign turns within this part of the log."""
    last_s, first_s = float(telemetry.elapsed_s[0]), float(telemetry.elapsed_s[-1])
    if "unsigned" not in (before, after):
        last_s, first_s = _old_and_new(telemetry, 1 if after == "positive_is_discharge" else -1)
    return turned_within(telemetry, last_s, first_s)


def turned_within(telemetry: Telemetry, last_s: float, first_s: float) -> SignFinding:
    """No sign for the whole log: up to ``last_s`` its volts told one, from ``first_s`` another."""
    return SignFinding(
        "undecided", turned_s=first_s,
        reason=f"the sign turns within the log, {_about(telemetry, last_s, first_s)}",
        next="make two logs of it: stop a recording there and begin anew; bring in a table as two "
             "files")


def _old_and_new(telemetry: Telemetry, after: int) -> tuple[float, float]:
    """The last moment that speaks the old way and the first that speaks the new [s]: on both sides
    of the cut where the evidence is largest. ``after`` is +1 if plus means discharge then."""
    spans_s, nats = evidence_along(telemetry, observe(telemetry, "current_a", "voltage_v"))
    new = after * nats
    cut = int(np.argmax(np.cumsum(np.append(0.0, -new))))
    old_s, new_s = spans_s[:cut][new[:cut] < 0], spans_s[cut:][new[cut:] > 0]
    return (float(old_s[-1, 1]) if len(old_s) else float(telemetry.elapsed_s[0]),
            float(new_s[0, 0]) if len(new_s) else float(telemetry.elapsed_s[-1]))


def _about(telemetry: Telemetry, last_s: float, first_s: float) -> str:
    zone = str(telemetry.meta.get("time_zone", "UTC"))
    last, first = (clock_text(telemetry.at(at_s), zone)[:5] for at_s in (last_s, first_s))
    return f"about {first}" if first_s - last_s < ABOUT_S else f"between {last} and {first}"


def _signs_of_parts(telemetry: Telemetry,
                    both: Observed) -> Iterator[tuple[tuple[float, float], SignFinding]]:
    """Begin and end of each part of the log [s], and what the volts say of its sign."""
    edges_s = np.linspace(both.time_s[0], both.time_s[-1], PARTS + 1).tolist()
    for begun_s, end_s in pairwise(edges_s):
        part = telemetry.between(begun_s, end_s)
        if len(part) > 1:
            yield (begun_s, end_s), sign_from_volts(part)


def _flows_both_ways(telemetry: Telemetry, both: Observed) -> bool:
    amps = both.pick(telemetry["current_a"])
    up = float(amps[amps > 0].sum())
    return min(up, up - float(amps.sum())) > _OTHER_WAY * (2 * up - float(amps.sum()))


def instrument_findings(telemetry: Telemetry, sign: SignFinding, resistance: Resistance,
                        agreement: PercentAgreement | None, capacity_ah: float | None,
                        like: Observed | None = None) -> tuple[Finding, ...]:
    """What the log says of the instrument.

    Parameters
    ----------
    telemetry
        Amps in packhand's sign.
    sign, resistance, agreement
        What was found of the same log.
    capacity_ah
        The pack's capacity as typed, if it is known. [Ah]
    like
        As in ``timebase.observe``.
    """
    implied = agreement.implied_capacity_ah if agreement else None
    found = (_zero(telemetry, sign, like), _skew(sign, resistance), _scale(implied, capacity_ah))
    return tuple(finding for finding in found if finding)


def _zero(telemetry: Telemetry, sign: SignFinding, like: Observed | None) -> Finding | None:
    if "current_a" not in telemetry:
        return None
    seen = observe(telemetry, "current_a", like=like)
    amps = seen.pick(telemetry["current_a"])
    resolution = display_step_a(amps)
    rest = find_rest(amps, seen, resolution)
    if rest is None or abs(rest.current_a) < max(resolution, 0.05):
        return None
    shown = f"at rest the amps read {rest.current_a:+.2f} A"
    per_day = f"{abs(rest.current_a) * 24:.1f} Ah a day"
    is_in = is_zero_error(rest, amps) and sign.convention.endswith("_is_discharge")
    return Finding(
        "zero_error", "cannot tell yet",
        f"{shown}, into the pack: no load does that, a panel or a charger would; else the "
        f"monitor's zero is off and counts {per_day} that never flow" if is_in else
        f"{shown}: a zero error, or something small is on; either way {per_day}",
        Estimate.around(rest.current_a, max(resolution, 0.05), "A"),
        "switch everything off for a minute, or check with a clamp meter")


def _skew(sign: SignFinding, resistance: Resistance) -> Finding | None:
    """Volts and amps told at two moments, where the sign and the resistance find the same.

    A charge has few steps: there the best skew is one of the noise, and is not told.
    """
    skew_s = resistance.skew_s
    is_sure = (resistance.is_indicative and sign.decided_by == "volts"
               and abs(skew_s) < SKEW_MAX_S and abs(skew_s - sign.lag_s) <= _AGREE_S)
    if not is_sure or isinstance(resistance.after_1_s, NoEstimate) or not resistance.after_1_s.low:
        return None
    order = "after" if skew_s > 0 else "before"
    return Finding(
        "volts_and_amps_apart", "yes",
        f"the volts are told {abs(skew_s):.1f} s {order} the amps; that is reckoned with, but the "
        "resistance at 1 s and the watts of a quick pull are only hints",
        Estimate.around(skew_s, 0.2, "s"),
        "if the monitor can tell both in one message, let it")


def _scale(implied: Answer | None, capacity_ah: float | None) -> Finding | None:
    """Amps off by a factor look like another capacity: a log alone cannot tell them apart."""
    if implied is None or isinstance(implied, NoEstimate) or not capacity_ah:
        return None
    if abs(implied.value - capacity_ah) <= _FAR * implied.half_width:
        return None
    ratio = implied.value / capacity_ah
    return Finding(
        "gain_or_capacity_setting", "cannot tell yet",
        f"by the counted amps 100 % of the display stands for {implied.value:.0f} Ah, and the pack "
        f"is typed as {capacity_ah:.0f} Ah: the amps are told as {ratio:.2f} times what flows, or "
        "with a zero error, or the display is set to another capacity",
        implied.scaled(1 / capacity_ah, "ratio"),
        "one clamp meter reading at a steady load decides, and one at rest ('packhand note "
        "clamp-amps'); look at the capacity set in the display, too")
