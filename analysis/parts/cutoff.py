"""A motor controller's low-volt cut-off, often left at its lead-acid setting."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from .iron_phosphate import percent_at
from .pack import PackFigures
from .verdict import Check, Judged, check, unknown

#: How far the controller is to ease off before the board opens, for the lowest cell stands below
#: the mean; common practice, no source. [V a cell]
MARGIN_CELL_V: Final = 0.1
#: Charge that may stay unused at the worst amps; chosen here. [%]
UNUSED_MAX_PCT: Final = 10.0


@dataclass(frozen=True, slots=True)
class Cutoff:
    """The setting as typed."""

    name: str
    cutoff_v: float


def judge_cutoff(cutoff: Cutoff, pack: PackFigures) -> Judged:
    """Before the board, and not too early."""
    return Judged("cutoff", cutoff.name, (_before_board(cutoff, pack), _not_early(cutoff, pack)),
                  ("A board that opens at speed takes drive and braking at once; the controller "
                   "eases off.",), if_no="change the setting")


def _before_board(cutoff: Cutoff, pack: PackFigures) -> Check:
    question = "Does the controller ease off before the board opens?"
    per_cell = cutoff.cutoff_v / pack.cells
    line = f"{cutoff.cutoff_v:g} V / {pack.cells} cells = {per_cell:.2f} V a cell"
    if pack.low_cell_v is None:
        return unknown(question, f"{line}; where the board opens is not known", "type low_cell_v")
    needed_v = pack.cells * (pack.low_cell_v.value + MARGIN_CELL_V)
    return check(question, cutoff.cutoff_v >= needed_v - 1e-9, (
        line, f"the board opens at {pack.low_cell_v.value:.2f} V of its lowest cell, which stands "
        f"below the mean: {pack.cells} x ({pack.low_cell_v.value:.2f} + {MARGIN_CELL_V:.1f}) V = "
        f"{needed_v:.1f} V"), f"{needed_v:.1f} V or a little more, within what the pack's and the "
        "controller's makers allow")


def _not_early(cutoff: Cutoff, pack: PackFigures) -> Check:
    question = "Does it leave little charge unused?"
    amps, ohm = pack.rms_10_s_a, pack.resistance_ohm
    if amps is None or ohm is None:
        return unknown(question, "the worst amps or the pack's resistance are not known",
                       "log a drive, or type rms_10_s_a and resistance_mohm")
    rested_v = cutoff.cutoff_v + amps.value * ohm.value
    unused = percent_at(rested_v / pack.cells)
    return check(question, unused <= UNUSED_MAX_PCT, (
        f"at {amps.text} x {1000 * ohm.value:.1f} mΩ it acts at {rested_v:.1f} V of the rested "
        f"pack, {rested_v / pack.cells:.2f} V a cell",
        f"about {unused:.0f} % of the charge is left then (a typical curve; cold leaves more)"),
        "a lower setting, still above the board's")
