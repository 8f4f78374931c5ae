"""Cells that fall behind in packs whose volts slope over the whole range, from rest millivolts.

With such a chemistry (full cells above 3.7 V) a rest deviation is a charge deviation anywhere. It
is told apart only by whether it grows: a cell low by a steady amount is out of balance, one that
sinks from month to month leaks or is failing.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from .cell_story import CellFinding, Dated, Series, series_of
from .estimate import Estimate
from .robust_line import robust_slope

#: A deviation is told from this size, and this many robust spreads of the other cells. [mV]
LOW_MV: Final = 15.0
SPREADS: Final = 6.0
#: It grows if its slope is this many standard deviations from none, and the change over the logs
#: at least this large. [mV]
SIGMAS: Final = 3.0
GROWN_MV: Final = 15.0
#: Logs needed to tell a growth.
LOGS_MIN: Final = 6
_DAY_S: Final = 86_400.0
_MONTH_DAYS: Final = 30.44
_MAD: Final = 1.4826


def drifting_cells(logs: Sequence[Dated]) -> list[CellFinding]:
    """Cells far from their mates at rest, growing or steady; nothing for flat chemistries."""
    sloping = [log for log in logs if log.digest.is_sloping]
    if not sloping:
        return []
    series = {n: series_of(sloping, n, "rest_mv")
              for n in sorted({n for log in sloping for n in log.digest.cells})}
    medians = np.array([np.median(s.value) for s in series.values() if len(s)])
    if not len(medians):
        return []
    spread = _MAD * float(np.median(np.abs(medians - np.median(medians))))
    return [found for cell, one in series.items() if len(one)
            and (found := _drift(cell, one, max(LOW_MV, SPREADS * spread)))]


def _drift(cell: int, one: Series, limit_mv: float) -> CellFinding | None:
    latest = float(np.median(one.value[-LOGS_MIN:]))
    usual = float(np.median(one.value))
    if max(abs(latest), abs(usual)) < limit_mv:
        return None
    days = (one.time_s - one.time_s[0]) / _DAY_S
    slope = sd = 0.0
    if len(one) >= LOGS_MIN and days[-1] > 0:
        slope, sd = robust_slope(days, one.value)
    grown = slope * float(days[-1])
    is_growing = abs(grown) >= GROWN_MV and abs(slope) > SIGMAS * sd and grown * latest > 0
    side = "low" if latest < 0 else "high"
    size = Estimate.around(latest, 2 * float(np.std(one.value[-LOGS_MIN:])), "mV")
    first_s, last_s = float(one.time_s[0]), float(one.time_s[-1])
    if is_growing and latest < 0:
        rate = Estimate.around(-slope * _MONTH_DAYS, 2 * sd * _MONTH_DAYS, "mV/month")
        return CellFinding(
            cell, "self_leak", "yes",
            f"cell {cell} rests {abs(latest):.0f} mV low, and sinks by {rate.value:.0f} mV a "
            "month: it leaks or is failing.", size,
            "have it looked at before it goes on; keep these logs for the claim",
            first_s, last_s, True, {"growing": True, "rate": rate.as_json()})
    return CellFinding(
        cell, "charge_offset", "cannot tell yet",
        f"cell {cell} rests {abs(latest):.0f} mV {side}, and stays so: {side} but steady, no "
        "growing fault.", size,
        "look again in a month; long full charges bring it level if it is only out of balance",
        first_s, last_s, True, {"growing": False})
