"""Why the pack cut out: too many amps, one cell, cold, a joint further on, or a silent monitor.

The seconds before the amps vanished tell. A driver who lifts the foot makes the amps vanish too,
so a moment counts only where something else was wrong: amps past the board's limit for its trip
time, a cell at its limit, pack volts gone while the cells are still told, or the stream itself
gone under load.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from collector.record import member_of

from ..estimate import Verdict
from ..limits import Limits
from ..phrases import amps_size
from ..telemetry import Floats, Telemetry
from ..timebase import Observed, Rows, observe

Cause = Literal["over_current", "one_cell", "all_cells", "cold", "open_circuit", "silence"]

#: Amps below this are none; a load is at least this. [A]
NONE_A: Final = 1.0
LOAD_A: Final = 10.0
#: Amps vanish within this many samples.
VANISH_ROWS: Final = 2
#: What is looked at before and after. [s]
BEFORE_S: Final = 5.0
#: Share of the trip time that samples a second apart may show of it.
TRIP_SHARE: Final = 0.8
#: A cell this close above its limit may have passed it between samples. [V]
CELL_MARGIN_V: Final = 0.08
#: Limits of an iron-phosphate cell where nobody typed one (common practice, no source). [V]
CELL_LOW_V: Final = 2.7
#: A cell so far below the median is alone. [V]
ALONE_V: Final = 0.10
COLD_C: Final = 5.0
#: Cells above this were not empty: whatever stopped, the pack could have gone on. [V]
GOOD_V: Final = 3.0


@dataclass(frozen=True, slots=True)
class CutOut:
    """One moment at which the amps vanished, and why."""

    cause: Cause
    verdict: Verdict
    start_s: float
    end_s: float
    words: str
    next: str


def find_cut_outs(telemetry: Telemetry, limits: Limits | None = None,
                  seen: Observed | None = None) -> list[CutOut]:
    """Every cut-out of a log, oldest first.

    Parameters
    ----------
    telemetry
        Amps in packhand's sign; ``voltage_v``, cells and ``temp_1_c`` where there are any.
    limits
        The board's; without them too many amps cannot be told.
    seen
        ``observe(telemetry, "current_a")`` if it is at hand.

    Notes
    -----
    A log with a sample a second can miss the cause; the words say so.
    """
    if "current_a" not in telemetry:
        return []
    seen = seen or observe(telemetry, "current_a")
    amps = seen.pick(telemetry["current_a"])
    limits = limits or Limits()
    scene = _Scene(telemetry, seen, amps, limits, tuple(telemetry.cells))
    found = [scene.judge(row) for row in _vanishings(amps, seen)]
    found += [scene.silence(int(step)) for step in seen.gap_steps]
    return sorted((f for f in found if f), key=lambda f: f.start_s)


def _vanishings(amps: Floats, seen: Observed) -> list[int]:
    """Last loaded positions before the amps out vanish and stay away for a few samples."""
    loaded = amps < -LOAD_A
    ends = np.flatnonzero(loaded[:-1] & ~loaded[1:])
    ends = ends[seen.width_s[ends] > 0]
    # Behind the last row its own figure is taken to go on.
    after = np.minimum(ends + np.arange(1, VANISH_ROWS + 2)[:, None], len(amps) - 1)
    quiet = np.abs(amps[after]) < NONE_A
    stays_away = quiet[-1] & (quiet[1:] >= quiet[:-1]).all(axis=0)
    return [int(row) for row in ends[stays_away]]


@dataclass(frozen=True, slots=True)
class _Scene:
    telemetry: Telemetry
    seen: Observed
    amps: Floats
    limits: Limits
    #: The single-cell columns.
    cells: tuple[str, ...]

    def judge(self, row: int) -> CutOut | None:
        return self._over_current(row) or self._open_circuit(row) or self._low_cell(row)

    def _over_current(self, row: int) -> CutOut | None:
        peak_a, trip_s = self.limits.peak_a, self.limits.peak_s
        if not math.isfinite(peak_a) or -self.amps[row] <= peak_a:
            return None
        below = np.flatnonzero(self.amps[:row + 1] >= -peak_a)
        first = int(below[-1]) + 1 if len(below) else 0
        seconds = float(self.seen.time_s[row] - self.seen.time_s[first]) + self.seen.usual_s
        if seconds < TRIP_SHARE * (trip_s if math.isfinite(trip_s) else 0.0):
            return None
        worst = float(-self.amps[first:row + 1].min())
        cell = self._cell_words(row)
        return CutOut(
            "over_current", "yes", float(self.seen.time_s[first]), self._time(row + 1),
            f"{amps_size(worst)} out for {seconds:.0f} s, then nothing: the board's limit is "
            f"{amps_size(peak_a)}{_for(trip_s)}. Too many amps{cell}.{self._caveat()}",
            "find what held the vehicle or lower the controller's amps")

    def _low_cell(self, row: int) -> CutOut | None:
        cells = self._cells(row)
        if not cells:
            return None
        names, volts = cells
        low = self.limits.cell_low_v if math.isfinite(self.limits.cell_low_v) else CELL_LOW_V
        worst = int(np.argmin(volts))
        if volts[worst] > low + CELL_MARGIN_V:
            return None
        cell, median = member_of(names[worst]), float(np.median(volts))
        start, end = self._time(row), self._time(row + 1)
        load = f"{amps_size(self.amps[row])} out"
        if median - volts[worst] > ALONE_V:
            return CutOut("one_cell", "yes", start, end,
                          f"cell {cell} fell to {volts[worst]:.2f} V at {load} while the middle "
                          f"of its mates stood at {median:.2f} V, then nothing: one cell ended "
                          f"it.{self._caveat()}",
                          "look at that cell under Cells; check its sense lead")
        celsius = self._at("temp_1_c", row)
        if celsius < COLD_C:
            return CutOut("cold", "yes", start, end,
                          f"all cells fell together to {volts[worst]:.2f} V at {load} and "
                          f"{celsius:.0f} °C, then nothing: cold, not worn.{self._caveat()}",
                          "drive gently until the pack is warm; do not charge below 0 °C")
        return CutOut("all_cells", "yes", start, end,
                      f"all cells fell together to {volts[worst]:.2f} V at {load}, then "
                      f"nothing: the pack was empty.{self._caveat()}", "charge it soon")

    def _open_circuit(self, row: int) -> CutOut | None:
        """Pack volts vanish while the cells are still told."""
        after = row + 1
        if after >= len(self.amps) or "voltage_v" not in self.telemetry:
            return None
        told = self._rows(after, after + VANISH_ROWS + 1)
        volts = float(np.nanmin(np.append(self.telemetry["voltage_v"][told], np.inf)))
        cells = [self.telemetry[name][told] for name in self.cells]
        if not cells or not np.isfinite(volts):
            return None
        total = float(np.nanmin(np.append(np.sum(cells, axis=0), np.inf)))
        if not math.isfinite(total) or volts >= total / 2:
            return None
        return CutOut("open_circuit", "yes", self._time(row), self._time(after),
                      f"the pack's volts fell to {volts:.1f} V while its cells still add up to "
                      f"{total:.1f} V: the path is open behind the cells, at contactor, fuse or "
                      "joint.", "with everything switched off, check contactor, fuse and joints "
                      "as the maker says")

    def silence(self, step: int) -> CutOut | None:
        """The stream itself vanishes under load."""
        if self.amps[step] > -LOAD_A:
            return None
        return CutOut("silence", "cannot tell yet", self._time(step), self._time(step + 1),
                      f"the monitor fell silent at {amps_size(self.amps[step])} out: the board "
                      "slept, or the link was lost; the cause is not in the log.",
                      "note whether the vehicle stopped too")

    def _rows(self, first: int, end: int) -> Rows:
        """Rows of the telemetry for a span of positions."""
        return self.seen.rows_of(first, end)

    def _cells(self, row: int) -> tuple[list[str], Floats] | None:
        """Lowest volts of each cell in the last seconds of load; those never told are left out."""
        first = int(np.searchsorted(self.seen.time_s, self.seen.time_s[row] - BEFORE_S))
        rows = self._rows(first, row + 1)
        if not self.cells:
            return None
        lowest = np.fmin.reduce([self.telemetry[name][rows] for name in self.cells], axis=1)
        held = np.isfinite(lowest)
        names = [name for name, is_told in zip(self.cells, held, strict=True) if is_told]
        return (names, lowest[held]) if len(names) > 1 else None

    def _cell_words(self, row: int) -> str:
        cells = self._cells(row)
        if not cells:
            return ""
        low = float(cells[1].min())
        return f", not a cell: the lowest stood at {low:.2f} V" if low >= GOOD_V else (
            f"; the lowest cell stood at {low:.2f} V")

    def _at(self, column: str, row: int) -> float:
        return float(self.telemetry[column][self._rows(row, row + 1)[0]])

    def _time(self, row: int) -> float:
        return float(self.seen.time_s[min(row, len(self.seen.time_s) - 1)])

    def _caveat(self) -> str:
        if self.seen.usual_s < 0.5:
            return ""
        return (f" The log holds a sample every {self.seen.usual_s:.0f} s: what lies between is "
                "not seen.")


def _for(seconds: float) -> str:
    return f" for {seconds:.0f} s" if math.isfinite(seconds) else ""
