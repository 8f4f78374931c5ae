"""How charging ended: by its tail, by one full cell, by cold, or cut short; also under braking.

An iron-phosphate charge ends by a falling tail. Amps that stop at once while one cell stands at
its limit and the others do not were stopped by the board for that cell.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from collector.record import member_of

from ..cells.features import CELL_COLUMNS
from ..estimate import Estimate
from ..finding import DatedFinding
from ..limits import Limits
from ..one_log.anchors import lowest_and_highest
from ..telemetry import Floats, Telemetry
from ..timebase import Observed, Rows, observe, once

Ending = Literal["tail", "first_cell", "cold", "cut_short", "regeneration"]

#: Amps into the pack count as charging from this; below, nothing flows. [A]
CHARGE_A: Final = 2.0
NONE_A: Final = 1.5
#: A charge lasts at least this long; a push of the brakes at most so long. [s]
CHARGE_S: Final = 300.0
BRAKE_S: Final = 120.0
#: Amps that have fallen to this share of the most were a tail (common practice: 2 to 5 % of the
#: capacity, no source; a charger gives a quarter to a tenth of it).
TAIL_SHARE: Final = 0.4
#: Limit of an iron-phosphate cell where nobody typed one (common practice, no source), and how
#: close to it the last sample must be. [V]
CELL_HIGH_V: Final = 3.6
CELL_MARGIN_V: Final = 0.04
#: Rows that show how a flow ended.
LAST_ROWS: Final = 5
#: A cell so far above the median is alone. [V]
ALONE_V: Final = 0.04

HEADROOM: Final = ("leave headroom when the first way is downhill: stop the charge a few percent "
                   "early; about once a week fill to the tail all the same, and use a few percent "
                   "on the level before going down; the controller's upper limit belongs below the "
                   "board's")


@dataclass(frozen=True, slots=True)
class ChargeStop:
    """The end of one flow into the pack."""

    ending: Ending
    start_s: float
    end_s: float
    #: The cell that stood highest; 0 where cells are not told.
    cell: int
    #: Volts of that cell and of the median one in the last samples; NaN if not told. [V]
    high_v: float
    median_v: float
    #: Amps in the last samples. [A]
    current_a: float

    @property
    def words(self) -> str:
        if self.ending == "first_cell":
            return (f"charging stopped at once from {self.current_a:.0f} A: cell {self.cell} had "
                    f"reached {self.high_v:.2f} V, its mates {self.median_v:.2f} V; the pack is "
                    "not full")
        if self.ending == "regeneration":
            return (f"braking pushed {self.current_a:.0f} A into a full pack and the board opened "
                    f"the path at {self.high_v:.2f} V of cell {self.cell}: that braking vanished")
        if self.ending == "cold":
            return "charging stopped at or below the lowest temperature the board charges at"
        if self.ending == "tail":
            return f"charging ended by its tail at {self.current_a:.0f} A"
        return f"charging stopped from {self.current_a:.0f} A before the pack was full"


def find_charge_stops(telemetry: Telemetry, limits: Limits | None = None,
                      seen: Observed | None = None) -> list[ChargeStop]:
    """Every end of a flow into the pack that the log shows, oldest first.

    Parameters
    ----------
    telemetry
        Amps in packhand's sign; cells and ``temp_1_c`` where there are any.
    seen
        ``observe(telemetry, "current_a")`` if it is at hand.
    """
    if "current_a" not in telemetry:
        return []
    seen = seen or observe(telemetry, "current_a")
    amps = seen.pick(telemetry["current_a"])
    limits = limits or Limits()
    flows = _seen_to_stop(amps, seen, charge_flows(amps))
    seconds = seen.time_s[flows[:, 1] - 1] - seen.time_s[flows[:, 0]]
    is_brake = (seconds < BRAKE_S) & (flows[:, 0] > 0) & (amps[flows[:, 0] - 1] < CHARGE_A)
    # Braking ends all the time; only a cell at its limit makes it worth a look.
    at_limit = np.zeros(len(flows), dtype=bool)
    at_limit[is_brake] = _reach(telemetry, seen, flows[is_brake],
                                _limit_v(limits) - CELL_MARGIN_V)
    stops = [_stop(telemetry, seen, amps, (int(flows[k, 0]), int(flows[k, 1])), limits,
                   is_brake=bool(is_brake[k]))
             for k in np.flatnonzero((seconds >= CHARGE_S) | at_limit)]
    return [stop for stop in stops if stop]


def charge_flows(amps: Floats) -> Rows:
    """First and one-past-last position of each flow into the pack, shape (m, 2)."""
    flows = np.concatenate(([False], amps > CHARGE_A, [False]))
    return np.flatnonzero(flows[1:] != flows[:-1]).reshape(-1, 2)


def _seen_to_stop(amps: Floats, seen: Observed, flows: Rows) -> Rows:
    """The flows behind which the samples go on, and nothing flows in them."""
    flows = flows[flows[:, 1] < len(amps)]
    after = amps[np.minimum(flows[:, 1] + np.arange(3)[:, None], len(amps) - 1)]
    is_seen = seen.width_s[flows[:, 1] - 1] > 0
    return np.asarray(flows[is_seen & (after.min(axis=0) < NONE_A)])


def _reach(telemetry: Telemetry, seen: Observed, flows: Rows, volts: float) -> NDArray[np.bool_]:
    """Whether any cell reached the volts in the last rows of each flow."""
    places = np.maximum(flows[:, 1:] - np.arange(1, LAST_ROWS + 1), flows[:, :1])
    _, highest = once(telemetry, lowest_and_highest)
    return np.asarray((seen.pick(highest)[places] >= volts).any(axis=1))


def _stop(telemetry: Telemetry, seen: Observed, amps: Floats, span: tuple[int, int],
          limits: Limits, *, is_brake: bool) -> ChargeStop | None:
    first, end = span
    last = seen.rows_of(max(first, end - LAST_ROWS), end)
    cell, high_v, median_v = _cells(telemetry, last)
    start_s, end_s = float(seen.time_s[first]), float(seen.time_s[end])
    final_a = float(np.median(amps[max(first, end - LAST_ROWS):end]))
    is_at_limit = high_v >= _limit_v(limits) - CELL_MARGIN_V

    def told(ending: Ending) -> ChargeStop:
        return ChargeStop(ending, start_s, end_s, cell, high_v, median_v, final_a)

    if is_brake:
        return told("regeneration") if is_at_limit and _is_cut(amps, end) else None
    if final_a <= TAIL_SHARE * float(np.quantile(amps[first:end], 0.9)):
        return told("tail")
    if is_at_limit and high_v - median_v >= ALONE_V:
        return told("first_cell")
    celsius = float(telemetry["temp_1_c"][last[-1]])
    return told("cold" if celsius <= limits.charge_min_c else "cut_short")


def _limit_v(limits: Limits) -> float:
    return limits.cell_high_v if math.isfinite(limits.cell_high_v) else CELL_HIGH_V


def _is_cut(amps: Floats, end: int) -> bool:
    """Whether the amps vanished rather than faded."""
    return bool(abs(amps[end]) < NONE_A and amps[end - 1] > 2 * CHARGE_A)


def _cells(telemetry: Telemetry, rows: Rows) -> tuple[int, float, float]:
    """The highest cell of the last rows, its volts and the median cell's."""
    highs = {name: telemetry[name][rows] for name in telemetry.cells}
    held = {name: float(np.nanmax(v)) for name, v in highs.items() if np.isfinite(v).any()}
    if not held:
        return 0, math.nan, math.nan
    top = max(held, key=lambda name: held[name])
    return member_of(top), held[top], float(np.median(list(held.values())))


STOP_COLUMNS: Final = ("current_a", "temp_1_c", *CELL_COLUMNS)
#: Early stops in a row that are told as one finding.
STOPS_MIN: Final = 2


@dataclass(frozen=True, slots=True)
class LogStops:
    """How the flows into the pack ended in one log."""

    endings: tuple[str, ...]
    #: The cell that stood highest at each, and how far above the median one. [V]
    cells: tuple[int, ...]
    above_v: tuple[float, ...]


def stops_digest(telemetry: Telemetry) -> LogStops:
    """The charge stops of one log, limits as usual for iron phosphate."""
    stops = find_charge_stops(telemetry)
    return LogStops(tuple(s.ending for s in stops), tuple(s.cell for s in stops),
                    tuple(s.high_v - s.median_v for s in stops))


def find_early_stops(logs: Sequence[tuple[float, LogStops]]) -> list[DatedFinding]:
    """Cells that stopped charging again and again, and until when.

    Parameters
    ----------
    logs
        Unix time of the start, and stops, oldest first.
    """
    ends = [(time_s, ending, cell, above) for time_s, stops in logs
            for ending, cell, above in zip(stops.endings, stops.cells, stops.above_v, strict=True)
            if ending in ("first_cell", "tail")]
    found = []
    for cell in sorted({e[2] for e in ends if e[1] == "first_cell"}):
        early = [e for e in ends if e[1] == "first_cell" and e[2] == cell]
        later = [e for e in ends if e[0] > early[-1][0]]
        if len(early) >= STOPS_MIN:
            found.append(_early(cell, early, len(later)))
    return found


def _early(cell: int, early: list[tuple[float, str, int, float]], later: int) -> DatedFinding:
    millivolts = 1000 * np.array([e[3] for e in early])
    since = f"; the {later} charges since then went on to the tail" if later >= STOPS_MIN else ""
    return DatedFinding(
        "early_charge_stop", "yes", early[0][0], early[-1][0],
        f"cell {cell} stopped {len(early)} charges before the pack was full{since}",
        Estimate.around(float(np.median(millivolts)), 2 * float(np.std(millivolts)), "mV"),
        f"look under Cells whether cell {cell} is out of balance, which long charges cure, or "
        "small")


def find_braking_into_full(logs: Sequence[tuple[float, LogStops]]) -> list[DatedFinding]:
    """Drives on which braking found the pack full and the board opened the path, as one finding.

    Parameters
    ----------
    logs
        Unix time of the start, and stops, oldest first.
    """
    times = [time_s for time_s, stops in logs if "regeneration" in stops.endings]
    if not times:
        return []
    drives = "one drive" if len(times) == 1 else f"{len(times)} drives"
    return [DatedFinding(
        "regeneration_into_full", "yes", times[0], times[-1],
        f"braking pushed amps into a full pack and the board opened the path, on {drives}: that "
        "braking vanished", Estimate.around(float(len(times)), 0.0, "drives"), HEADROOM)]
