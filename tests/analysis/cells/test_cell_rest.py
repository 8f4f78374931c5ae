"""Cells that sink in packs whose volts slope: two cars in service, and invented ones."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from analysis.cells.features import cell_digest
from analysis.cells.rest import drifting_cells
from analysis.cells.story import CellFinding, Dated
from tests.analysis.made_logs import DATA, log


def rests(car: str) -> list[Dated]:
    """One digest for each rest of an excerpt (data/cars_with_cells/SOURCE.md)."""
    table = pd.read_csv(DATA / "cars_with_cells" / f"{car}_rests.csv.gz")
    time_s = pd.to_datetime(table["time_local"]).to_numpy("datetime64[ns]").astype(float) / 1e9
    starts = np.flatnonzero(np.diff(time_s, prepend=-np.inf) > 3600)
    found = []
    for rows in np.split(np.arange(len(time_s)), starts[1:]):
        part = table.iloc[rows]
        columns = {name: part[name].to_numpy(float) for name in part if name.startswith("cell_")}
        telemetry = log(time_s[rows] - time_s[rows[0]],
                        current_a=-part["pack_current_a"].to_numpy(float), **columns)
        found.append(Dated(float(time_s[rows[0]]), cell_digest(telemetry)))
    return found


def told(findings: list[CellFinding]) -> dict[int, bool]:
    """Cells and whether they grow."""
    return {f.cell: f.figures["growing"] for f in findings}


def test_the_failing_cell_of_a_car_is_called_as_growing() -> None:
    """Cell 82 of car 2 sinks over months; nothing else in that string does (Nie 2025)."""
    found = drifting_cells(rests("car2"))

    assert [f.cell for f in found if f.figures["growing"]] == [82]
    assert next(f for f in found if f.cell == 82).verdict == "yes"


def test_low_but_steady_cells_of_a_car_are_no_growing_fault() -> None:
    """Cells 81 and 2 of car 3 are low by 33 and 28 mV for four weeks (Nie 2025)."""
    found = drifting_cells(rests("car3"))

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
