"""Answers and moments as a paper words them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

from analysis.asking.evidence import Evidence
from analysis.cells.story import CellFinding
from analysis.estimate import Answer, Badge, Estimate, NoEstimate
from analysis.local_days import zone_named
from analysis.phrases import day_text, moment_words, unit_text

from ..elements import between, digits_for
from ..quantities import NBSP, Units, number, shown, unbroken
from .paper import Table

HEADS: Final = ("What", "Figure", "Interval, or why there is none", "Where from")
WIDTHS: Final = (3.0, 2.0, 4.5, 1.5)
#: A row of a table of results.
Row = tuple[str, str, str, str]


def row(name: str, answer: Answer, badge: Badge = "worked out") -> Row:
    """An answer with its interval, or with the reason why there is none."""
    if isinstance(answer, NoEstimate):
        return (name, "cannot tell yet", f"{answer.reason}; next: {answer.next}", badge)
    places = paper_digits(answer)
    return (name, f"{number(answer.value, places)}{NBSP}{unit_text(answer.unit)}",
            between(answer, places), badge)


def figure_row(name: str, value: float, digits: int, unit: str, more: str = "",
               badge: Badge = "measured") -> Row:
    """A counted figure; "no record" where no log tells it."""
    if not math.isfinite(value):
        return (name, "no record", more, badge)
    return (name, f"{number(value, digits)}{NBSP}{unit}".strip(), more, badge)


def temperature_row(name: str, celsius: float, units: Units, more: str = "") -> Row:
    """A temperature in the person's unit."""
    return (name, shown("temp_1_c", units).text(celsius), more, "measured")


def results(caption: str, rows: Sequence[Row]) -> Table:
    """A table of results."""
    return Table(caption, HEADS, tuple((n, f, unbroken(m), b) for n, f, m, b in rows), WIDTHS)


def paper_digits(answer: Estimate) -> int:
    """Decimals of an estimate on paper: two digits of a half width that begins with 1 or 2, one
    of a larger (JCGM 100:2008, 7.2.6, allows two)."""
    return digits_for(answer.half_width / 3)


def zone_of(evidence: Evidence) -> ZoneInfo:
    return zone_named(evidence.time_zone)


def moment_text(unix_s: float, zone: ZoneInfo) -> str:
    """``16 April 2026, 07:52:10``."""
    return moment_words(datetime.fromtimestamp(unix_s, zone))


def period_text(evidence: Evidence) -> str:
    """First and last day, the time zone, and how many logs."""
    season = evidence.season
    logs = "1 log" if len(evidence.logs) == 1 else f"{len(evidence.logs)} logs"
    return (f"{day_text(season.start_s)} to {day_text(season.end_s)}, time zone "
            f"{evidence.time_zone}, {logs}")


def capital(words: str) -> str:
    """Begun with a capital, ended with a stop."""
    begun = words[:1].upper() + words[1:]
    return begun if begun.endswith((".", "?", "!")) or not begun else f"{begun}."


def standing(evidence: Evidence) -> list[CellFinding]:
    """What is so with cells now, and sure."""
    return [f for f in evidence.cells.findings if f.is_current and f.verdict == "yes"]


def cells_sentence(evidence: Evidence) -> str:
    """Which cells stand out now."""
    if evidence.cells.reason:
        return f"Whether a cell stands out cannot be told yet: {evidence.cells.reason}."
    cells = sorted({finding.cell for finding in standing(evidence)})
    if not cells:
        return "No cell stands out now."
    names = " and ".join([", ".join(map(str, cells[:-1])), str(cells[-1])]
                         if len(cells) > 1 else [str(cells[0])])
    return f"Cell {names} stands out." if len(cells) == 1 else f"Cells {names} stand out."


def capacity_sentence(evidence: Evidence) -> str:
    """What the pack holds now, beside what its label says."""
    now = evidence.season.capacity_now
    if isinstance(now, NoEstimate):
        return f"What the pack holds cannot be told yet: {now.reason}."
    places = paper_digits(now)
    rated = (f" of the {number(evidence.rated_ah, 0)} Ah on its label" if evidence.rated_ah else "")
    return unbroken(f"The pack holds about {number(now.value, places)} Ah{rated}, "
                    f"{between(now, places)}.")
