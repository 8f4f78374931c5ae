"""Volts of a rested iron-phosphate cell, for what a volt gauge or a cut-off makes of them."""

from __future__ import annotations

from typing import Final

import numpy as np

#: Percent of charge and volts of a rested cell: electrode functions of Safari and Delacourt,
#: J. Electrochem. Soc. 158 (2011) A562, with the windows of Schimpe et al., J. Electrochem. Soc.
#: 165 (2018) A181, both read second-hand and evaluated. A typical cell, not yours: between 40 and
#: 90 % 5 mV are several percent.
REST_CELL_V: Final = (
    (0.0, 2.7081), (5.0, 3.0893), (10.0, 3.1987), (20.0, 3.2518), (30.0, 3.2835), (40.0, 3.3022),
    (50.0, 3.3090), (60.0, 3.3134), (70.0, 3.3239), (80.0, 3.3381), (90.0, 3.3448),
    (95.0, 3.3520), (100.0, 3.4219),
)
_PERCENT, _VOLTS = zip(*REST_CELL_V, strict=True)


def rest_cell_v(percent: float) -> float:
    """Volts of a rested cell, straight between the table's points; its ends stand. [V]"""
    return float(np.interp(percent, _PERCENT, _VOLTS))


def percent_at(cell_v: float) -> float:
    """The inverse; for the arithmetic of a cut-off, never to read a pack's charge. [%]"""
    return float(np.interp(cell_v, _VOLTS, _PERCENT))
