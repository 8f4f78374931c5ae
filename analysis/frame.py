"""Telemetry as a pandas DataFrame and back, for notebooks.

>>> from pathlib import Path
>>> from analysis.load import load_telemetry
>>> frame = frame_of(load_telemetry(Path("sample_logs/flatbed/logs/2026-04-16T07-39-00Z.parquet")))
>>> frame["current_a"].resample("1min").mean()  # doctest: +SKIP
"""

from __future__ import annotations

from datetime import UTC
from typing import TYPE_CHECKING

import numpy as np

from collector.record import quantity_of

from .telemetry import Telemetry

if TYPE_CHECKING:
    import pandas as pd


def frame_of(telemetry: Telemetry) -> pd.DataFrame:
    """One row a sample, indexed by UTC time (``DatetimeIndex``), one float column a quantity.

    Amps carry the sign that the telemetry has; missing is NaN. The columns are copies.
    """
    import pandas as pd

    start = pd.Timestamp(telemetry.start).tz_convert("UTC")
    index = start + pd.to_timedelta(telemetry.elapsed_s, unit="s")
    return pd.DataFrame({name: np.array(values) for name, values in telemetry.columns.items()},
                        index=pd.DatetimeIndex(index, name="time"))


def telemetry_of(frame: pd.DataFrame) -> Telemetry:
    """Telemetry from a frame like ``frame_of`` gives: strictly increasing times, named columns.

    Raises
    ------
    ValueError
        If the index is not strictly increasing times, or the frame is empty. A time without a
        zone is UTC.
    KeyError
        If a column is not in ``collector.record.QUANTITIES``.
    """
    import pandas as pd

    index = frame.index
    if not isinstance(index, pd.DatetimeIndex) or not len(index):
        raise ValueError("the frame's index must be times, at least one")
    if not (index.is_monotonic_increasing and index.is_unique):
        raise ValueError("the frame's times must increase strictly; sort and drop duplicates first")
    times = index.tz_localize(UTC) if index.tz is None else index.tz_convert(UTC)
    for name in frame.columns:
        quantity_of(name)
    elapsed_s = np.asarray((times - times[0]).total_seconds(), dtype=np.float64)
    columns = {str(name): frame[name].to_numpy(np.float64, copy=True) for name in frame.columns}
    return Telemetry(times[0].to_pydatetime(), elapsed_s, columns)
