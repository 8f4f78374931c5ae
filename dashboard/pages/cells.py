"""Cells: who leads, who lags and why, told by where they differ and never by one number."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from dash import Dash, html
from dash.development.base_component import Component

from analysis.asking.book import Asked, Book
from analysis.asking.questions import ask_cells
from analysis.cells.pattern import PatternBreak
from analysis.cells.story import CellFinding
from analysis.cells.summary import CellReport, CellRow
from analysis.cells.text import CAUTION
from analysis.estimate import Answer, Estimate, NoEstimate, Verdict
from analysis.phrases import day_text

from ..chooser import Chooser, Field, typed_number
from ..elements import (
    Fact,
    Given,
    Why,
    answer_fact,
    aside,
    caution,
    facts,
    fold,
    next_step,
    picture,
    section,
    sentence,
    story,
    table,
    title,
    verdict,
)
from ..figures.ranges import Ranged, Reference, by_value, height_px, ranges
from ..quantities import NBSP, SIGNS, Units, number
from ..question_page import Question
from ..shell import Place
from ..store import Store
from ..wording import capital, ending_in, worded

PATH: Final = "/cells"
TITLE: Final = "Cells"
GROUP: Final = "Pack"

CHOOSER: Final = Chooser("bleed", (
    Field("bleed", "Milliamps that your board bleeds from a full cell", "number"),))
#: Each kind of finding: what is so with the cell, the name of its size, and how it is worked out.
KINDS: Final = {
    "charge_offset": ("out of balance", "Out of balance by",
                      "ahead of the middle cell near full, and near empty by the same amp-hours"),
    "low_capacity": ("small", "Holds less by",
                     "ahead of the middle cell near full − ahead of it near empty"),
    "high_resistance": ("resistive", "More resistance by",
                        "change of the cell's volts ÷ change of the amps − the middle cell's"),
    "sense_lead": ("a loose sense lead", "Off by",
                   "one cell reads as much high as its neighbour reads low"),
    "self_leak": ("leaking", "Falls behind by",
                  "loss against the middle cell near full ÷ the time between"),
    "frozen_sensor": ("no figure", "Stood still in",
                      "logs in which the figure stood still while the others moved"),
}
#: Each kind of break in the order of the cells.
BREAKS: Final = {"turned_round": "The cells are told from the other end",
                 "moved_along": "The cells are told under other numbers",
                 "other_cells": "Another pack, or cells in another order"}
SOURCE: Final = "cells differ in charge only near full and near empty; common practice, no source"


@dataclass(frozen=True, slots=True)
class State:
    """One state of the pack in which cells are compared."""

    name: str
    #: Unit and sense of the scale.
    scale: str
    figure: Callable[[CellRow], Answer]
    #: What the picture says and does not say.
    words: str
    digits: int = 2


STATES: Final = (
    State("Near full", "Ah ahead of the middle cell", lambda row: row.top_ah,
          "A cell ahead here is full first and may stop the charge."),
    State("Near empty", "Ah ahead of the middle cell", lambda row: row.bottom_ah,
          "A cell behind here is empty first and stops the drive."),
    State("Under a pull", "mΩ of the cell with its lead and busbar",
          lambda row: row.resistance_mohm,
          "A cell far to the right sags more than its mates and grows warm."),
    State("At rest, half full", "mV above the middle cell", lambda row: row.rest_mv,
          "Here millivolts say nothing about charge, so they raise no alarm; only two neighbours "
          "that are off by as much in opposite ways tell of a sense lead.", 1),
)


def ask(book: Book, place: Place) -> Asked[CellReport]:
    typed = bleed_ma(place)
    return ask_cells(book, bleed_a=typed / 1000 if typed else None)


def bleed_ma(place: Place) -> float | None:
    """What a person says the board bleeds. [mA]"""
    typed = typed_number(place, "bleed")
    return typed if typed and typed > 0 else None


def draw(report: CellReport, store: Store, place: Place) -> list[Component]:
    units = store.units
    now = [finding for finding in report.findings if finding.is_current]
    over = [finding for finding in report.findings if not finding.is_current]
    parts = [
        sentence(worded(opening(report), units)),
        aside(f"From {_logs(report.logs)}, {day_text(report.start_s)} to "
              f"{day_text(report.end_s)}.") if report.logs else None,
        *(_broken(each) for each in reversed(report.breaks)),
        *(_told(finding, place, units) for finding in now),
        section("Over, or not seen any more", _over(over, units)) if over else None,
        _states(report.table, {finding.cell for finding in now}) if report.table else None,
        caution(CAUTION) if _is_wiring(report) else None,
        verdict(*ending_in(ending(report), units)),
    ]
    return [part for part in parts if part]


QUESTION: Final = Question("cells", ask, draw, ("bleed",))


def layout(store: Store, place: Place) -> Component:
    return html.Div([title(TITLE), QUESTION.block(store, place)], className="page cells")


def register(app: Dash, store: Store) -> None:
    QUESTION.register(app, store)
    CHOOSER.register(app)


def opening(report: CellReport) -> str:
    """What stands out now, with its size; or that nothing does."""
    if report.reason:
        return "The cells cannot be told apart yet. Record with a monitor that tells each cell."
    sure = [f for f in report.findings if f.is_current and f.verdict == "yes"]
    if sure:
        return capital(sure[0].words.split(": ")[0]).rstrip(".") + "."
    if [f for f in report.findings if f.is_current]:
        return "One cell may stand out; more logs will tell."
    if report.breaks:
        return f"{capital(report.breaks[-1].words.split(': ')[0])}."
    return f"None of the {len(report.table)} cells stands out."


def _logs(count: int) -> str:
    return f"{count}{NBSP}log{'' if count == 1 else 's'}"


def _broken(each: PatternBreak) -> Component:
    """Since when numbers mean other cells, how that is known, and what to do."""
    sure = "" if each.verdict == "yes" else f" ({each.verdict})"
    return section(
        f"{BREAKS[each.kind]}{sure}", story(f"{capital(each.words)}."),
        aside("Told by the resistances: no two cells have the same, and wear moves one or two of "
              "them, never all at once. Findings and pictures here are of the logs since."),
        next_step(each.next))


def _told(finding: CellFinding, place: Place, units: Units) -> Component:
    """One finding: what is so, its size, what to do."""
    return section(
        heading_of(finding), story(worded(finding.words, units)),
        facts(_facts(finding)),
        CHOOSER.block(place) if _wants_bleed(finding, place) else None,
        next_step(worded(finding.next, units)))


def _wants_bleed(finding: CellFinding, place: Place) -> bool:
    """Whether the board's bleeding matters and stands nowhere but perhaps in the address."""
    is_typed = "bleed_ma" in finding.figures and bleed_ma(place) is None
    return finding.kind == "charge_offset" and not is_typed


def heading_of(finding: CellFinding) -> str:
    """Which cell, what is so with it, and how sure that is."""
    sure = "" if finding.verdict == "yes" else f" ({finding.verdict})"
    return f"{cell_name(finding)}: {KINDS[finding.kind][0]}{sure}"


def cell_name(finding: CellFinding) -> str:
    """``Cell 11``; ``Cells 3 and 4`` of a lead between two."""
    pair = finding.figures.get("cells")
    return f"Cells {pair[0]} and {pair[1]}" if pair else f"Cell {finding.cell}"


def _facts(finding: CellFinding) -> list[Fact]:
    _, name, formula = KINDS[finding.kind]
    seen = Given("seen", f"{day_text(finding.first_s)} to {day_text(finding.last_s)}", "measured")
    rows = [answer_fact(name, finding.size, 1, told=Why(formula, (seen,), SOURCE))]
    if isinstance(told := finding.figures.get("bleeding_h"), dict):
        typed = finding.figures.get("bleed_ma")
        given = Given("the board bleeds", f"{typed:g}{NBSP}mA" if typed else
                      f"50 to 200{NBSP}mA", "typed" if typed else "claimed")
        rows.append(answer_fact("Hours of bleeding needed", Estimate(**told), told=Why(
            "hours = amp-hours out of balance ÷ amps that the board bleeds", (given,),
            "boards bleed 0.05 to 0.2 A; common practice, no source")))
    if ratio := finding.figures.get("resistance_ratio") or finding.figures.get("ratio"):
        rows.append(Fact("Resistance", f"{number(ratio, 2)}{NBSP}× the middle cell's", "",
                         "worked out"))
    return rows


def _over(findings: Sequence[CellFinding], units: Units) -> Component:
    return table("What the logs told before, and do not tell now", ("Which", "When", "What"), [
        (cell_name(f), f"{day_text(f.first_s)} to {day_text(f.last_s)}",
         capital(worded(f.words, units))) for f in findings])


def _states(rows: Sequence[CellRow], told: set[int]) -> Component:
    return section(
        "The cells in four states",
        html.Div([_picture(state, rows, told) for state in STATES], className="four"),
        fold("The same figures as a table", table(
            "Against the middle cell; the dot and the ends of its interval",
            ("Cell", *(state.name for state in STATES)),
            [(str(row.cell), *(_cell_text(state, row) for state in STATES)) for row in rows])))


def _picture(state: State, rows: Sequence[CellRow], told: set[int]) -> Component:
    drawn = by_value([ranged(state, row, told) for row in rows])
    reference = None if state.scale.startswith("mΩ") else Reference(0.0, "middle cell")
    return html.Div([html.H3(state.name), picture(
        f"cells-{state.name.split()[-1]}", ranges(drawn, state.scale, reference),
        f"{_ends(state, drawn)} {state.words}", height_px(drawn))])


def ranged(state: State, row: CellRow, told: set[int]) -> Ranged:
    """A cell's row in the picture of a state; ``told`` are the cells that stand out."""
    answer, name = state.figure(row), f"cell {row.cell}"
    if isinstance(answer, NoEstimate):
        return Ranged(name, math.nan, math.nan, math.nan)
    return Ranged(name, answer.value, answer.low, answer.high, row.cell in told)


def _ends(state: State, drawn: Sequence[Ranged]) -> str:
    """From which cell to which, and how far apart."""
    known = [row for row in drawn if row.is_known]
    if not known:
        return "Not seen yet."
    first, last, unit = known[0], known[-1], state.scale.split()[0]
    apart = number(first.value - last.value, state.digits)
    return f"{capital(last.label)} and {first.label} are {apart}{NBSP}{unit} apart."


def _cell_text(state: State, row: CellRow) -> str:
    answer = state.figure(row)
    if isinstance(answer, NoEstimate):
        return "not seen"
    unit = SIGNS.get(answer.unit, answer.unit)
    return (f"{number(answer.value, state.digits)}{NBSP}{unit} "
            f"({number(answer.low, state.digits)} to {number(answer.high, state.digits)})")


def _is_wiring(report: CellReport) -> bool:
    return any(f.kind in ("high_resistance", "sense_lead") for f in report.findings)


def ending(report: CellReport) -> tuple[Verdict, str, str]:
    """Whether a cell stands out, how sure, and what to measure next."""
    now = [finding for finding in report.findings if finding.is_current]
    sure = [finding for finding in now if finding.verdict == "yes"]
    if report.reason:
        return "cannot tell yet", f"{capital(report.reason)}.", "record one drive with cell volts"
    if sure:
        told = [f"{cell_name(f)}, {KINDS[f.kind][0]}{_how_sure(f.size)}" for f in sure]
        return "yes", f"{'; '.join(told)}.", sure[0].next
    if now:
        return "cannot tell yet", f"{cell_name(now[0])}: perhaps {KINDS[now[0].kind][0]}.", (
            now[0].next)
    if broken := next((each for each in report.breaks if each.verdict != "yes"), None):
        return broken.verdict, f"{capital(broken.words)}.", broken.next
    if unseen := unseen_ends(report):
        return "cannot tell yet", (
            f"The pack was not seen near {' or '.join(unseen)}, where cells show what they "
            "hold."), ("log a full charge" if "full" in unseen else "log one drive to the knee")
    since = f" since {day_text(report.breaks[-1].start_s)}" if report.breaks else ""
    return "no", f"No cell stands out in {_logs(report.logs)}{since}.", (
        "look again after the next full charge and the next long drive")


def _how_sure(size: Answer) -> str:
    if isinstance(size, NoEstimate) or size.half_width == 0:
        return ""
    unit = SIGNS.get(size.unit, size.unit)
    return (f" by {number(size.low, 1)} to {number(size.high, 1)}{NBSP}{unit} "
            f"({100 * size.coverage:.0f}{NBSP}% sure)")


def unseen_ends(report: CellReport) -> list[str]:
    """Ends of the charge at which the cells were not compared yet."""
    if not report.table:
        return []
    row = report.table[0]
    return [name for name, answer in (("full", row.top_ah), ("empty", row.bottom_ah))
            if isinstance(answer, NoEstimate)]
