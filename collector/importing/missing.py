"""Figures that are certainly no measurements, kept as missing and counted.

Certain means two things at once: the figure is outside what the quantity can be on a small
vehicle, and it is one that devices send for "no reading": the largest or smallest number of 8,
16 or 32 bits at any decimal scale, or a number beyond all measuring. Anything else that looks
odd stays: it is the analysis' to flag.
"""

from __future__ import annotations

from typing import Final

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


def without_null_island(latitude: pa.Array, longitude: pa.Array) -> tuple[pa.Array, pa.Array]:
    """Place 0, 0 is what receivers say before they have a fix (common practice, no source)."""
    unfixed = pc.and_(pc.equal(latitude, 0.0), pc.equal(longitude, 0.0)).fill_null(False)
    nothing = pa.scalar(None, pa.float64())
    return pc.if_else(unfixed, nothing, latitude), pc.if_else(unfixed, nothing, longitude)
