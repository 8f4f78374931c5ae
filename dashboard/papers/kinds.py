"""The papers, each for its reader, and the card; how they are set."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from analysis.asking.evidence import CutOutOf, Evidence, HandReading
from analysis.estimate import NoEstimate, Verdict
from analysis.finding import Finding
from analysis.incidents.cutout import CutOut
from analysis.phrases import day_text, signed_amps, type_label

from ..quantities import Units, number, unbroken
from ..shell import INVENTED
from . import sections
from .as_html import as_html
from .as_pdf import as_pdf
from .card import card
from .charts import drive_strips
from .paper import Block, Chart, Paper, Section, Words
from .told import (
    capacity_sentence,
    capital,
    cells_sentence,
    moment_text,
    period_text,
    zone_of,
)

#: Drawn before and after what the help paper is about. [s]
WINDOW_S: Final = 60.0


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of paper."""

    #: What it is called.
    title: str
    #: Who it is for, in a line.
    words: str
    make: Callable[[Evidence, Units], Paper]


def health(evidence: Evidence, units: Units) -> Paper:
    """For the owner and whoever looks after the pack."""
    fade = evidence.season.fade
    return _paper("Health of the pack", evidence, [
        Section("", (Words(capacity_sentence(evidence), "sentence"),
                     Words(unbroken(fade.words)), Words(cells_sentence(evidence)))),
        sections.identity(evidence), sections.capacity(evidence, units), sections.cells(evidence),
        sections.ledger(evidence, units), sections.events(evidence),
        *_drawn(evidence, units), sections.instrument(evidence), sections.method(evidence),
        sections.not_measured(evidence), sections.hand_readings(evidence),
        sections.logs(evidence)])


def warranty(evidence: Evidence, units: Units) -> Paper:
    """For a warranty desk: method first, then the result against the warranted figure."""
    verdict, words = against_warranty(evidence)
    return _paper("Record for a warranty question", evidence, [
        Section("", (Words(words, "sentence"),
                     Words(f"Below what was warranted? {capital(verdict)}"))),
        sections.identity(evidence), sections.method(evidence), sections.instrument(evidence),
        sections.capacity(evidence, units), sections.cells(evidence),
        sections.ledger(evidence, units), sections.events(evidence),
        sections.hand_readings(evidence), sections.not_measured(evidence), sections.logs(evidence)])


def against_warranty(evidence: Evidence) -> tuple[Verdict, str]:
    """Whether the capacity lies below ``warranted_pct`` of the rating, as typed for the pack."""
    now, rated = evidence.season.capacity_now, evidence.rated_ah
    typed = evidence.pack_table.get("warranted_pct")
    if isinstance(now, NoEstimate):
        return "cannot tell yet", capital(f"{now.reason}; next: {now.next}")
    held = capacity_sentence(evidence)
    if rated is None:
        return "cannot tell yet", (f"{held} What the label says is not known: "
                                   f"{type_label('its amp-hours', 'rated_ah')}.")
    if not isinstance(typed, int | float):
        return "cannot tell yet", (f"{held} What the warranty promises is not known: "
                                   f"{type_label('its percent', 'warranted_pct')}.")
    floor = rated * float(typed) / 100
    told = unbroken(f"{held} Warranted are {number(floor, 1)} Ah ({typed:g} % of the label).")
    if now.high < floor:
        return "yes", told
    return ("no" if now.low >= floor else "cannot tell yet"), told


def sale(evidence: Evidence, units: Units) -> Paper:
    """For a buyer: what it holds, what it went through, what was not tested."""
    cycles = evidence.season.ledger.equivalent_full_cycles
    changed = [note for note in evidence.notes if note.kind == "part-changed"]
    used = (f"It has been through {number(cycles, 0)} equivalent full cycles while it was logged."
            if math.isfinite(cycles) else "How many cycles it has seen is not known: its rating is "
                                     "not typed.")
    return _paper("For whoever buys this pack", evidence, [
        Section("", (Words(capacity_sentence(evidence), "sentence"), Words(used),
                     Words(cells_sentence(evidence)), Words(_replaced(changed)))),
        sections.identity(evidence), sections.capacity(evidence, units), sections.cells(evidence),
        sections.ledger(evidence, units), sections.not_measured(evidence),
        sections.events(evidence), sections.method(evidence), sections.instrument(evidence),
        sections.logs(evidence)])


def _replaced(changed: list[HandReading]) -> str:
    if not changed:
        return "No replaced part was noted."
    return "Replaced or changed: " + "; ".join(
        f"{n.text or n.where or 'a part'} ({day_text(n.time_s)})" for n in changed) + "."


def help_paper(evidence: Evidence, units: Units) -> Paper:
    """For a helper: the moment, the minute around it, what was noted."""
    cut = _cut_of(evidence)
    return _paper("A question about this pack", evidence, [
        Section("", tuple(_asked(evidence, cut))),
        *_drawn(evidence, units, cut), sections.identity(evidence),
        *([sections.cells(evidence)] if evidence.cells.findings else []),
        sections.instrument(evidence), sections.hand_readings(evidence),
        sections.not_measured(evidence)])


def _cut_of(evidence: Evidence) -> CutOutOf | None:
    """The last cut-out of the log that is drawn."""
    cuts = [c for c in evidence.cut_outs if evidence.shown and c.log == evidence.shown.log]
    return cuts[-1] if cuts else None


def _asked(evidence: Evidence, cut: CutOutOf | None) -> list[Block]:
    log = evidence.shown
    if log is None:
        return [Words("The log cannot be read.", "sentence")]
    told: list[Block] = []
    if cut:
        when = moment_text(cut.start_s, zone_of(evidence))
        told.append(Words(capital(unbroken(f"{when}: {cut.cut.words}")), "sentence"))
        told.append(Words(_is_it_so(cut.cut)))
    else:
        told.append(Words(f"No cut-out was found in {log.log}.", "sentence"))
    told.append(Words(capital(unbroken(log.summary.sign.words))))
    peak = log.summary.flow.peak
    if peak:
        at = moment_text(log.telemetry.start.timestamp() + peak.elapsed_s, zone_of(evidence))
        told.append(Words(f"Most amps in this log: {signed_amps(peak.current_a)} A, {at}."))
    told += [Words(f"{capital(unbroken(f.words))} {_is_it_so(f)}")
             for f in log.summary.findings if cut is None or f.words != cut.cut.words]
    return told


def _is_it_so(found: CutOut | Finding) -> str:
    return f"Is it so? {capital(found.verdict)} Next: {unbroken(found.next)}."


def _drawn(evidence: Evidence, units: Units, cut: CutOutOf | None = None) -> list[Section]:
    log = evidence.shown
    if log is None:
        return []
    if cut is None:
        drawing = drive_strips(log, units)
        return [Section("One log as it was recorded", (Chart(drawing, drawing.description),))]
    middle_s = cut.start_s - log.telemetry.start.timestamp()
    drawing = drive_strips(log, units, middle_s - WINDOW_S, middle_s + WINDOW_S)
    return [Section("The minute before and after", (Chart(drawing, drawing.description),))]


def _paper(title: str, evidence: Evidence, parts: list[Section | None]) -> Paper:
    named = f"{evidence.pack or 'a pack without a name'}, {evidence.vehicle}".rstrip(", ")
    return Paper(f"{title}: {named}", period_text(evidence), (
        *(part for part in parts if part), Section("", (Words(sections.CAUTION, "caution"),))),
        INVENTED if evidence.is_invented else "",
        f"packhand · {named} · up to {day_text(evidence.season.end_s)}")


#: Every kind of paper by its name on the command line and in addresses.
KINDS: Final[Mapping[str, Kind]] = {
    "health": Kind("Health", "for you and whoever looks after the pack", health),
    "warranty": Kind("Warranty", "for the desk that decides a claim", warranty),
    "help": Kind("Help", "for someone who helps with one bad moment", help_paper),
    "sale": Kind("Sale", "for whoever buys the pack", sale),
    "card": Kind("Card", "to tape to the dash: what your display's figures mean",
                 lambda evidence, _: card(evidence)),
}
#: How a paper is set, by the end of the file's name.
FORMS: Final[Mapping[str, Callable[[Paper], bytes]]] = {
    ".html": lambda paper: as_html(paper).encode(), ".pdf": as_pdf,
}
