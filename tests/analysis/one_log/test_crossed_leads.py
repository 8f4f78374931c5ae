"""Sense wires in each other's place, as a board reads between them.

That a cell reads as the difference of two wires is general knowledge (Kirchhoff's voltage law).
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.drive.summary import summarise
from analysis.one_log.crossed_leads import crossed_cells
from analysis.telemetry import Telemetry
from tests.analysis.made_logs import log

CELLS, SECONDS = 16, 1200
MOHM = 0.7


def drive(first: int = 0, second: int = 0) -> Telemetry:
    """A drive of sixteen cells whose wires ``first`` and ``second`` (0 to 16) are exchanged."""
    rng = np.random.default_rng(3)
    amps = np.where(np.arange(SECONDS) // 20 % 2, -60.0, -2.0)
    cell_v = 3.29 + MOHM / 1000 * amps + rng.normal(0, 0.001, (CELLS, SECONDS))
    wires = np.vstack([np.zeros(SECONDS), np.cumsum(cell_v, axis=0)])
    wires[[first, second]] = wires[[second, first]]
    told = np.diff(wires, axis=0).round(3)
    return log(np.arange(float(SECONDS)), current_a=amps, voltage_v=cell_v.sum(axis=0).round(2),
               **{f"cell_{n + 1:02d}_v": told[n] for n in range(CELLS)})


@pytest.mark.parametrize("wire", [1, 6, 14])
def test_the_two_wires_of_a_cell_are_told_exchanged(wire: int) -> None:
    """The cell between them, and nothing is explained by its figures or by its neighbours'."""
    crossed = drive(wire, wire + 1)
    findings = summarise(crossed).findings

    assert crossed_cells(crossed) == (wire + 1,)
    assert [f.kind for f in findings] == ["sense_wires_exchanged"]
    assert "unplug the board's sense plug" in findings[0].next


def test_sound_wires_and_a_dead_cell_are_not() -> None:
    """As wired; a cell that reads nothing; one told with the other sign, its neighbours sound."""
    sound = drive()

    assert crossed_cells(sound) == ()
    assert crossed_cells(sound.having(cell_05_v=np.zeros(SECONDS))) == ()
    assert crossed_cells(sound.having(cell_05_v=-sound["cell_05_v"])) == ()
    assert crossed_cells(sound.having(cell_05_v=np.full(SECONDS, np.nan))) == ()


def test_too_few_cells_tell_nothing() -> None:
    """Three cells have no usual volts."""
    three = {f"cell_{n:02d}_v": np.full(9, v) for n, v in enumerate((6.6, -3.3, 6.6), 1)}

    assert crossed_cells(log(np.arange(9.0), **three)) == ()
