"""How long the summary of a drive takes, beside a bare read and a plain pandas script.

Makes an invented 10 Hz log of 24 columns (seeded) in a temporary folder, then prints the best of
five runs of: Arrow reading the columns that the summary needs, packhand loading and summarising
the log, and a plain pandas script of the same figures without sign, resistance and intervals.
The ratio is of processor time, which other programs on the machine disturb less than the clock.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from analysis.drive.summary import COLUMNS, summarise
from analysis.load import load_telemetry
from collector.logfile import write_log
from collector.meta import LogMeta

SAMPLES = (1_000_000, 10_000_000)
RUNS = 5


def make_log(path: Path, samples: int) -> None:
    """A drive of stops and starts, 0.1 A and 10 mV steps, whole percent, 16 cells."""
    rng = np.random.default_rng(1)
    clock = np.arange(samples) * 0.1 + rng.uniform(0, 0.004, samples)
    pedal = np.repeat(rng.uniform(-100, 100, samples // 50 + 1), 50)[:samples]
    amps = np.round(pedal + rng.normal(0, 1, samples), 1)
    charge = np.cumsum(amps) * 0.1 / 3600
    volts = np.round(52.8 + 0.016 * amps + rng.normal(0, 0.005, samples), 2)
    columns: dict[str, np.ndarray] = {
        "current_a": amps, "voltage_v": volts,
        "soc_pct": np.clip(np.round(50 + charge / 1.5), 0, 100), "speed_m_s": np.round(
            np.abs(amps) / 30, 2),
    }
    columns |= {f"cell_{n:02d}_v": np.round(volts / 16 + 0.001 * n, 3) for n in range(1, 17)}
    columns |= {"temp_1_c": np.round(20 + clock / clock[-1], 1), "temp_2_c": np.full(samples, 21.0)}
    table = pa.table({
        "time": pa.array(1_775_117_700_000 + np.round(clock * 1000).astype(np.int64),
                         pa.timestamp("ms", "UTC")),
        "monotonic_s": clock, **columns, "event": pa.nulls(samples, pa.string())})
    write_log(path, LogMeta(invented=True), table)


def bare_read(path: Path) -> None:
    names = pq.read_schema(path).names
    pq.read_table(path, columns=["time", "monotonic_s", *(c for c in COLUMNS if c in names),
                                 "event"])


def plain_pandas(path: Path) -> None:
    """What a person would write in a notebook."""
    names = pq.read_schema(path).names
    frame = pd.read_parquet(path, columns=["monotonic_s", *(c for c in COLUMNS if c in names)])
    hours = frame["monotonic_s"].diff() / 3600
    hours[hours > 5 * hours.median()] = 0
    mean = frame["current_a"].rolling(2).mean()
    power = mean * frame["voltage_v"].rolling(2).mean()
    for flow in (mean, power):
        (flow.clip(lower=0) * hours).sum()
        (flow.clip(upper=0) * hours).sum()
    (frame["speed_m_s"].rolling(2).mean() * hours * 3600).sum()
    squares = frame["current_a"] ** 2
    for rows in (100, 600, 6000):
        squares.rolling(rows).mean().max()
    frame["current_a"].abs().idxmax()
    frame["voltage_v"].agg(["min", "max"])
    frame["soc_pct"].iloc[[0, -1]]


def best(run: Callable[[], object]) -> tuple[float, float]:
    """Seconds by the clock and of processor time, the least of a few runs."""
    clock, processor = [], []
    for _ in range(RUNS):
        started = time.perf_counter(), time.process_time()
        run()
        clock.append(time.perf_counter() - started[0])
        processor.append(time.process_time() - started[1])
    return min(clock), min(processor)


def main() -> None:
    for samples in SAMPLES:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "drive.parquet"
            make_log(path, samples)
            print(f"{samples:,} samples x 24 columns")
            _compare(path)


def _compare(path: Path) -> None:
    telemetry = load_telemetry(path, COLUMNS)
    runs: dict[str, Callable[[], object]] = {
        "bare Arrow read": lambda: bare_read(path),
        "packhand load": lambda: load_telemetry(path, COLUMNS),
        "packhand summarise": lambda: summarise(telemetry),
        "load and summarise": lambda: summarise(load_telemetry(path, COLUMNS)),
        "plain pandas script": lambda: plain_pandas(path),
    }
    yardstick = 0.0
    for name, run in runs.items():
        clock, processor = best(run)
        yardstick = yardstick or processor
        print(f"  {name:<20} {clock:7.3f} s, {processor:7.3f} s of processor "
              f"({processor / yardstick:.1f} x the read)")


if __name__ == "__main__":
    main()
