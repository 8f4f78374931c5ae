"""Everything about one log: the single answers of this package, put together."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

import numpy as np

from ..estimate import Answer, Estimate, NoEstimate
from ..finding import Finding, Occurrence
from ..incidents.search import find_incidents
from ..limits import Limits
from ..one_log.cell_sum import cell_findings, find_apart, trusted
from ..one_log.charge import (
    Budget,
    Instrument,
    charge_budget,
    counted,
    display_step_a,
    resolution_term_ah,
    sampling_term_ah,
    throughput,
    unseen_charge_ah,
)
from ..one_log.clipping import Clipping, clipping_finding, find_clipping
from ..one_log.distance import distance_m, seen_distance_m, seen_of_told_m
from ..one_log.instrument import instrument_findings, sign_of_log
from ..one_log.peaks import Peak, find_peak
from ..one_log.percent import PercentAgreement, compare_percent
from ..one_log.resistance import Resistance, find_resistance
from ..one_log.rolling import worst_rms
from ..one_log.sign import SignFinding, apply_sign
from ..one_log.use import first_and_last
from ..telemetry import Floats, Telemetry
from ..timebase import GAP_CAUSES, Gap, Observed, gaps_of, observe
from .remaining import Remaining, find_remaining

#: Columns that ``summarise`` looks at; load no others and it is quick.
COLUMNS: Final = ("current_a", "voltage_v", "soc_pct", "charge_left_ah", "speed_m_s", "distance_m",
                  "latitude_deg", "longitude_deg")
RMS_WINDOWS_S: Final = {"10 s": 10.0, "1 min": 60.0, "10 min": 600.0}
#: The volts of a shunt monitor nobody has checked (common practice, no source).
VOLTS_GAIN: Final = 0.005
#: Less than this is not a drive. [m]
DISTANCE_MIN_M: Final = 100.0


@dataclass(frozen=True, slots=True)
class Flow:
    """Charge and energy through the pack, and how hard the amps were."""

    charge_out_ah: Answer
    charge_in_ah: Answer
    energy_out_wh: Answer
    energy_in_wh: Answer
    #: Standard uncertainties of ``charge_out_ah`` by cause. [Ah]
    budget_ah: Mapping[str, float]
    #: The most that may have flowed unseen, out and in. [Ah]
    unseen_ah: tuple[float, float]
    #: The most that flowed beyond the end of the instrument's range, out and in. [Ah]
    clipped_ah: tuple[float, float]
    peak: Peak | None
    rms_current_a: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class DriveSummary:
    """Everything about one log. Amps positive into the pack."""

    start: datetime
    end: datetime
    duration_s: float
    samples: int
    observed_s: float
    gaps: tuple[Gap, ...]
    sign: SignFinding
    flow: Flow
    distance_m: Answer
    consumption_wh_per_km: Answer
    resistance: Resistance
    remaining: Remaining
    #: Lowest and highest, NaN if the log has no volts. [V]
    voltage_v: tuple[float, float]
    #: First and last displayed percent, NaN if there is none.
    soc_pct: tuple[float, float]
    agreement: PercentAgreement | None
    events: tuple[Occurrence, ...]
    findings: tuple[Finding, ...]
    #: What was mended about the log's time: counts by kind.
    mended: Mapping[str, int]

    def at(self, elapsed_s: float) -> str:
        """A moment of the log as ISO 8601 UTC."""
        return _iso(self.start, elapsed_s)

    def as_json(self, log_name: str) -> dict[str, Any]:
        """The document of ``packhand drive --json``."""
        flow, peak = self.flow, self.flow.peak
        return {
            "schema": "packhand.drive/1", "log": log_name,
            "start": self.at(0.0), "end": self.at(self.duration_s),
            "duration_s": self.duration_s, "samples": self.samples, "observed_s": self.observed_s,
            "gaps": [{"start": self.at(g.start_s), "end": self.at(g.end_s), "cause": g.cause}
                     for g in self.gaps],
            "sign": self.sign.as_json(),
            "charge_out_ah": flow.charge_out_ah.as_json(),
            "charge_in_ah": flow.charge_in_ah.as_json(),
            "charge_budget_ah": dict(flow.budget_ah),
            "unseen_ah": {"out": flow.unseen_ah[0], "in": flow.unseen_ah[1]},
            "clipped_ah": {"out": flow.clipped_ah[0], "in": flow.clipped_ah[1]},
            "energy_out_wh": flow.energy_out_wh.as_json(),
            "energy_in_wh": flow.energy_in_wh.as_json(),
            "distance_m": self.distance_m.as_json(),
            "consumption_wh_per_km": self.consumption_wh_per_km.as_json(),
            "resistance_mohm": self.resistance.after_1_s.as_json(),
            "resistance_10_s_mohm": self.resistance.after_10_s.as_json(),
            "resistance_skew_s": self.resistance.skew_s,
            "remaining": self.remaining.as_json(),
            "peak": {"current_a": peak.current_a if peak else None,
                     "at": self.at(peak.elapsed_s) if peak else None},
            "rms_current_a": {name: _or_none(rms) for name, rms in flow.rms_current_a.items()},
            "voltage_v": dict(zip(("min", "max"), map(_or_none, self.voltage_v), strict=True)),
            "soc_pct": dict(zip(("start", "end"), map(_or_none, self.soc_pct), strict=True)),
            "soc_agreement": self.agreement.as_json() if self.agreement else {},
            "events": [{"kind": e.kind, "start": self.at(e.start_s), "end": self.at(e.end_s),
                        "words": e.words} for e in self.events],
            "findings": [{"kind": f.kind, "verdict": f.verdict, "words": f.words,
                          "size": f.size.as_json(), "next": f.next} for f in self.findings],
            "mended": dict(self.mended),
        }


def summarise(telemetry: Telemetry, *, capacity_ah: float | None = None,
              instrument: Instrument | None = None, limits: Limits | None = None,
              enclosure_c: float = math.nan, told_m: Answer | None = None) -> DriveSummary:
    """Everything about one log.

    Parameters
    ----------
    telemetry
        As loaded: amps in the monitor's own sign. Only ``COLUMNS`` are looked at, and
        ``incidents.INCIDENT_COLUMNS`` as far as they are there.
    capacity_ah
        The pack's capacity, if known. [Ah]
    instrument
        What the amps may be wrong by; a usual shunt monitor by default.
    limits, enclosure_c
        What was typed of the board and the breaker, and how warm it is around the breaker.
    told_m
        The whole way, where a person tells it; it goes before what the log says. [m]
    """
    instrument = instrument or Instrument()
    both = observe(telemetry, "current_a", "voltage_v")
    finding = sign_of_log(telemetry, both)
    signed = apply_sign(telemetry, finding)
    seen = both if both.rows is None else _amps_or_all(signed)
    clipped = tuple(find_clipping(signed, both)) if _is_signed(finding) else ()
    flow = _flow(signed, finding, seen, both, instrument, clipped)
    covered = told_m or distance_m(signed, both)
    seen_m = seen_of_told_m(covered, seen, float(signed.elapsed_s[-1])) if told_m else (
        seen_distance_m(signed, covered, both))
    consumption = _consumption(flow, seen_m)
    agreement = compare_percent(signed, instrument, both) if _is_signed(finding) else None
    volts = signed["voltage_v"]
    mean_v = float(np.nanmean(volts[:: max(1, len(volts) // 100_000)])) if (
        "voltage_v" in signed) else math.nan
    last_s = float(signed.elapsed_s[-1])
    gaps = gaps_of(signed, seen)
    apart = find_apart(signed)
    resistance = find_resistance(signed, both)
    incidents, explained = find_incidents(trusted(signed, apart), limits, seen, enclosure_c) if (
        _is_signed(finding)) else ([], [])
    return DriveSummary(
        start=signed.start, end=signed.at(last_s), duration_s=last_s, samples=len(signed),
        observed_s=seen.seconds, gaps=gaps, sign=finding, flow=flow, distance_m=covered,
        consumption_wh_per_km=consumption, resistance=resistance,
        remaining=find_remaining(signed, agreement, consumption, mean_v, capacity_ah),
        voltage_v=_ends_of(volts), soc_pct=first_and_last(signed["soc_pct"]),
        agreement=agreement, events=_occurrences(signed, gaps, agreement, incidents),
        findings=(*explained, *cell_findings(signed, apart),
                  *(clipping_finding(each, signed) for each in clipped),
                  *instrument_findings(signed, finding, resistance, agreement, capacity_ah, both)),
        mended=signed.meta.get("time", {}))


def _is_signed(finding: SignFinding) -> bool:
    return finding.convention != "undecided"


def _amps_or_all(telemetry: Telemetry) -> Observed:
    return observe(telemetry, "current_a") if "current_a" in telemetry else observe(telemetry)


def _flow(telemetry: Telemetry, finding: SignFinding, seen: Observed, both: Observed,
          instrument: Instrument, clipped: tuple[Clipping, ...]) -> Flow:
    if "current_a" not in telemetry:
        missing = NoEstimate("the log holds no amps", "log the amps")
        return Flow(missing, missing, missing, missing, {}, (0.0, 0.0), (0.0, 0.0), None,
                    dict.fromkeys(RMS_WINDOWS_S, math.nan))
    amps = seen.pick(telemetry["current_a"])
    rms = worst_rms(amps, seen, tuple(RMS_WINDOWS_S.values()))
    hard = dict(zip(RMS_WINDOWS_S, rms, strict=True))
    peak = find_peak(amps, seen)
    if not _is_signed(finding):
        unknown = NoEstimate(f"the sign of the amps cannot be told: {finding.reason}", finding.next)
        return Flow(unknown, unknown, unknown, unknown, {}, (0.0, 0.0), (0.0, 0.0), peak,
                    hard)
    charge = throughput(seen, amps)
    unseen_in, unseen_out = unseen_charge_ah(amps, seen)
    clipped_in, clipped_out = (sum(each.missing_ah for each in clipped if each.end_a * way > 0)
                               for way in (1, -1))
    more_in, more_out = unseen_in + clipped_in, unseen_out + clipped_out
    resolution = resolution_term_ah(amps, seen, display_step_a(amps))
    sampling = sampling_term_ah(amps, seen)

    def budget(count_ah: float) -> Budget:
        return charge_budget(count_ah, seen.seconds, instrument,
                             resolution_ah=resolution, sampling_ah=sampling)

    out, into = budget(charge.out), budget(charge.into)
    energy_out, energy_in = _energy(telemetry, both, (out, more_out), (into, more_in))
    return Flow(counted(charge.out, out, more_out, "Ah"), counted(charge.into, into, more_in, "Ah"),
                energy_out, energy_in, out.terms, (unseen_out, unseen_in),
                (clipped_out, clipped_in), peak, hard)


def _energy(telemetry: Telemetry, both: Observed,
            *directions: tuple[Budget, float]) -> tuple[Answer, Answer]:
    """Watt-hours out and in, from the charge's budget at the mean volts and the volts' gain."""
    if not len(both.time_s):
        missing = NoEstimate("the log holds no pack volts", "log the volts beside the amps")
        return missing, missing
    volts = both.pick(telemetry["voltage_v"])
    energy = throughput(both, volts, both.pick(telemetry["current_a"]))
    mean_v = float(volts[:: max(1, len(volts) // 100_000)].mean())
    answers: list[Answer] = []
    for watt_hours, (budget, more_ah) in zip((energy.out, energy.into), directions,
                                                  strict=True):
        terms = {name: u * mean_v for name, u in budget.terms.items()}
        terms["volts"] = watt_hours * VOLTS_GAIN / math.sqrt(3)
        answers.append(counted(watt_hours, Budget(terms), more_ah * mean_v, "Wh"))
    return answers[0], answers[1]


def _consumption(flow: Flow, covered_m: Answer) -> Answer:
    """Watt-hours per kilometre, out less in."""
    charge, out, into = flow.charge_out_ah, flow.energy_out_wh, flow.energy_in_wh
    if isinstance(charge, NoEstimate):
        return charge
    if isinstance(out, NoEstimate):
        return out
    if isinstance(into, NoEstimate):
        return into
    if isinstance(covered_m, NoEstimate):
        return covered_m
    if covered_m.value < DISTANCE_MIN_M:
        return NoEstimate("the vehicle hardly moved", "log a drive")
    km = covered_m.value / 1000
    value = (out.value - into.value) / km
    # Gain and offset move out and in together, so the net is as uncertain as the larger of them.
    # What flowed in gaps does not matter: the distance is that of the seen time too.
    spread = max(out.value - out.low, into.value - into.low) / km
    half = math.hypot(spread, value * covered_m.half_width / covered_m.value)
    volts = out.value / max(charge.value, 1e-9)
    return Estimate(value, value - half, value + half + flow.clipped_ah[0] * volts / km, "Wh/km")


def _ends_of(values: Floats) -> tuple[float, float]:
    low, high = float(values.min()), float(values.max())
    if math.isfinite(low) and math.isfinite(high):
        return low, high
    finite = values[np.isfinite(values)]
    return (float(finite.min()), float(finite.max())) if len(finite) else (math.nan, math.nan)


def _occurrences(telemetry: Telemetry, gaps: tuple[Gap, ...],
                 agreement: PercentAgreement | None,
                 incidents: list[Occurrence]) -> tuple[Occurrence, ...]:
    found = [*incidents]
    found += [Occurrence("gap", g.start_s, g.end_s, g.cause) for g in gaps]
    found += [Occurrence(e.kind, e.elapsed_s, e.elapsed_s, e.words) for e in telemetry.events
              if e.kind not in GAP_CAUSES]
    if agreement:
        found += [Occurrence("percent jump", j.start_s, j.end_s, j.words) for j in agreement.jumps]
    return tuple(sorted(found, key=lambda o: o.start_s))


def _or_none(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _iso(start: datetime, elapsed_s: float) -> str:
    moment = start + timedelta(seconds=elapsed_s)
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")
