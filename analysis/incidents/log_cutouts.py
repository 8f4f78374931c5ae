"""The cut-outs of one log, kept for the questions of a whole logbook."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ..cells.features import CELL_COLUMNS
from ..limits import Limits
from ..telemetry import Telemetry
from .cutout import CutOut, find_cut_outs

CUTOUT_COLUMNS: Final = tuple(dict.fromkeys(["current_a", "voltage_v", "temp_1_c", *CELL_COLUMNS]))


@dataclass(frozen=True, slots=True)
class LogCutOuts:
    """Every cut-out that tells itself without the board's typed limits."""

    found: tuple[CutOut, ...]


def cut_outs_digest(telemetry: Telemetry) -> LogCutOuts:
    """The cut-outs of one log, limits as usual for iron phosphate; too many amps need typed ones
    (``find_cut_outs``)."""
    return LogCutOuts(tuple(find_cut_outs(telemetry, Limits())))
