"""The sections that papers share: each a function of the evidence, none with a verdict of its
own beyond what the analysis gives."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

from analysis.asking.evidence import Evidence, HandReading, Layer
from analysis.cells.story import CellFinding
from analysis.estimate import NoEstimate
from analysis.one_log.charge import Instrument
from analysis.one_log.use import FROST_C, HIGH_PCT, HOT_C, LOW_PCT
from analysis.phrases import day_text, signed_amps
from analysis.season.ledger import FULL_EVERY_DAYS, Ledger

from ..quantities import Units, distance, number, shown, unbroken
from .charts import capacity_course, cell_ranges
from .paper import Block, Chart, Section, Table, Words
from .told import (
    Row,
    capital,
    figure_row,
    moment_text,
    results,
    row,
    temperature_row,
    zone_of,
)

#: What identifies a pack or a vehicle, told as missing where nobody typed it.
_ASKED_FOR: Final = {"pack": ("maker", "model", "serial", "made", "bought", "cells", "rated_ah"),
                     "vehicle": ("maker", "model", "serial", "mass_kg")}
#: Ends of the keys in ``logbook.toml`` -> units.
_SUFFIXES: Final = {"a": "A", "v": "V", "ah": "Ah", "s": "s", "c": "°C", "kg": "kg", "pct": "%"}
#: Notes that check the instrument.
_CHECKS: Final = ("clamp-amps", "meter-volts", "cell-volts")
_MEANING: Final = {
    "negative_is_discharge": "minus means out of the pack",
    "positive_is_discharge": "plus means out of the pack",
    "unsigned": "the amps carry no sign; the volts tell which way they flow",
    "undecided": "which way the amps flow is not settled",
}
CAUTION: Final = (
    "This paper tells what was recorded. It does not say that a pack, a vehicle or a charge is "
    "safe, and it replaces neither the maker's papers nor an inspection by someone licensed. "
    "Where they differ, the maker, the local code and the inspector come first.")


def identity(evidence: Evidence) -> Section:
    """Pack and vehicle as typed; what nobody typed is said, nothing is invented."""
    rows = [*_typed("pack", evidence.pack, evidence.pack_table),
            *_typed("vehicle", evidence.vehicle, evidence.vehicle_table)]
    return Section("What this is about", (Table(
        "As typed in logbook.toml; packhand does not check it", ("What", "Typed"), tuple(rows),
        (2.0, 5.0)),))


def _typed(kind: str, name: str, table: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    plain = {key: value for key, value in table.items()
             if key != "name" and not isinstance(value, dict | list)}
    yield capital(kind).rstrip("."), name or "without a name"
    yield from (_with_unit(key, value) for key, value in plain.items())
    limits = table.get("limits")
    yield from (_with_unit(f"limit: {key}", value)
                for key, value in (limits if isinstance(limits, dict) else {}).items())
    if missing := [key for key in _ASKED_FOR[kind] if key not in plain]:
        yield "Not typed", ", ".join(_with_unit(key, "")[0] for key in missing)


def _with_unit(key: str, value: object) -> tuple[str, str]:
    """``rated_ah = 105`` as ``rated`` and ``105 Ah``; ``peak_s = 10`` as ``peak, for``."""
    name, _, suffix = key.rpartition("_")
    unit = _SUFFIXES.get(suffix, "") if name else ""
    words = (name if unit else key).replace("_", " ") + (", for" if unit == "s" else "")
    return words, f"{value} {unit}".strip()


def method(evidence: Evidence) -> Section:
    """How the figures come about, and what their intervals mean."""
    return Section("How it was measured", (
        Words("A monitor on the pack was logged on the owner's own computer. Every sample is kept "
              "as heard; figures are worked out from the samples. Time without a record is never "
              "filled in: nothing is counted or drawn across it."),
        Words("A figure with an interval: the truth should lie within it 19 times in 20. "
              "Capacity is the charge counted between a full and an empty (or rested, nearly "
              "empty) pack, brought to 20 °C. Measured, worked out, typed and claimed figures are "
              "named as such."),
        Words(f"Monitor: {evidence.monitor or 'not described'}. Logged and worked out by "
              f"{evidence.software or 'packhand'}.", "small")))


def instrument(evidence: Evidence) -> Section:
    """What the amps were read by, how they are meant, and whether anyone checked them."""
    usual = Instrument()
    told = "; ".join(f"{_MEANING[way]} ({count} logs)"
                     for way, count in sorted(evidence.conventions.items()))
    checks = [note for note in evidence.notes if note.kind in _CHECKS]
    checked = ("Readings by a second meter are listed below." if checks else
               "Nobody noted a reading by a second meter.")
    blocks: list[Block] = [
        Words(f"Sign: {told}."),
        Words(f"{checked} The intervals allow the monitor's amps {number(100 * usual.gain, 0)} % "
              f"of scale and {number(usual.offset_a, 1)} A of zero, as for a shunt monitor that "
              "nobody has checked (common practice, no source).")]
    if checks:
        blocks.append(notes_table("Readings by a second meter", checks, evidence))
    if evidence.corrections:
        blocks.append(_corrections(evidence))
    blocks += [Words(capital(unbroken(f.words if (day := day_text(f.start_s)) in f.words
                                      else f"{day}: {f.words}")))
               for f in evidence.season.findings if f.kind in ("zero_error", "display_setting")]
    return Section("The instrument and its check", tuple(blocks))


def _corrections(evidence: Evidence) -> Table:
    def row(layer: Layer) -> tuple[str, ...]:
        if layer.column == "time":
            return day_text(layer.from_s), "Computer's clock", "", "", layer.reason
        return (day_text(layer.from_s), shown(layer.column).label, f"{layer.zero:g}",
                f"{layer.gain:g}", layer.reason)

    return Table("Corrections laid over the raw figures, which stay as they were",
                 ("From", "Figure", "Zero", "Times", "Why"), tuple(map(row, evidence.corrections)),
                 (2, 2, 1, 1, 4))


def notes_table(caption: str, notes: list[HandReading], evidence: Evidence) -> Table:
    """Hand readings with the amps of their moment."""
    zone = zone_of(evidence)
    return Table(caption, ("When", "What", "Figure", "Where, with what", "Amps then, in words"),
                 tuple((moment_text(n.time_s, zone), n.words, n.figure,
                        ", ".join(part for part in (n.where, n.instrument) if part),
                        "; ".join(part for part in (_amps_then(n), n.text) if part))
                       for n in notes), (2.4, 3, 1.2, 2, 3))


def _amps_then(note: HandReading) -> str:
    return f"{signed_amps(note.current_a)} A shown" if math.isfinite(note.current_a) else ""


def capacity(evidence: Evidence, units: Units) -> Section:
    """Capacity, fade, resistance and efficiency, with the course of the capacity."""
    season = evidence.season
    drawing = capacity_course(season, evidence.rated_ah)
    blocks: list[Block] = [results("Results", [
        row("Capacity now, at 20 °C", season.capacity_now),
        row("Change since the first test", season.fade.change_ah),
        row("Resistance now, at 20 °C", season.resistance.now_mohm),
        row("Change of resistance in a year", season.resistance.per_year_pct),
        row("Amp-hours out of those put in", season.efficiency.charge_pct),
        row("Watt-hours out of those put in", season.efficiency.energy_pct)])]
    if drawing:
        blocks.append(Chart(drawing, "Capacities with their 95 % intervals."))
    if season.capacity:
        blocks.append(Table("Each capacity, and the log it ended in", (
            "When", "How", "Ah", "Between", "Pack at", "Log"), tuple(
            (day_text(c.span.end_s), c.span.method, *_figure_and_ends(c.ah),
             shown("temp_1_c", units).text(c.span.temp_c), c.span.log)
            for c in season.capacity), (2.2, 1.6, 1, 2, 1.3, 3.8),
            is_small=len(season.capacity) > 12))
    blocks.append(Words(f"Has it lost capacity? {capital(season.fade.verdict)} "
                        f"{unbroken(season.fade.words)}"))
    return Section("Capacity and resistance", tuple(blocks))


def _figure_and_ends(answer: Any) -> tuple[str, str]:
    if isinstance(answer, NoEstimate):
        return "no figure", answer.reason
    return number(answer.value, 1), f"{number(answer.low, 1)} to {number(answer.high, 1)}"


def cells(evidence: Evidence) -> Section:
    """The story of each cell that stands out, and all cells near both ends."""
    report = evidence.cells
    if report.reason:
        return Section("Cells", (Words(capital(f"cannot tell yet: {report.reason}")),))
    blocks: list[Block] = [
        Words(f"{capital(f.words)} Is it so? {capital(f.verdict)} Seen {day_text(f.first_s)} to "
              f"{day_text(f.last_s)}{_then(f)}.")
        for f in report.findings] or [Words("No cell stands out.")]
    if drawing := cell_ranges(report):
        blocks.append(Chart(drawing, (
            "Amp-hours each cell is ahead of the middle one. Ahead near full and near empty alike: "
            "out of balance, which long charges cure. Behind near empty only: a small cell.")))
    blocks.append(Words("Millivolts between cells in the middle of the charge say nothing of "
                        "their health and are not listed.", "small"))
    return Section("Cells", tuple(blocks))


def _then(finding: CellFinding) -> str:
    return f". Next: {finding.next}" if finding.is_current else "; over since"


def ledger(evidence: Evidence, units: Units) -> Section:
    """What warranties ask for: charges to the top, limits, amps, cycles."""
    book, limits = evidence.season.ledger, evidence.limits
    peak = (f"board's peak as typed: {number(limits.peak_a, 0)} A" if math.isfinite(limits.peak_a)
            else "")
    rows: list[Row] = [
        figure_row("Equivalent full cycles", book.equivalent_full_cycles, 1, "",
                   "amp-hours out ÷ rated amp-hours", "worked out"),
        figure_row("Days at the top", float(book.full_charges), 0, "",
                   "amps fell away, or one cell at its limit"),
        figure_row("Last at the top", book.days_since_full, 1, "days",
                   "before the last log ends"),
        *_unfilled(evidence),
        figure_row("Largest amps out", book.peak_out_a, 0, "A", peak),
        figure_row("Largest amps in", book.peak_in_a, 0, "A"),
        figure_row("Hardest ten minutes", book.rms_a[2], 0, "A RMS"),
        temperature_row("Warmest", book.temp_max_c, units),
        temperature_row("Coldest", book.temp_min_c, units),
        figure_row(f"Above {_celsius(HOT_C, units)}", book.hot_h, 1, "h"),
        figure_row(f"Taking charge below {_celsius(FROST_C, units)}", book.frost_charge_h, 1, "h"),
        figure_row(f"At {HIGH_PCT:.0f} % and above", book.high_h, 0, "h logged"),
        figure_row(f"At {LOW_PCT:.0f} % and below", book.low_h, 1, "h logged"),
        figure_row("Highest pack volts", book.voltage_max_v, 1, "V"),
        figure_row("Lowest pack volts", book.voltage_min_v, 1, "V"),
        ("Distance", distance(book.distance_m, units, 0) if math.isfinite(book.distance_m)
         else "no record", "", "measured"),
        figure_row("Time with a record", book.observed_h, 0, "h", f"{book.logs} logs"),
    ]
    return Section("The ledger", (
        results("What the pack went through while it was logged", rows),
        Words(_beside_logs(book, units), "small")))


def _beside_logs(book: Ledger, units: Units) -> str:
    """What of the ledger stands on typed days, and what on nothing."""
    if not book.typed_days:
        return "Time that nobody logged is not in these figures."
    told = [f"{number(book.typed_out_ah, 0)} Ah out" if math.isfinite(book.typed_out_ah) else "",
            distance(book.typed_distance_m, units, 0) if math.isfinite(book.typed_distance_m)
            else ""]
    return (f"Cycles, charges to the top and distance count {book.typed_days} days that nobody "
            f"logged as somebody typed them from the display: {', '.join(filter(None, told))}. "
            "All other figures are of logged time alone.")


def _celsius(celsius: float, units: Units) -> str:
    entry = shown("temp_1_c", units)
    return f"{number(entry.value(celsius), 0)} {entry.unit}"


def _unfilled(evidence: Evidence) -> Iterator[Row]:
    stretches = evidence.season.ledger.without_full
    for stretch in stretches[:3]:
        yield ("Longest without a charge to the top" if stretch is stretches[0] else "and",
               f"{stretch.days:.0f} days",
               f"{day_text(stretch.from_s)} to {day_text(stretch.until_s)}", "measured")
    if not stretches:
        yield (f"Longer than {FULL_EVERY_DAYS:.0f} days without a charge to the top", "never", "",
               "measured")


def events(evidence: Evidence) -> Section:
    """Cut-outs and what the season says, oldest first, each with its verdict."""
    zone = zone_of(evidence)
    found = [(c.start_s, f"cut-out: {c.cut.words}", c.cut.verdict, c.log)
             for c in evidence.cut_outs]
    found += [(f.start_s, f.words, f.verdict, "") for f in evidence.season.findings
              if f.kind not in ("zero_error", "display_setting", "circular_percent")]
    if not found:
        return Section("What happened", (Words("Nothing stands out in these logs."),))
    return Section("What happened", (Table(
        "Oldest first; the verdict says whether the figures carry it", (
            "When", "What", "Is it so?", "Log"), tuple(
            (moment_text(at, zone), unbroken(capital(words)), told, Path(log).stem)
            for at, words, told, log in sorted(found)), (2.2, 6, 1.4, 2.4)),))


def not_measured(evidence: Evidence) -> Section:
    """What the paper does not know, and what would tell it."""
    kinds = {note.kind for note in evidence.notes}
    season = evidence.season
    rows = [(name, f"{answer.reason}; next: {answer.next}") for name, answer in (
        ("Capacity", season.capacity_now), ("Fade", season.fade.change_ah),
        ("Resistance", season.resistance.now_mohm), ("Efficiency", season.efficiency.energy_pct),
    ) if isinstance(answer, NoEstimate)]
    rows += [(name, words) for kind, name, words in (
        ("clamp-amps", "The monitor's amps against a second meter", "no clamp reading was noted"),
        ("meter-volts", "The monitor's volts against a second meter",
         "no reading at the posts was noted"),
        ("joint-millivolts", "Joints and cables", "no millivolts across a joint were noted"),
        ("frame-leakage", "Leakage to the frame", "no volts from a pole to the frame were noted"),
    ) if kind not in kinds]
    rows += [("The inside of the pack", "nothing was opened; cells side by side look like one"),
             ("The board's protections", "none was tested; that is for its maker"),
             ("Days without a log", f"known are {season.ledger.observed_h:.0f} hours only")]
    return Section("What was not measured", (Table(
        "", ("What", "Why, and what would tell"), tuple(rows), (3, 6)),))


def hand_readings(evidence: Evidence) -> Section | None:
    """Every note, oldest first; ``None`` where there is none."""
    if not evidence.notes:
        return None
    return Section("Noted by hand", (notes_table("Typed; with the amps that the monitor showed",
                                                 list(evidence.notes), evidence),))


def logs(evidence: Evidence) -> Section:
    """The files that everything stands on, each with its fingerprint."""
    zone = zone_of(evidence)
    files = [(log.log, moment_text(log.start_s, zone), log.kind or "log", str(log.samples),
              f"{log.gap_s / 60:.0f}", log.sha256) for log in evidence.logs]
    raws = [(log.raw, "", "bytes as heard", "", "", log.raw_sha256)
            for log in evidence.logs if log.raw]
    samples = sum(log.samples for log in evidence.logs)
    return Section("The logs", (
        Words(f"{len(files)} logs with {samples} samples. Any program for SHA-256 tells whether a "
              "file is still the one that this paper was made from."),
        Table("Gap: minutes inside a log that nobody saw", (
            "Log", "Begun", "Kind", "Samples", "Gap, min", "SHA-256"),
            tuple(files + raws), (3, 2.8, 1, 1, 0.9, 7.2), is_small=True)))

