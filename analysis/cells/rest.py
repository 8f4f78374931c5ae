"""Cells that fall behind in packs whose volts slope over the whole range, from rest millivolts.

With such a chemistry (full cells above 3.7 V) a rest deviation is a charge deviation anywhere. It
is told apart only by whether it grows: a cell low by a steady amount is out of balance, one that
sinks from month to month leaks or is failing. Each cell is compared with its nearest mates in the
string, for whole modules differ by sensing and warmth.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from ..estimate import Estimate
from ..fitting.robust_line import robust_slope
from ..telemetry import Floats
from .story import CellFinding, Dated

#: Mates on either side that a cell is compared with.
MATES: Final = 4
#: A deviation is told from this size, and this many robust spreads of all cells. [mV]
LOW_MV: Final = 15.0
SPREADS: Final = 6.0
#: It grows if it changed by so much from the first to the last third of the logs, far outside what
#: the other cells did, along a slope this many standard deviations from none. [mV]
GROWN_MV: Final = 15.0
SIGMAS: Final = 3.0
#: Logs needed to tell a growth.
LOGS_MIN: Final = 6
_DAY_S: Final = 86_400.0
_MONTH_DAYS: Final = 30.44
_MAD: Final = 1.4826


def drifting_cells(logs: Sequence[Dated]) -> list[CellFinding]:
    """Cells far from their mates at rest, growing or steady; nothing for flat chemistries."""
    sloping = [log for log in logs if log.digest.is_sloping
               and np.isfinite(log.digest.rest_mv).any()]
    if not sloping:
        return []
    cells = sloping[-1].digest.cells
    same = [log for log in sloping if log.digest.cells == cells]
    time_s = np.array([log.start_s for log in same])
    apart = _from_mates(np.array([log.digest.rest_mv for log in same]))
    level, change = np.nanmedian(apart[-max(LOGS_MIN, len(same) // 3):], axis=0), _change(apart)
    far_mv = max(LOW_MV, SPREADS * _spread(level))
    grown_mv = max(GROWN_MV, SPREADS * _spread(change))
    found = []
    for k, cell in enumerate(cells):
        if change[k] <= -grown_mv and (rate := _sinking(time_s, apart[:, k])):
            found.append(_failing(cell, float(level[k]), rate, apart[:, k], time_s))
        elif abs(level[k]) >= far_mv:
            found.append(_steady(cell, float(level[k]), apart[:, k], time_s))
    return found


def _from_mates(rest_mv: Floats) -> Floats:
    """Each figure less the median of its mates before or behind it, whichever is nearer.

    A cell at the border of two modules belongs to one of them only. Shape (logs, cells).
    """
    count = rest_mv.shape[1]
    apart = np.empty_like(rest_mv)
    for k in range(count):
        sides = [rest_mv[:, max(0, k - MATES):k], rest_mv[:, k + 1:k + 1 + MATES]]
        each = np.stack([rest_mv[:, k] - np.median(side, axis=1) for side in sides
                         if side.shape[1]])
        nearer = np.argmin(np.nan_to_num(np.abs(each), nan=np.inf), axis=0)
        apart[:, k] = each[nearer, np.arange(len(rest_mv))]
    return apart


def _change(apart: Floats) -> Floats:
    """From the first to the last third of the logs, shape (cells,); 0 with too few logs."""
    third = len(apart) // 3
    if len(apart) < LOGS_MIN:
        return np.zeros(apart.shape[1])
    return np.asarray(np.nanmedian(apart[-third:], axis=0) - np.nanmedian(apart[:third], axis=0))


def _spread(values: Floats) -> float:
    return _MAD * float(np.nanmedian(np.abs(values - np.nanmedian(values))))


def _sinking(time_s: Floats, apart_mv: Floats) -> Estimate | None:
    """Millivolts a month that a cell sinks, if that is sure."""
    held = np.isfinite(apart_mv)
    slope, sd = robust_slope((time_s[held] - time_s[0]) / _DAY_S, apart_mv[held])
    if slope > -SIGMAS * sd:
        return None
    return Estimate.around(-slope * _MONTH_DAYS, 2 * sd * _MONTH_DAYS, "mV/month")


def _failing(cell: int, level_mv: float, rate: Estimate, apart_mv: Floats,
             time_s: Floats) -> CellFinding:
    return CellFinding(
        cell, "self_leak", "yes",
        f"cell {cell} rests {abs(level_mv):.0f} mV below its mates, and sinks by "
        f"{rate.value:.0f} mV a month: it leaks or is failing.", _size(level_mv, apart_mv),
        "have it looked at before it goes on; keep these logs for the claim",
        float(time_s[0]), float(time_s[-1]), True, {"growing": True, "rate": rate.as_json()})


def _steady(cell: int, level_mv: float, apart_mv: Floats, time_s: Floats) -> CellFinding:
    side = "low" if level_mv < 0 else "high"
    return CellFinding(
        cell, "charge_offset", "cannot tell yet",
        f"cell {cell} rests {abs(level_mv):.0f} mV {side} and stays so: steady, no growing "
        "fault.", _size(level_mv, apart_mv),
        "look again in a month; long full charges bring it level if it is only out of balance",
        float(time_s[0]), float(time_s[-1]), True, {"growing": False})


def _size(level_mv: float, apart_mv: Floats) -> Estimate:
    return Estimate.around(level_mv, 2 * max(_spread(apart_mv), 1.0), "mV")
