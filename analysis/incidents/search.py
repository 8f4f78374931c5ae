"""What went wrong in one log, as events and findings: cut-outs, charge stops, a breaker's trip."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from ..cells.features import CELL_COLUMNS, cell_digest
from ..cells.story import bleeding_hours
from ..estimate import Answer, Estimate, NoEstimate
from ..finding import Finding, Occurrence
from ..limits import Limits
from ..one_log.peaks import find_peak
from ..telemetry import Telemetry
from ..timebase import Observed, observe
from .breaker_heat import BREAKER_NEXT, breaker_load_of
from .charge_stop import HEADROOM, ChargeStop, find_charge_stops
from .cutout import CutOut, find_cut_outs
from .loading import loading_digest

#: Columns that tell the causes.
INCIDENT_COLUMNS: Final = tuple(dict.fromkeys(
    ["current_a", "voltage_v", "temp_1_c", "temp_2_c", *CELL_COLUMNS]))


def find_incidents(telemetry: Telemetry, limits: Limits | None = None,
                   seen: Observed | None = None,
                   enclosure_c: float = math.nan) -> tuple[list[Occurrence], list[Finding]]:
    """Events of one log that want an explanation, and findings that give it.

    Parameters
    ----------
    telemetry
        Amps in packhand's sign; ``INCIDENT_COLUMNS`` as far as the log has them.
    limits
        What was typed of board and breaker.
    seen
        ``observe(telemetry, "current_a")`` if it is at hand.
    enclosure_c
        Typed temperature around the breaker. [degC]
    """
    limits = limits or Limits()
    events: list[Occurrence] = []
    findings: list[Finding] = []
    for cut in find_cut_outs(telemetry, limits, seen):
        events.append(Occurrence(f"cut-out: {cut.cause}", cut.start_s, cut.end_s, cut.words))
        findings.append(_cut_finding(telemetry, cut))
    for stop in find_charge_stops(telemetry, limits, seen):
        if stop.ending in ("first_cell", "cold", "regeneration"):
            events.append(Occurrence(f"charge stop: {stop.ending}", stop.end_s, stop.end_s,
                                     stop.words))
            findings.append(_stop_finding(telemetry, stop, limits))
    load = (breaker_load_of(loading_digest(telemetry), limits, enclosure_c)
            if math.isfinite(limits.breaker_a) else None)
    if load and load.verdict != "no":
        findings.append(Finding(
            "breaker_heat", load.verdict, load.words,
            Estimate.around(load.rms_a, 0.02 * load.rms_a, "A"),
            BREAKER_NEXT))
    return events, findings


def _cut_finding(telemetry: Telemetry, cut: CutOut) -> Finding:
    span = telemetry.between(cut.start_s, cut.end_s)
    amps = observe(span, "current_a")
    size: Answer = NoEstimate("the log holds no amps there", "log the amps")
    if len(amps.time_s):
        peak = find_peak(amps.pick(span["current_a"]), amps)
        size = Estimate.around(abs(peak.current_a), 0.01 * abs(peak.current_a), "A")
    return Finding(f"cut_out_{cut.cause}", cut.verdict, cut.words, size, cut.next)


def _stop_finding(telemetry: Telemetry, stop: ChargeStop, limits: Limits) -> Finding:
    if stop.ending == "regeneration":
        return Finding(
            "regeneration_into_full", "yes", f"{stop.words}.",
            Estimate.around(stop.current_a, 0.01 * stop.current_a, "A"),
            HEADROOM)
    if stop.ending == "cold":
        return Finding("cold_charge_stop", "yes", f"{stop.words}.",
                       NoEstimate("it is a limit, not a size", "warm the pack"),
                       "warm the pack first; do not bypass the board")
    lead = _lead_of(telemetry, stop.cell)
    words = f"{stop.words}."
    if isinstance(lead, Estimate):
        bleed = limits.bleed_a if math.isfinite(limits.bleed_a) else None
        hours = bleeding_hours(lead, bleed)
        words += (f" It is {lead.value:.1f} Ah ahead of them: about {hours.value:.0f} h of "
                  "bleeding if the pack is only out of balance.")
    return Finding("early_charge_stop", "yes", words, lead,
                   "leave the charger on for hours after it has stopped, several times; if that "
                   "cell is also first to be empty, it is a small cell")


def _lead_of(telemetry: Telemetry, cell: int) -> Answer:
    digest = cell_digest(telemetry)
    if cell in digest.cells:
        place = digest.cells.index(cell)
        ahead, sd = digest.top_ah[place], digest.top_sd_ah[place]
        if np.isfinite([ahead, sd]).all():
            return Estimate.around(ahead, 2 * sd, "Ah")
    return NoEstimate("the charge was too short to compare the cells' curves",
                      "log the last hour of a charge")
