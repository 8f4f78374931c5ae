"""Do the figures of the single cells hold together: their sum, and none told twice.

The cells of a string add up to its volts. Where they do not, a cell is not told, stands at nothing
or is told twice, or the scale of the pack volts is wrong. What honest figures may part by is taken
off first: the scales of two measurements, the steps of both, and the leads between the outermost
cells and the place where the pack volts are measured. A minute's median is compared, for cells and
pack volts are seldom read at the same moment.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np

from collector.record import QUANTITIES, member_of

from ..estimate import Estimate, NoEstimate
from ..finding import Finding
from ..telemetry import Floats, Telemetry
from .charge import smallest_step
from .crossed_leads import crossed_cells, crossed_finding, touched_by

#: What cells and pack volts together may be off by in scale, and what the leads between them may
#: take (common practice, no source). [parts], [ohm]
GAIN: Final = 0.01
LEADS_OHM: Final = 0.015
#: Amps must change by this much between stretches for the leads to be learnt; then so much of them
#: stays in doubt. Chosen here. [A], [parts]
_FITTED_A: Final = 5.0
_FITTED_PART: Final = 0.2
#: What is compared is the median of so long a stretch, of so many rows at least. [s]
BLOCK_S: Final = 60.0
_BLOCK_ROWS: Final = 10
#: So many stretches in a row must part before it is told. Chosen here: three minutes.
BLOCKS_MIN: Final = 3
#: Volts below this part of the cells' sum, with amps below that, are those of an open path. [A]
OPEN_PART: Final = 0.8
_OPEN_A: Final = 1.0
#: What parts by so much of itself from stretch to stretch fades, and is no wrong figure.
_UNSTEADY: Final = 0.5
#: So near to whole cells, as a part of one, it is taken for whole cells: with 16 of them a scale
#: that is right to 1 % moves it by that.
_WHOLE_PART: Final = 0.16
#: More cells than this are not forgotten or told twice.
_WHOLE_MAX: Final = 2
#: Fewer cells are not compared.
CELLS_MIN: Final = 4
#: Odds against chance that two cells go together so. Chosen here.
_ODDS: Final = 1e9

_METER: Final = ("hold a voltmeter to the pack's terminals, with insulated probes and the usual "
                 "care: whichever agrees with it is right")
_TAP: Final = "with everything switched off, re-seat that cell's tap; the maker says how"
_LOOK: Final = "count the cells of the string, and look at the monitor's cell count and sense leads"


@dataclass(frozen=True, slots=True)
class Apart:
    """A stretch of a log in which the cells do not add up to the pack volts."""

    start_s: float
    end_s: float
    #: Whether it began before the log did, and went on when it ended.
    is_from_start: bool
    is_to_end: bool
    #: Pack volts less the sum of the cells, and how far honest figures may part. [V]
    apart_v: float
    allowed_v: float
    voltage_v: float
    #: The cells' numbers, and what each reads. [V]
    cells: tuple[int, ...]
    cell_v: tuple[float, ...]

    @property
    def usual_v(self) -> float:
        """Of the middle cell. [V]"""
        return float(np.median(self.cell_v))

    @property
    def wrong_cell(self) -> int:
        """The one whose distance from its mates accounts for it; 0 if none does."""
        off = np.abs(self.usual_v - np.array(self.cell_v) - self.apart_v)
        place = int(off.argmin())
        return self.cells[place] if off[place] <= self.allowed_v else 0

    @property
    def whole_cells(self) -> int:
        """The number of cells it amounts to; 0 if it is no whole number of them."""
        count = round(self.apart_v / self.usual_v)
        off_v = abs(self.apart_v - count * self.usual_v)
        is_whole = off_v <= _WHOLE_PART * self.usual_v and abs(count) <= _WHOLE_MAX
        return count if is_whole else 0


def cell_findings(telemetry: Telemetry, apart: Apart | None) -> tuple[Finding, ...]:
    """What the cells' figures say against each other and, by ``find_apart``, the pack volts."""
    return (*(crossed_finding(cell, telemetry) for cell in crossed_cells(telemetry)),
            *([_apart_finding(apart)] if apart else []),
            *(_twin_finding(a, b) for a, b in find_twins(telemetry)))


def find_apart(telemetry: Telemetry) -> Apart | None:
    """The longest stretch in which the cells do not add up to the pack volts.

    Parameters
    ----------
    telemetry
        ``voltage_v``, the cells and, if there is one, ``current_a`` in any sign. Rows in which one
        of them is missing are passed over.

    Returns
    -------
    Apart | None
        ``None`` if they add up, or if the log cannot tell.
    """
    columns = _told(telemetry)
    if len(columns) < CELLS_MIN or "voltage_v" not in telemetry:
        return None
    volts, total = telemetry["voltage_v"], np.sum([telemetry[name] for name in columns], axis=0)
    amps = np.nan_to_num(telemetry["current_a"])
    is_open = (volts < OPEN_PART * total) & (np.abs(amps) < _OPEN_A)
    rows = np.flatnonzero(np.isfinite(volts - total) & ~is_open)
    blocks = list(_blocks(telemetry.elapsed_s[rows]))
    if not blocks:
        return None
    steps_v = len(columns) * smallest_step(telemetry[columns[0]]) + smallest_step(volts)
    part_v, seen_v, seen_a = (volts - total)[rows], volts[rows], amps[rows]
    apart_v, usual_v, usual_a, most_a = np.array([
        (np.median(part_v[block]), seen_v[block].mean(), np.median(seen_a[block]),
         np.abs(seen_a[block]).mean()) for block in blocks]).T
    leads_ohm, left_ohm = _leads(usual_a, apart_v)
    apart_v = apart_v - leads_ohm * usual_a
    honest_v = GAIN * usual_v + steps_v + left_ohm * most_a
    first, end = _longest_run(np.abs(apart_v) > honest_v)
    if end - first < min(BLOCKS_MIN, len(blocks)) or _is_unsteady(apart_v[first:end]):
        return None
    span = rows[blocks[first].start: blocks[end - 1].stop]
    return Apart(float(telemetry.elapsed_s[span[0]]), float(telemetry.elapsed_s[span[-1]]),
                 first == 0, end == len(blocks),
                 float(np.median(apart_v[first:end])), float(np.median(honest_v[first:end])),
                 float(np.median(usual_v[first:end])),
                 tuple(member_of(name) for name in columns),
                 tuple(float(np.median(telemetry[name][span])) for name in columns))


def _leads(usual_a: Floats, apart_v: Floats) -> tuple[float, float]:
    """The leads between cells and pack volts, and what of them stays in doubt. [ohm]

    Their share follows the amps from stretch to stretch; a figure that goes wrong on the way spoils
    one of these changes, and not their median.
    """
    change_a, change_v = np.diff(usual_a), np.diff(apart_v)
    telling = np.abs(change_a) >= _FITTED_A
    if telling.sum() < BLOCKS_MIN:
        return 0.0, LEADS_OHM
    ohm = float(np.median(change_v[telling] / change_a[telling]))
    return float(np.clip(ohm, -LEADS_OHM, LEADS_OHM)), _FITTED_PART * LEADS_OHM


def trusted(telemetry: Telemetry, apart: Apart | None) -> Telemetry:
    """The log without the figures that are plainly wrong, so that nothing is explained by them:
    the wrong cell's, those of exchanged wires, or pack volts so low that they would look like those
    of an open path."""
    if crossed := crossed_cells(telemetry):
        wrong_ones = touched_by(crossed)
        telemetry = replace(telemetry, columns={name: values for name, values
                                                in telemetry.columns.items()
                                                if name not in wrong_ones})
    if apart is None:
        return telemetry
    if apart.wrong_cell:
        wrong = QUANTITIES["cell_{n}_v"].column(apart.wrong_cell)
        return replace(telemetry, columns={name: values for name, values
                                           in telemetry.columns.items() if name != wrong})
    if apart.voltage_v >= OPEN_PART * (apart.voltage_v - apart.apart_v):
        return telemetry
    is_wrong = ((telemetry.elapsed_s >= apart.start_s) | apart.is_from_start) & (
        (telemetry.elapsed_s <= apart.end_s) | apart.is_to_end)
    return telemetry.having(voltage_v=np.where(is_wrong, np.nan, telemetry["voltage_v"]))


def _told(telemetry: Telemetry) -> list[str]:
    """The cells that the log tells: not those whose column holds next to nothing."""
    counts = {name: int(np.isfinite(telemetry[name]).sum()) for name in telemetry.cells}
    most = max(counts.values(), default=0)
    return [name for name, count in counts.items() if count > most / 4]


def _blocks(elapsed_s: Floats) -> Iterator[slice]:
    """Stretches of rows, each of a minute of the log."""
    edges = np.flatnonzero(np.diff(np.floor(elapsed_s / BLOCK_S))) + 1
    bounds = [0, *edges.tolist(), len(elapsed_s)]
    return (slice(a, b) for a, b in pairwise(bounds) if b - a >= _BLOCK_ROWS)


def _longest_run(is_apart: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> tuple[int, int]:
    edges = np.flatnonzero(np.diff(np.concatenate(([0], is_apart.astype(int), [0]))))
    runs = edges.reshape(-1, 2)
    first, end = max(runs.tolist(), key=lambda run: run[1] - run[0], default=(0, 0))
    return first, end


def _is_unsteady(apart_v: Floats) -> bool:
    low, middle, high = np.quantile(apart_v, (0.1, 0.5, 0.9))
    return bool(high - low > _UNSTEADY * abs(middle))


def _apart_finding(apart: Apart) -> Finding:
    size = Estimate.around(apart.apart_v, apart.allowed_v, "V")
    way = "above" if apart.apart_v > 0 else "below"
    facts = (f"{_when(apart)}the pack volts are {abs(apart.apart_v):.1f} V {way} the sum of the "
             f"{len(apart.cells)} cells")
    if cell := apart.wrong_cell:
        volts = apart.cell_v[apart.cells.index(cell)]
        return Finding("cells_do_not_add_up", "yes",
                       f"{facts}, and cell {cell} reads {volts:.1f} V: its figure is wrong, not "
                       "the cell", size, _TAP)
    if count := abs(apart.whole_cells):
        cause = ("not every cell of the string is told" if apart.apart_v > 0
                 else "a cell is told twice, or is not of this string")
        worth = "one cell" if count == 1 else f"{count} cells"
        return Finding("cells_do_not_add_up", "yes", f"{facts}, as much as {worth}: {cause}",
                       size, _LOOK)
    part = 100 * apart.apart_v / (apart.voltage_v - apart.apart_v)
    return Finding("cells_do_not_add_up", "cannot tell yet",
                   f"{facts} ({part:+.0f} %), no whole number of cells: the scale of one of the "
                   "two is wrong, or a figure stands still", size, _METER)


def _when(apart: Apart) -> str:
    since = "" if apart.is_from_start else f"from {apart.start_s / 60:.0f} min on"
    until = "" if apart.is_to_end else f"until {apart.end_s / 60:.0f} min"
    words = " ".join(filter(None, [since, until]))
    return f"{words}, " if words else ""


def find_twins(telemetry: Telemetry) -> list[tuple[int, int]]:
    """Pairs of cells whose figures are the same in every row, against all odds.

    How often two cells of this log agree by chance is learnt from the other cells: the same share
    of agreement in every row in which a cell moved must be less likely than one in a billion.
    """
    columns = _told(telemetry)
    if len(columns) < CELLS_MIN:
        return []
    whole: dict[bytes, str] = {}
    found = []
    for name in columns:
        twin = whole.setdefault(telemetry[name].tobytes(), name)
        if twin != name and _is_against_odds(telemetry, twin, set(columns) - {twin, name}):
            found.append((member_of(twin), member_of(name)))
    return found


def _is_against_odds(telemetry: Telemetry, cell: str, others: set[str]) -> bool:
    own = telemetry[cell]
    moved = np.flatnonzero(np.diff(own) != 0) + 1
    shares = [float((telemetry[other][moved] == own[moved]).mean()) if len(moved) else 1.0
              for other in others]
    most = max(share for share in shares if share < 1.0) if min(shares) < 1.0 else 1.0
    return most <= 0 or len(moved) * math.log(1 / most) > math.log(_ODDS)


def _twin_finding(first: int, second: int) -> Finding:
    return Finding(
        "cell_told_twice", "yes",
        f"cells {first} and {second} tell the same figure in every row, which no two cells do: "
        "one of them is not measured",
        NoEstimate("it is a figure too few, not a size", "mend the monitor's description"),
        "look at the places of the cells in the monitor's description")
