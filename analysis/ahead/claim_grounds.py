"""What the verdict on a claim rests on, what it still needs, and the best estimate until then."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from ..digest import LogDigest
from ..estimate import Answer, Estimate, NoEstimate
from ..fitting.student import t_quantile
from ..one_log.anchors import LogAnchors
from ..one_log.charge import SECONDS_PER_HOUR
from ..one_log.use import LogUse
from .claims import CHARGES_MIN, PEAK_HELD_S, Claim, Judged, Need
from .consumption import RECENT_RUNS, RUNS_MIN, Run
from .range_ahead import COVERAGE, quotient
from .rate_model import RateModel
from .usable_energy import telling_spans


def with_grounds(judged: Judged, digests: Sequence[LogDigest], km_runs: Sequence[Run],
                 full: Answer) -> Judged:
    """A verdict with what it rests on and needs.

    Parameters
    ----------
    km_runs
        Drives with a distance, oldest first.
    full
        What a full pack gives, in what ``Run.used`` counts.
    """
    claim = judged.claim
    spans = len(telling_spans(digests))
    charges = len(full_charges(digests))
    if claim.quantity in ("range", "consumption"):
        rests_on = _counted(min(len(km_runs), RECENT_RUNS), "drive")
        needs = [_enough("drives with distance beside amps and volts", len(km_runs), RUNS_MIN)]
        if claim.quantity == "range":
            needs.append(_capacity_need(spans))
    elif claim.quantity == "capacity":
        rests_on = _counted(spans, "stretch", "es") + " between full and empty"
        needs = [_capacity_need(spans)]
    elif claim.quantity == "peak":
        rests_on = f"the hardest {PEAK_HELD_S:.0f} s of {_counted(len(digests), 'log')}"
        needs = [_peak_need(claim, judged.found)]
    else:
        rests_on = _counted(charges, "charge") + " that came to the top"
        needs = [_enough("charges that came to the top", charges, CHARGES_MIN), Need(
            "one of them from nearly empty", isinstance(judged.found, Estimate))]
    is_open = claim.quantity == "range" and isinstance(judged.found, NoEstimate)
    return replace(judged, rests_on=rests_on, needs=tuple(needs),
                   so_far=first_guess(km_runs, full) if is_open else None)


def first_guess(km_runs: Sequence[Run], full: Answer) -> Estimate | None:
    """From full to empty by the few drives there are: wide, for how they scatter is only
    supposed. [km, 90 %]

    ``rate_model`` with its prior scatter, and Student's t of its freedom; ``None`` without a
    drive or without what a full pack gives.
    """
    if not km_runs or isinstance(full, NoEstimate):
        return None
    model = RateModel.learnt(km_runs)
    level, scale = model.ahead(model.usual_extent, km_runs[-1].met)
    factor = math.exp(t_quantile((1 + COVERAGE) / 2, model.freedom) * scale)
    value = math.exp(level)
    return quotient(full, Estimate(value, value / factor, value * factor, f"{full.unit}/km",
                                   COVERAGE), "km")


def full_charges(digests: Sequence[LogDigest]) -> list[tuple[float, float]]:
    """Amp-hours put in until the top, and the hours that it took, of each charge that got there
    (``season.ledger.TOP_FORMULA``)."""
    charges = []
    for digest in digests:
        full = [a for a in digest.of(LogAnchors).anchors if a.kind == "full"]
        if digest.of(LogUse).kind == "charge" and full and math.isfinite(full[0].net_ah):
            charges.append((full[0].net_ah, full[0].seen_s / SECONDS_PER_HOUR))
    return charges


def _enough(what: str, there: int, wanted: int) -> Need:
    is_met = there >= wanted
    return Need(f"{what}: {there}, " + (f"where {wanted} do" if is_met else f"{wanted} are needed"),
                is_met)


def _capacity_need(spans: int) -> Need:
    words = "what the pack holds, measured from a full charge down to nearly empty"
    return Need(f"{words}: {_counted(spans, 'time')}" if spans else f"{words}: not yet", spans > 0)


def _peak_need(claim: Claim, held: Answer) -> Need:
    there = isinstance(held, Estimate) and held.value >= claim.value
    care = "" if there else ", within the maker's limits"
    return Need(f"{claim.value:.0f} A held for {PEAK_HELD_S:.0f} s{care}", there)


def _counted(count: int, word: str, plural: str = "s") -> str:
    return f"{count} {word}{'' if count == 1 else plural}"
