"""Cells that sink in packs whose volts slope: two cars in service, and invented ones."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.cells.features import cell_digest
from analysis.cells.rest import drifting_cells
from analysis.cells.story import CellFinding, Dated
from tests.analysis.car_rests import car_rests
from tests.analysis.made_logs import log


def told(findings: list[CellFinding]) -> dict[int, bool]:
    """Cells and whether they grow."""
    return {f.cell: f.figures["growing"] for f in findings}


def test_the_failing_cell_of_a_car_is_called_as_growing() -> None:
    """Cell 82 of car 2 sinks over months; nothing else in that string does (Nie 2025)."""
    found = drifting_cells(car_rests("car2"))

    assert [f.cell for f in found if f.figures["growing"]] == [82]
    assert next(f for f in found if f.cell == 82).verdict == "yes"


def test_low_but_steady_cells_of_a_car_are_no_growing_fault() -> None:
    """Cells 81 and 2 of car 3 are low by 33 and 28 mV for four weeks (Nie 2025)."""
    found = drifting_cells(car_rests("car3"))

    assert told(found) == {2: False, 81: False}
    sizes = {f.cell: f.size.value for f in found}  # type: ignore[union-attr]
    assert sizes[81] == pytest.approx(-33, abs=4)
    assert sizes[2] == pytest.approx(-28, abs=4)


def test_flat_chemistry_says_nothing_at_rest() -> None:
    """30 mV in the flat middle of iron phosphate is no finding here."""
    time_s = np.arange(300.0)
    cells = {f"cell_{n:02d}_v": np.full(300, 3.29 - 0.03 * (n == 3)) for n in range(1, 17)}
    digest = cell_digest(log(time_s, current_a=np.zeros(300), **cells))

    assert drifting_cells([Dated(86400.0 * n, digest) for n in range(10)]) == []
