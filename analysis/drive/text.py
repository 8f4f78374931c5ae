"""A drive summary as a person reads it: a sentence, then the figures."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

from ..estimate import Answer, NoEstimate
from ..local_days import local
from ..phrases import (
    amps_size,
    hours_text,
    moment_words,
    percent_text,
    signed_amps,
    unit_text,
)
from .summary import DriveSummary
from .words import gap_sentence

#: A log shorter than this is told in seconds.
SHORT_S: Final = 90.0
#: Gaps listed in the text; the JSON has all.
GAPS_TOLD: Final = 8
#: What to do about the largest part of the interval.
_SHARPEN = {
    "gain": "check the amps once against a clamp meter at a steady load",
    "offset": "switch everything off for a minute and note what the amps show",
    "sampling": "log twice a second or faster",
    "resolution": "log a display that shows tenths of an amp",
    "clock": "set the computer's clock from the network",
}


def _kilometres(distance_m: float) -> str:
    return f"{distance_m / 1000:.1f} km"


def drive_sentence(summary: DriveSummary, distance: Callable[[float], str] = _kilometres,
                   consumption: Callable[[float], str] = "{:.0f} Wh/km".format) -> str:
    """The opening sentence: how long, how far, what went out and in.

    Parameters
    ----------
    distance, consumption
        How metres and Wh/km are told.
    """
    parts = [_value(summary.flow.charge_out_ah, "{:.1f} Ah out".format),
             _value(summary.flow.charge_in_ah, "{:.1f} Ah in".format),
             _value(summary.consumption_wh_per_km, consumption)]
    peak = summary.flow.peak
    if peak is not None:
        parts.append(f"at most {amps_size(peak.current_a)}")
    told = ", ".join(part for part in parts if part)
    way = ", ".join(part for part in (_length(summary.duration_s),
                                      _value(summary.distance_m, distance)) if part)
    return f"{way}: {told}." if told else f"{way}."


def _length(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < SHORT_S else hours_text(seconds / 3600)


def drive_text(summary: DriveSummary) -> str:
    """The text of ``packhand drive``."""
    lines = [drive_sentence(summary), summary.sign.words, "", *_figures(summary)]
    lines += ["", *_notes(summary)] if _notes(summary) else []
    lines += ["", *_sharpen(summary)] if _sharpen(summary) else []
    return "\n".join(lines)


def _figures(summary: DriveSummary) -> list[str]:
    flow, left = summary.flow, summary.remaining
    rows = [
        ("charge out", _answer(flow.charge_out_ah, 2)),
        ("charge in", _answer(flow.charge_in_ah, 2)),
        ("energy out", _answer(flow.energy_out_wh, 0)),
        ("energy in", _answer(flow.energy_in_wh, 0)),
        ("distance", _distance(summary.distance_m)),
        ("consumption", _answer(summary.consumption_wh_per_km, 0)),
        ("resistance at 1 s", _answer(summary.resistance.after_1_s, 1)),
        ("resistance at 10 s", _answer(summary.resistance.after_10_s, 1)),
        ("peak", _peak(summary)), ("worst RMS", _rms(summary)),
        ("volts", _range(summary.voltage_v, "{:.1f} to {:.1f} V")),
        ("percent", _range(summary.soc_pct, "{:.0f} to {:.0f} %")),
        ("100 % stands for", _answer(summary.agreement.implied_capacity_ah, 1)
         if summary.agreement else ""),
        ("usable", _answer(left.usable_ah, 0)), ("time left", _answer(left.time_h, 1)),
        ("range left", _answer(left.range_km, 0)),
    ]
    return [f"{name:<19} {text}" for name, text in rows if text] + _untold(summary)


def _untold(summary: DriveSummary) -> list[str]:
    """What cannot be told, grouped by its reason."""
    flow, left = summary.flow, summary.remaining
    answers = {
        "charge": flow.charge_out_ah, "energy": flow.energy_out_wh,
        "distance": summary.distance_m, "consumption": summary.consumption_wh_per_km,
        "resistance": summary.resistance.after_1_s, "usable": left.usable_ah,
        "time left": left.time_h, "range left": left.range_km,
    }
    if summary.agreement:
        answers["what 100 % stands for"] = summary.agreement.implied_capacity_ah
    grouped: dict[tuple[str, str], list[str]] = {}
    for name, answer in answers.items():
        if isinstance(answer, NoEstimate):
            grouped.setdefault((answer.reason, answer.next), []).append(name)
    return [f"cannot tell yet     {', '.join(names)}: {reason}; to find out, {todo}"
            for (reason, todo), names in grouped.items()]


def _answer(answer: Answer, digits: int) -> str:
    if isinstance(answer, NoEstimate):
        return ""
    value, low, high = (f"{x:.{digits}f}" for x in (answer.value, answer.low, answer.high))
    unit = unit_text(answer.unit)
    if math.isclose(answer.high - answer.value, answer.value - answer.low, rel_tol=0.02):
        return f"{value} ± {answer.half_width:.{digits}f} {unit}"
    return f"{value} {unit} ({low} to {high})"


def _distance(metres: Answer) -> str:
    return _answer(metres if isinstance(metres, NoEstimate) else metres.scaled(1e-3, "km"), 2)


def _moment(summary: DriveSummary, elapsed_s: float) -> str:
    return moment_words(local(summary.start.timestamp() + elapsed_s))


def _value(answer: Answer, told: Callable[[float], str]) -> str:
    return "" if isinstance(answer, NoEstimate) else told(answer.value)


def _peak(summary: DriveSummary) -> str:
    peak = summary.flow.peak
    return f"{signed_amps(peak.current_a)} A, {_moment(summary, peak.elapsed_s)}" if peak else ""


def _rms(summary: DriveSummary) -> str:
    told = [f"{amps_size(rms)} over {name}" for name, rms in summary.flow.rms_current_a.items()
            if math.isfinite(rms)]
    return ", ".join(told)


def _range(ends: tuple[float, float], form: str) -> str:
    return form.format(*ends) if math.isfinite(ends[0]) else ""


def _notes(summary: DriveSummary) -> list[str]:
    longest = sorted(summary.gaps, key=lambda g: -g.seconds)[:GAPS_TOLD]
    notes = [f"{_moment(summary, g.start_s)}  {gap_sentence(g)}"
             for g in sorted(longest, key=lambda g: g.start_s)]
    if len(summary.gaps) > GAPS_TOLD:
        notes.append(f"... and {len(summary.gaps) - GAPS_TOLD} shorter gaps; --json lists them.")
    # What is explained has a finding below.
    notes += [f"{_moment(summary, e.start_s)}  "
              + (e.kind if ": " in e.kind else f"{e.kind}: {e.words}")
              for e in summary.events if e.kind != "gap"]
    if summary.gaps and summary.flow.budget_ah:
        out, into = summary.flow.unseen_ah
        notes.append(f"Not seen: {summary.duration_s - summary.observed_s:.0f} s; "
                     f"at most {out:.1f} Ah out and {into:.1f} Ah in.")
    if summary.mended:
        counts = ", ".join(f"{n} {kind.replace('_', ' ')}" for kind, n in summary.mended.items())
        notes.append(f"Mended in the log's time: {counts}.")
    if summary.agreement and summary.agreement.is_whole_numbers:
        notes.append(f"The percent comes in whole numbers: {percent_text(1)} is its least step.")
    if summary.resistance.is_indicative and "volts_and_amps_apart" not in {
            finding.kind for finding in summary.findings}:
        notes.append("The volts follow the amps too loosely: the resistance at 1 s is only a "
                     "hint.")
    notes += [f"{f.words} ({f.verdict}; {f.next})" for f in summary.findings]
    return notes


def _sharpen(summary: DriveSummary) -> list[str]:
    terms = summary.flow.budget_ah
    if not terms:
        return []
    name = max(terms, key=lambda key: terms[key])
    share = terms[name] ** 2 / (sum(u * u for u in terms.values()) or 1.0)
    return [f"The ± of the charge is mostly {name} ({100 * share:.0f} %): "
            f"to sharpen it, {_SHARPEN[name]}."]
