"""The page Cells: what stands out, in which state, how sure, what to do next."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.cells.pattern import PatternBreak
from analysis.cells.story import CellFinding, bleeding_hours
from analysis.cells.summary import CellReport, CellRow
from analysis.estimate import Answer, Estimate, NoEstimate
from dashboard.pages import cells
from dashboard.quantities import NBSP
from dashboard.shell import Place
from dashboard.store import Store
from tests.dashboard.test_pages import text_of

APRIL_S, JULY_S = 1_775_692_800.0, 1_783_468_800.0
UNSEEN = NoEstimate("no log shows the pack near empty", "log a drive to the knee")
OFFSET = Estimate.around(2.7, 0.3, "Ah")


def row(cell: int, top_ah: float = 0.0, bottom: Answer | None = None,
        rest_mv: float = 0.0) -> CellRow:
    return CellRow(cell, Estimate.around(top_ah, 0.1, "Ah"),
                   bottom or Estimate.around(0.0, 0.1, "Ah"), Estimate.around(0.0, 0.2, "Ah"),
                   Estimate.around(0.7, 0.1, "mohm"), 1.0, Estimate.around(rest_mv, 0.5, "mV"))


def finding(kind: str = "charge_offset", *, current: bool = True, verdict: str = "yes",
            **figures: object) -> CellFinding:
    words = ("cell 6 is 2.7 Ah fuller than its mates: out of balance, curable by long full "
             "charges; bleeding it takes about 45 h at 60 mA.")
    return CellFinding(6, kind, verdict, words, OFFSET,  # type: ignore[arg-type]
                       "let the charger stay on for hours after full, several times",
                       APRIL_S, JULY_S, current, figures)


def report(*findings: CellFinding, rows: tuple[CellRow, ...] | None = None) -> CellReport:
    table = rows if rows is not None else tuple(row(n) for n in range(1, 17))
    return CellReport(APRIL_S, JULY_S, 41, findings, table)


def page(found: CellReport, store: Store, **query: str) -> str:
    return text_of(cells.draw(found, store, Place(query=query)))


def test_the_sentence_tells_the_cell_and_its_size(store: Store) -> None:
    """First what is so, with its number; the cure after."""
    assert cells.opening(report(finding())) == "Cell 6 is 2.7 Ah fuller than its mates."
    assert f"Cell 6 is 2.7{NBSP}Ah fuller than its mates." in page(report(finding()), store)


def test_a_curable_cell_tells_the_hours_of_bleeding(store: Store) -> None:
    """Hours with their interval, and of which milliamps; what a person typed is said to be."""
    hours = bleeding_hours(OFFSET, 0.06).as_json()
    told = page(report(finding(bleeding_h=hours, bleed_ma=60.0)), store, bleed="60")

    for words in ("Hours of bleeding needed", f"45{NBSP}h", f"60{NBSP}mA", "typed",
                  "out of balance", "stay on for hours after full"):
        assert words in told


def test_what_the_label_says_of_bleeding_is_not_asked_again(store: Store) -> None:
    """Typed under Pack & limits it is told and not asked; else the field is there."""
    hours = bleeding_hours(OFFSET, 0.06).as_json()
    typed = page(report(finding(bleeding_h=hours, bleed_ma=60.0)), store)
    open_one = page(report(finding(bleeding_h=hours)), store)

    assert f"60{NBSP}mA" in typed
    assert "bleed-bleed" not in typed
    assert f"50 to 200{NBSP}mA" in open_one
    assert "bleed-bleed" in open_one


def test_what_is_over_is_told_apart(store: Store) -> None:
    """A cured cell is history, not a fault: the verdict is no."""
    found = report(finding(current=False))
    told = page(found, store)

    assert "Over, or not seen any more" in told
    assert "Cell 6: out of balance" not in told
    assert cells.opening(found) == "None of the 16 cells stands out."
    assert cells.ending(found)[0] == "no"


def test_millivolts_in_the_middle_raise_no_alarm(store: Store) -> None:
    """14 mV of spread half full: told as what it is, the verdict stays no."""
    rows = tuple(row(n, rest_mv=float(n - 1) * 14 / 15) for n in range(1, 17))
    found = report(rows=rows)

    assert cells.ending(found)[0] == "no"
    told = page(found, store)
    assert "millivolts say nothing about charge, so they raise no alarm" in told
    assert f"14.0{NBSP}mV apart" in told


def test_unseen_ends_leave_the_question_open(store: Store) -> None:
    """Without a look near empty nobody knows which cell is small; the page says what to log."""
    found = report(rows=tuple(row(n, bottom=UNSEEN) for n in range(1, 17)))
    told, words, then = cells.ending(found)

    assert told == "cannot tell yet"
    assert "near empty" in words
    assert then == "log one drive to the knee"
    assert "not seen" in page(found, store)


def test_a_hint_is_no_verdict(store: Store) -> None:
    """What one log hints at stays open, in sentence, heading and verdict."""
    found = report(finding(verdict="cannot tell yet"))

    assert "may stand out" in cells.opening(found)
    assert cells.ending(found)[0] == "cannot tell yet"
    assert cells.heading_of(found.findings[0]) == "Cell 6: out of balance (cannot tell yet)"


def test_work_at_the_wires_carries_its_caution(store: Store) -> None:
    """A loose sense lead names both cells, and says what can hurt."""
    found = report(finding("sense_lead", cells=[3, 4]))

    assert "Cells 3 and 4: a loose sense lead" in page(found, store)
    assert "live even when switched off" in page(found, store)
    assert "live even when switched off" not in page(report(), store)


def test_cells_are_compared_in_four_states(store: Store) -> None:
    """Never one number: near full, near empty, under a pull, at rest; and as a table."""
    told = page(report(finding()), store)

    assert told.count('"type": "Graph"') == 4
    assert "The same figures as a table" in told
    assert told.count(f"0.70{NBSP}mΩ (0.60 to 0.80)") == 16


def test_the_cell_that_stands_out_is_drawn_so() -> None:
    """The sentence's cell is marked in each picture, and what was not seen stays blank."""
    near_full, near_empty = cells.STATES[:2]

    assert cells.ranged(near_full, row(2), {2}).is_told
    assert not cells.ranged(near_full, row(3), {2}).is_told
    assert not cells.ranged(near_empty, row(2, bottom=UNSEEN), {2}).is_known


def test_a_pack_without_cells_is_taught(store: Store) -> None:
    """One line that says what to record."""
    found = CellReport(APRIL_S, JULY_S, 3, (), (), "no log holds the volts of single cells")

    assert "Record with a monitor that tells each cell" in cells.opening(found)
    assert cells.ending(found)[0] == "cannot tell yet"


@pytest.mark.parametrize(("typed", "milliamps"), [
    ("60", 60.0), ("0,5", 0.5), ("-5", None), ("0", None), ("many", None), ("1e999", None),
    ("nan", None), ("", None)])
def test_milliamps_are_read_as_a_figure_or_not_at_all(typed: str, milliamps: float | None) -> None:
    """Whatever a browser sends, only a positive figure counts."""
    assert cells.bleed_ma(Place(query={"bleed": typed})) == milliamps


def broken(kind: str, verdict: str) -> CellReport:
    words = ("since 4 June 2026 the cells are told from the other end: the same cells under other "
             "numbers" if kind == "turned_round" else
             "since 4 June 2026 no cell has the resistance it had before: another pack is at this "
             "monitor, or the cells are told in another order")
    each = PatternBreak(1_780_531_200.0, kind, verdict,  # type: ignore[arg-type]
                        words, "look which pack it is")
    return replace(report(), breaks=(each,))


def test_cells_told_in_another_order_are_told(store: Store) -> None:
    """Since when, how it is known, what to do; the cells themselves are well."""
    found = broken("turned_round", "yes")
    told = page(found, store)

    assert cells.opening(found) == "Since 4 June 2026 the cells are told from the other end."
    assert "the same cells under other numbers" in told
    assert "Told by the resistances" in told
    assert "look which pack it is" in told
    assert cells.ending(found)[:2] == (
        "no", f"No cell stands out in 41{NBSP}logs since 4 June 2026.")


def test_another_pack_is_a_question_to_the_person(store: Store) -> None:
    """Nobody can tell from the logs alone, so the verdict stays open; a cell that stands out since
    leads the page and its verdict."""
    found = broken("other_cells", "cannot tell yet")

    assert "Another pack, or cells in another order (cannot tell yet)" in page(found, store)
    assert cells.ending(found)[0] == "cannot tell yet"
    assert cells.ending(found)[2] == "look which pack it is"
    both = replace(found, findings=(finding(),))
    assert cells.opening(both).startswith("Cell 6 is")
    assert cells.ending(both)[0] == "yes"
    assert "Another pack" in page(both, store)
