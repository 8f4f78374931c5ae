"""Logs for the tests of the analysis: real drives read plainly, and invented ones."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd

from analysis.telemetry import Event, Floats, Telemetry

DATA = Path(__file__).resolve().parents[1] / "data"
#: Columns of the real drives, what they are here, and the factor between.
_REAL = {
    "Battery Current [A]": ("current_a", 1.0),
    "Battery Voltage [V]": ("voltage_v", 1.0),
    "SoC [%]": ("soc_pct", 1.0),
    "Velocity [km/h]": ("speed_m_s", 1 / 3.6),
}
REAL_DRIVES = ("A13", "B26")
START = datetime(2026, 4, 2, 8, 15, tzinfo=UTC)


def real_drive(name: str) -> Telemetry:
    """One recorded drive at 10 Hz; discharge is negative in it (data/real_drives/SOURCE.md)."""
    table = pd.read_csv(DATA / "real_drives" / f"drive_{name}.csv.gz", sep=";")
    columns = {ours: table[theirs].to_numpy(float) * factor
               for theirs, (ours, factor) in _REAL.items()}
    return Telemetry(START, table["Time [s]"].to_numpy(float), columns)


def real_integrals(name: str) -> pd.Series:
    """Plain trapezoid integrals of that drive, computed elsewhere."""
    return pd.read_csv(DATA / "real_drives" / "reference_integrals.csv",
                       index_col="drive").loc[name]


def every(telemetry: Telemetry, stride: int, first: int = 0) -> Telemetry:
    """Every ``stride``-th row."""
    return Telemetry(telemetry.start, telemetry.elapsed_s[first::stride],
                     {n: v[first::stride] for n, v in telemetry.columns.items()},
                     telemetry.events, telemetry.meta)


def log(elapsed_s: Floats, *events: Event, **columns: Floats) -> Telemetry:
    """A log of these columns."""
    return Telemetry(START, np.asarray(elapsed_s, float),
                     {n: np.asarray(v, float) for n, v in columns.items()}, events)


def pedal_drive(seconds: int = 600, seed: int = 1, ohm: float = 0.016,
                step_s: float = 1.0) -> Telemetry:
    """An invented 52 V drive of stops and starts with some regeneration; plus is charge."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(0.0, seconds, step_s)
    rows = max(1, round(8 / step_s))
    pedal = np.repeat(rng.choice([0.0, -30.0, -80.0, -120.0, 25.0], len(time_s) // rows + 1), rows)
    amps = np.round(pedal[: len(time_s)] + rng.normal(0, 1, len(time_s)), 1)
    volts = np.round(52.8 + ohm * amps + rng.normal(0, 0.005, len(time_s)), 2)
    return log(time_s, current_a=amps, voltage_v=volts)


def switched_drive(seconds: int = 600, seed: int = 1) -> Telemetry:
    """Amps at 10 Hz that jump at any moment, 6 s apart on the mean, as with a stepped control."""
    rng = np.random.default_rng(seed)
    ends_s = np.cumsum(rng.exponential(6.0, seconds))
    time_s = np.arange(0.0, seconds, 0.1)
    amps = rng.choice([0.0, -30.0, -60.0, -90.0, -120.0, 25.0], len(ends_s))
    return log(time_s, current_a=amps[np.searchsorted(ends_s, time_s)])
