"""The figures of one log as rows of a page: label, figure with its interval, badge."""

from __future__ import annotations

import math
from collections.abc import Iterator

from analysis.drive.summary import DriveSummary
from analysis.estimate import Estimate

from .elements import Fact, Given, Why, answer_fact
from .lengths import per_way, way
from .quantities import NBSP, Units, number
from .recency import span_words


def facts_of(summary: DriveSummary, units: Units) -> list[Fact]:
    """What a log says, most asked for first."""
    return list(_facts(summary, units))


def _facts(summary: DriveSummary, units: Units) -> Iterator[Fact]:
    flow = summary.flow
    seen = Given("seen", f"{span_words(summary.observed_s)}, {summary.samples}{NBSP}samples",
                 "measured")
    charge = Why("Σ of amps × seconds ÷ 3600, each direction for itself; nothing across gaps",
                 (seen,), "coulomb counting by the trapezoid rule; common practice, no source")
    yield answer_fact("Out of the pack", flow.charge_out_ah, told=charge)
    yield answer_fact("Into the pack", flow.charge_in_ah, told=charge)
    yield answer_fact("Energy out", flow.energy_out_wh, told=Why(
        "Σ of amps × volts × seconds ÷ 3600; nothing across gaps", (seen,), "P = U I"))
    if flow.peak:
        side = "out" if flow.peak.current_a < 0 else "in"
        yield Fact("Most amps", f"{number(abs(flow.peak.current_a), 0)}{NBSP}A {side}",
                   _worst(summary), "measured")
    if isinstance(summary.distance_m, Estimate):
        yield answer_fact("Distance", way(summary.distance_m.scaled(0.001, "km"), units))
    if isinstance(summary.consumption_wh_per_km, Estimate):
        yield _per_distance(summary.consumption_wh_per_km, units)
    yield answer_fact("Pack resistance after 1 s", summary.resistance.after_1_s, told=Why(
        "change of volts ÷ change of amps, one second after it; leads and joints included",
        (Given("stretches with such changes", str(summary.resistance.windows), "measured"),),
        "Ohm's law"))
    yield Fact("What minus means", {
        "negative_is_discharge": "out of the pack", "positive_is_discharge": "into the pack",
        "unsigned": "the amps carry no sign", "undecided": "cannot tell yet",
    }[summary.sign.convention], summary.sign.words, "worked out")
    unseen_s = summary.duration_s - summary.observed_s
    if unseen_s > 1:
        yield Fact("Not recorded", span_words(unseen_s), "nothing is counted in this time",
                   "measured")


def _per_distance(wh_per_km: Estimate, units: Units) -> Fact:
    """Energy for a distance, or the other way round."""
    found = per_way(wh_per_km, units)
    labels = {"mi/kWh": "With each kilowatt-hour", "Wh/km": "For each kilometre"}
    return answer_fact(labels.get(found.unit, "For each mile"), found, told=Why(
        "(energy out − energy in) ÷ distance, both of the time that was seen", (),
        "common practice, no source"))


def _worst(summary: DriveSummary) -> str:
    """The worst ten seconds, minute and ten minutes, as a breaker feels them."""
    told = [f"{number(rms, 0)}{NBSP}A over {name}"
            for name, rms in summary.flow.rms_current_a.items() if math.isfinite(rms)]
    return "worst RMS: " + ", ".join(told) if told else ""
