"""Figures that are certainly no measurements, kept as missing and counted.

Certain means two things at once: the figure is outside what the quantity can be on a small
vehicle, and it is one that devices send for "no reading": the largest or smallest number of 8,
16 or 32 bits at any decimal scale, or a number beyond all measuring. Anything else that looks
odd stays: it is the analysis' to flag.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from ..record import quantity_of

_LIMITS: Final = (255, 127, -128, 65535, 65534, 32767, -32768, 4294967295, 2147483647, -2147483648)
_SCALES: Final = (1, 10, 100, 1000, 10_000)
_NO_READINGS: Final = tuple(sorted({limit / scale for limit in _LIMITS for scale in _SCALES}
                                   | {-9999.0, 9999.0, -999.0}))
#: No battery quantity reaches this in any unit.
_BEYOND: Final = 1e9


def without_no_readings(column: str, raw: pa.Array, value: pa.Array) -> pa.Array:
    """``value`` with the figures that stand for "no reading" made missing.

    Parameters
    ----------
    column
        Log column.
    raw
        Figures as in the file.
    value
        The same in the log's unit. [unit of the quantity]
    """
    low, high = quantity_of(column).plausible
    odd = pc.or_(pc.less(value, low), pc.greater(value, high))
    if not pc.any(odd).as_py() and not pc.any(pc.greater(pc.abs(value), _BEYOND)).as_py():
        return value
    marked = pc.is_in(pc.round(raw, 4), value_set=pa.array(_NO_READINGS))
    gone = pc.or_(pc.and_(odd, marked), pc.greater(pc.abs(value), _BEYOND))
    return pc.if_else(gone, pa.scalar(None, pa.float64()), value)


def without_absent_cells(cells: dict[str, pa.Array], voltage: pa.Array) -> dict[str, pa.Array]:
    """Cells at exactly 0 V made missing where the pack's volts show that they are not at 0.

    A row of cells sent in part fills the rest with zeros. If those cells were empty the others
    would add up to the pack's volts; where that sum misses more than half of what cells like
    the others would add, the zeros are no readings. Without pack volts they stay.
    """
    values = {name: column.to_numpy(zero_copy_only=False) for name, column in cells.items()}
    rows = np.flatnonzero(np.any([column == 0 for column in values.values()], axis=0))
    if not len(rows):
        return cells
    table = np.array([column[rows] for column in values.values()])
    zeros = table == 0
    known = np.where(zeros | np.isnan(table), 0.0, table)
    usual = known.sum(axis=0) / np.maximum((known > 0).sum(axis=0), 1)
    short = voltage.to_numpy(zero_copy_only=False)[rows] - known.sum(axis=0)
    absent = zeros & (short > 0.5 * usual * zeros.sum(axis=0)) & (usual > 0)
    return {name: _missing_at(column, rows[gone])
            for (name, column), gone in zip(cells.items(), absent, strict=True)}


def _missing_at(column: pa.Array, rows: np.ndarray[tuple[int], np.dtype[np.int64]]) -> pa.Array:
    if not len(rows):
        return column
    gone = np.zeros(len(column), dtype=bool)
    gone[rows] = True
    return pc.if_else(pa.array(gone), pa.scalar(None, pa.float64()), column)


def without_counter_zeros(distance: pa.Array) -> pa.Array:
    """Zeros of a counter that goes on above its last reading: it was not read, not set back."""
    read = pc.if_else(pc.equal(distance, 0.0), pa.scalar(None, pa.float64()), distance)
    before, after = pc.fill_null_forward(read), pc.fill_null_backward(read)
    unread = pc.and_(pc.equal(distance, 0.0), pc.greater_equal(after, before)).fill_null(False)
    return pc.if_else(unread, pa.scalar(None, pa.float64()), distance)


def without_null_island(latitude: pa.Array, longitude: pa.Array) -> tuple[pa.Array, pa.Array]:
    """Place 0, 0 is what receivers say before they have a fix (common practice, no source)."""
    unfixed = pc.and_(pc.equal(latitude, 0.0), pc.equal(longitude, 0.0)).fill_null(False)
    nothing = pa.scalar(None, pa.float64())
    return pc.if_else(unfixed, nothing, latitude), pc.if_else(unfixed, nothing, longitude)
