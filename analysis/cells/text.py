"""The cells as a person reads them: what is so, then a line for each cell."""

from __future__ import annotations

import math
from typing import Final

from ..estimate import Answer, NoEstimate
from ..local_days import local
from .story import CellFinding
from .summary import CellReport, CellRow

#: Stands beside whatever asks for work at the cells.
CAUTION: Final = (
    "A pack is live even when switched off: open it only as its maker says, or leave it "
     "to someone licensed. packhand informs; it protects nothing.")


def cells_text(report: CellReport) -> str:
    """The text of ``packhand cells``."""
    lines = [_opening(report), ""]
    for each in report.breaks:
        lines += [f"{each.words[0].upper()}{each.words[1:]} ({each.verdict})", f"  {each.next}", ""]
    for finding in report.findings:
        lines += [f"{_title(finding)}", f"  {finding.next}", ""]
    if report.table:
        lines += _table(report.table)
        lines += ["", "Millivolts at rest in the flat middle say nothing of charge; they are "
                      "listed because a sense lead shows there."]
    if any(f.kind in ("high_resistance", "sense_lead") for f in report.findings):
        lines += ["", CAUTION]
    return "\n".join(lines).rstrip()


def _opening(report: CellReport) -> str:
    if report.reason:
        return f"Cannot tell yet: {report.reason}."
    now = [f for f in report.findings if f.is_current and f.verdict == "yes"]
    over = [f for f in report.findings if not f.is_current]
    logs = "this log" if report.logs == 1 else f"{report.logs} logs"
    if not report.findings:
        return f"No cell stands out in {logs}{_unseen(report)}."
    names = ", ".join(str(f.cell) for f in now)
    told = (f"Cell {names} stands out" if len(now) == 1 else f"Cells {names} stand out"
            if now else "No cell stands out now")
    return f"{told} in {logs}" + (f"; {len(over)} finding{'s are' if len(over) > 1 else ' is'} "
                                  "over." if over else ".")


def _unseen(report: CellReport) -> str:
    row = report.table[0]
    ends = [name for name, answer in (("full", row.top_ah), ("empty", row.bottom_ah))
            if isinstance(answer, NoEstimate)]
    return f"; it was not seen near {' or '.join(ends)}" if ends else ""


def _title(finding: CellFinding) -> str:
    first, last = _day(finding.first_s), _day(finding.last_s)
    when = first if first == last else f"{first} to {last}"
    words = finding.words[0].upper() + finding.words[1:]
    return f"{words} ({finding.verdict}; {when})"


def _day(unix_s: float) -> str:
    return f"{local(unix_s):%d %b %Y}".lstrip("0")


def _table(rows: tuple[CellRow, ...]) -> list[str]:
    head = f"{'cell':>4}  {'near full':>14}  {'near empty':>14}  {'lacks':>14}  " \
           f"{'resistance':>16}  {'at rest':>10}"
    return [head, *(f"{r.cell:>4}  {_signed(r.top_ah):>14}  {_signed(r.bottom_ah):>14}  "
                    f"{_signed(r.lack_ah):>14}  {_resistance(r):>16}  "
                    f"{_signed(r.rest_mv, 1):>10}" for r in rows)]


def _signed(answer: Answer, digits: int = 2) -> str:
    if isinstance(answer, NoEstimate):
        return "-"
    return f"{answer.value:+.{digits}f} {answer.unit}".replace("-", "−")


def _resistance(row: CellRow) -> str:
    answer = row.resistance_mohm
    if isinstance(answer, NoEstimate) or not math.isfinite(row.resistance_ratio):
        return "-"
    return f"{answer.value:.2f} mΩ {row.resistance_ratio:.2f}x"
