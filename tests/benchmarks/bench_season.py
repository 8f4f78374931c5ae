"""How long a season takes, beside a bare read of its columns: ``bench_season [LOGS ROWS]``.

Makes an invented logbook of 24 columns (seeded) in a temporary folder: by default 100 logs of
100,000 rows. Prints Arrow reading the same columns of all logs, ``packhand season`` with nothing
kept, the second call, the one after a new log, and how far the memory rose. Times are of the
processor, which other programs on the machine disturb less than the clock; of the bare read and of
the season with nothing kept, by turns, the least of three. Nothing is asserted: figures depend on
the machine.
"""

from __future__ import annotations

import resource
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from analysis.digest import HEAD_COLUMNS, PARTS
from analysis.load_logbook import CACHE_FOLDER, of_pack, read_digests
from analysis.season.summary import PARTS_NEEDED, find_season
from collector.logfile import write_log
from collector.meta import LogMeta

NEEDED = {"time", "monotonic_s", "event", *HEAD_COLUMNS,
          *(column for name in PARTS_NEEDED for column in PARTS[name].columns)}


def make_log(root: Path, number: int, rows: int) -> Path:
    """One drive of stops and starts, 0.1 A and 10 mV steps, whole percent, 16 cells."""
    rng = np.random.default_rng(number)
    clock = np.arange(rows) + rng.uniform(0, 0.04, rows)
    pedal = np.repeat(rng.choice([0.0, 0.0, -30.0, -60.0, 15.0], rows // 40 + 1), 40)[:rows]
    amps = np.round(pedal + rng.normal(0, 0.5, rows) * (pedal != 0), 1)
    charge = np.cumsum(amps) / 3600
    volts = np.round(52.8 + 0.016 * amps + rng.normal(0, 0.005, rows), 2)
    columns = {"current_a": amps, "voltage_v": volts,
               "soc_pct": np.clip(np.round(90 + charge / 1.05), 0, 100)}
    columns |= {f"cell_{n:02d}_v": np.round(volts / 16 + 0.001 * n, 3) for n in range(1, 17)}
    columns |= {"temp_1_c": np.round(20 + 5 * np.sin(clock / 9000)),
                "temp_2_c": np.full(rows, 21.0)}
    start_ms = 1_775_117_700_000 + number * 86_400_000
    table = pa.table({
        "time": pa.array(start_ms + np.round(clock * 1000).astype(np.int64),
                         pa.timestamp("ms", "UTC")),
        "monotonic_s": clock, **columns, "event": pa.nulls(rows, pa.string())})
    path = root / "logs" / f"log-{number:05d}.parquet"
    return write_log(path, LogMeta(pack="main", invented=True), table)


def bare_read(root: Path) -> None:
    for path in sorted((root / "logs").glob("*.parquet")):
        names = pq.read_schema(path).names
        pq.read_table(path, columns=[name for name in names if name in NEEDED])


def season(root: Path) -> None:
    find_season(of_pack(read_digests(root, PARTS_NEEDED), None, str(root)), rated_ah=105)


def fresh_season(root: Path) -> None:
    shutil.rmtree(root / CACHE_FOLDER, ignore_errors=True)
    season(root)


def seconds(run: Callable[[Path], None], root: Path) -> float:
    start = time.process_time()
    run(root)
    return time.process_time() - start


def main() -> None:
    words = [int(word) for word in sys.argv[1:] if word.isdigit()]
    logs, rows = (words[0], words[1]) if len(words) == 2 else (100, 100_000)
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        (root / "logs").mkdir()
        for number in range(logs):
            make_log(root, number, rows)
        bare_read(root)
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        turns = [(seconds(bare_read, root), seconds(fresh_season, root)) for _ in range(3)]
        bare, first = map(min, zip(*turns, strict=True))
        after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        second = seconds(season, root)
        make_log(root, logs, rows)
        one_more = seconds(season, root)
    print(f"{logs} logs of {rows:,} rows, {logs * rows:,} in all: Arrow read {bare:.2f} s, "
          f"season {first:.2f} s ({first / bare:.1f} x), again {second:.3f} s, "
          f"with one more log {one_more:.3f} s; memory {before:.0f} to {after:.0f} MB")


if __name__ == "__main__":
    main()
