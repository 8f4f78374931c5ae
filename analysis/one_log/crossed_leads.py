"""Sense wires put in each other's place: a cell upside down between two that read double.

A board reads a cell between two wires. Where the two wires of one cell are exchanged it reads that
cell turned round, and each neighbour together with it:

    V_k - V_{k-1}:   ...  U   2 U   -U   2 U   U  ...

Nothing else makes that pattern, and the sum stays what it was. Cells told in another order, such as
two that exchanged their numbers in the monitor, show in no single log: the cells of a string are
alike. Between logs two neighbours with exchanged numbers look as a lead's joint between them does,
up for the one and down for the other, and nothing tells these apart; where most cells moved,
``cells.pattern`` tells it.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from collector.record import QUANTITIES, member_of

from ..estimate import Estimate
from ..finding import Finding
from ..telemetry import Telemetry

#: How near to once and twice a cell's volts the figures are. Chosen here. [parts]
_NEAR: Final = 0.15
#: Fewer cells have no usual volts.
CELLS_MIN: Final = 4
#: Rows looked at: the pattern stands in all of them.
_ROWS: Final = 1_000


def crossed_cells(telemetry: Telemetry) -> tuple[int, ...]:
    """Numbers of the cells that are told upside down between doubled ones; usually none.

    The volts are looked at over the whole log, for wires are not exchanged while it runs. A first
    or last cell has one neighbour.
    """
    every = slice(None, None, max(1, len(telemetry) // _ROWS))
    level_v = {}
    for name in telemetry.cells:
        told = telemetry[name][every]
        if np.isfinite(told).any():
            level_v[member_of(name)] = float(np.nanmedian(told))
    if len(level_v) < CELLS_MIN:
        return ()
    usual_v = float(np.median(list(level_v.values())))

    def is_near(cell: int, times: float) -> bool:
        return abs(level_v[cell] - times * usual_v) <= _NEAR * abs(usual_v)

    return tuple(cell for cell in level_v if is_near(cell, -1.0) and all(
        is_near(beside, 2.0) for beside in (cell - 1, cell + 1) if beside in level_v))


def touched_by(crossed: tuple[int, ...]) -> set[str]:
    """Columns of cells whose figures mean others: the crossed ones and their neighbours."""
    column = QUANTITIES["cell_{n}_v"].column
    return {column(cell + off) for cell in crossed for off in (-1, 0, 1) if cell + off > 0}


def crossed_finding(cell: int, telemetry: Telemetry) -> Finding:
    """What a person reads of it."""
    volts = float(np.nanmedian(telemetry[QUANTITIES["cell_{n}_v"].column(cell)]))
    return Finding(
        "sense_wires_exchanged", "yes", crossed_words(cell), Estimate.around(volts, 0.1, "V"),
        NEXT)


def crossed_words(cell: int) -> str:
    """One sentence of it."""
    return (f"cell {cell} reads upside down and its neighbours double: its two sense wires are in "
            "each other's place; the cells may be well, but nothing watches over these")


#: What to do about it.
NEXT: Final = ("do not charge or drive with it: the board cannot protect these cells, and may be "
               "harmed; unplug the board's sense plug before touching a wire, and put the wires "
               "right as the maker says")
