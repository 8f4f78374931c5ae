"""What is said and read out at a moment: the sentence, the figures, the cells.

The page asks for a block of moments ahead of the pen and only shows what it got; every word and
every digit is made here.
"""

from __future__ import annotations

from bisect import bisect_right
from functools import partial
from typing import Any, Final

import numpy as np

from analysis.drive.words import STILL_A, gap_sentence, moment_sentence

from .figures.strips import LANES
from .quantities import NBSP, number, shown, unbroken
from .recording import Recording

#: Moments in one block at most.
COUNT_MAX: Final = 200

Reading = tuple[str, str] | None


def block(recording: Recording, from_s: float, step_s: float, count: int) -> dict[str, Any]:
    """Sentences and read-outs at ``count`` moments, ``step_s`` apart.

    Returns
    -------
    dict
        ``from_s, step_s``; by moment ``clock`` (local time), ``sentence``, ``cell_sentence``,
        ``cells_mv`` (one figure a cell, or ``null``); ``readings``: by lane, one pair of figure
        and note by moment, ``null`` where there is no record.

    Raises
    ------
    ValueError
        If the block is empty or too long.
    """
    if not 1 <= count <= COUNT_MAX or not 0 < step_s < 1e6 or not abs(from_s) < 1e9:
        raise ValueError(f"no such block: {from_s}, {step_s}, {count}")
    times_s = np.minimum(from_s + step_s * np.arange(count), recording.duration_s)
    rows = rows_at(recording, times_s)
    cells = [cells_mv(recording, row) for row in rows]
    return {
        "from_s": from_s, "step_s": step_s,
        "clock": [recording.local(s).strftime("%H:%M:%S") for s in times_s],
        "sentence": [sentence(recording, float(s), row)
                     for s, row in zip(times_s, rows, strict=True)],
        "cells_mv": cells,
        "cell_sentence": [cell_sentence(volts) for volts in cells],
        "readings": readings(recording, times_s),
    }


def rows_at(recording: Recording, times_s: np.ndarray) -> list[int | None]:
    """Row in force at each moment, ``None`` inside a gap."""
    places = np.searchsorted(recording.telemetry.elapsed_s, times_s, side="right") - 1
    starts = [gap.start_s for gap in recording.gaps]
    found: list[int | None] = []
    for moment, place in zip(times_s, places, strict=True):
        gap = bisect_right(starts, moment) - 1
        hidden = gap >= 0 and starts[gap] < moment < recording.gaps[gap].end_s
        found.append(None if hidden or place < 0 else int(place))
    return found


def sentence(recording: Recording, moment_s: float, row: int | None) -> str:
    """The plain sentence of a moment."""
    if row is None:
        gap = next((gap for gap in recording.gaps if gap.start_s <= moment_s <= gap.end_s), None)
        return unbroken(gap_sentence(gap)) if gap else "Nothing was heard yet."
    return unbroken(moment_sentence(recording.moments.at(row), recording.sign))


def readings(recording: Recording, times_s: np.ndarray) -> dict[str, list[Reading]]:
    """Figure and note of each lane at each moment, without the unit."""
    values = {name: channel.at(times_s) for name, channel in recording.channels.items()}
    found: dict[str, list[Reading]] = {}
    for lane in LANES:
        if lane.name in values:
            entry = shown(lane.column, recording.units)
            note = partial(_way, recording) if lane.name == "amps" else _nothing
            found[lane.name] = [_reading(entry.value(value), entry.digits, note(value))
                                for value in values[lane.name].tolist()]
    if "cell_low" in values:
        spread_mv = (values["cell_high"] - values["cell_low"]) * 1000
        notes = [f"lowest {number(low, 3)}{NBSP}V" for low in values["cell_low"].tolist()]
        found["cells"] = [_reading(mv, 0, note)
                          for mv, note in zip(spread_mv.tolist(), notes, strict=True)]
    return found


def _reading(value: float, digits: int, note: str) -> Reading:
    return None if np.isnan(value) else (number(value, digits), note)


def _way(recording: Recording, amps: float) -> str:
    """Which way amps flow, in a word."""
    if not np.isnan(recording.moments.at_rest_a(amps)):
        return "zero error" if recording.moments.is_zero_error else "at rest"
    if abs(amps) < STILL_A:
        return "still"
    return "out" if amps < 0 else "in"


def _nothing(_: float) -> str:
    return ""


def cells_mv(recording: Recording, row: int | None) -> list[int | None] | None:
    """Millivolts of every cell in a row, ``None`` where no cell is told."""
    names = recording.telemetry.cells
    if row is None or not names:
        return None
    volts = [float(recording.telemetry[name][row]) for name in names]
    found = [None if np.isnan(v) else round(v * 1000) for v in volts]
    return found if any(v is not None for v in found) else None


def cell_sentence(cells: list[int | None] | None) -> str:
    """Which cell stands lowest and which highest, against the middle one."""
    told = [(mv, n) for n, mv in enumerate(cells or [], start=1) if mv is not None]
    if len(told) < 2:
        return "No single cells are told here."
    middle = float(np.median([mv for mv, _ in told]))
    low, lowest = min(told)
    high, highest = max(told, key=lambda cell: (cell[0], -cell[1]))
    if low == high:
        return f"All {len(told)} cells read the same, {low / 1000:.3f}{NBSP}V."
    return (f"Cell {lowest} is lowest, {_mv(middle - low)} under the middle; "
            f"cell {highest} is highest, {_mv(high - middle)} over it.")


def _mv(size: float) -> str:
    return f"{number(size, 0)}{NBSP}mV"
