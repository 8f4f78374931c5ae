"""Seeded logs for the dashboard's tests: 16 cells, known spikes, a gap, marks."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pyarrow as pa

from collector.journal import JournalWriter, log_schema
from collector.logbook import Logbook
from collector.logfile import write_log
from collector.meta import LogMeta
from collector.record import Sample

START = datetime(2026, 4, 2, 8, 15, tzinfo=UTC)
CELLS = 16
COLUMNS = ("current_a", "voltage_v", "soc_pct", *(f"cell_{n:02d}_v" for n in range(1, CELLS + 1)),
           "temp_1_c", "speed_m_s")
META = LogMeta(pack="main", vehicle="flatbed", kind="drive", time_zone="Europe/Lisbon",
               invented=True)


def drive_values(samples: int, rate_hz: float, seed: int = 1) -> dict[str, np.ndarray]:
    """A stop-and-go drive: minus is out of the pack, cell 14 sits low, cell 6 high."""
    generator = np.random.default_rng(seed)
    time_s = np.arange(samples) / rate_hz
    legs = np.repeat(generator.choice([0.0, -18.0, -42.0, -65.0, -95.0, 22.0],
                                      p=[.25, .2, .25, .15, .05, .1],
                                      size=samples // max(int(9 * rate_hz), 1) + 2),
                     max(int(9 * rate_hz), 1))[:samples]
    settle = np.exp(-np.arange(int(6 * rate_hz) + 1) / (1.2 * rate_hz))
    amps = np.convolve(legs, settle / settle.sum())[:samples]
    amps = np.round(amps + generator.normal(0, .35, samples) * (np.abs(amps) > 1), 1)
    used_ah = np.cumsum(-amps) / rate_hz / 3600
    rest_v = 3.345 - 0.0012 * (used_ah % 84)
    cells = rest_v[:, None] + amps[:, None] * 0.00062 * generator.normal(1, .04, CELLS)
    cells += generator.normal(0, .0018, CELLS) + generator.normal(0, .0005, (samples, CELLS))
    cells[:, 13] += amps * 0.00022 - 0.004
    cells[:, 5] += 0.006
    values = {"current_a": amps, "voltage_v": np.round(cells.sum(axis=1) + amps * 0.006, 2),
              "soc_pct": np.floor(91 - np.maximum(used_ah, 0) / 1.05 % 80)}
    values |= {f"cell_{n + 1:02d}_v": np.round(cells[:, n], 3) for n in range(CELLS)}
    warming = np.cumsum(amps**2) / rate_hz * 1.2e-6
    values["temp_1_c"] = np.round(17.5 + warming + 0.3 * np.sin(time_s / 400), 1)
    speed = np.convolve(np.clip(-legs, 0, 70) / 18, settle / settle.sum())[:samples]
    values["speed_m_s"] = np.round(speed + .04, 2)
    return values


def drive_table(samples: int = 3000, rate_hz: float = 1.0, seed: int = 1, *,
                start: datetime = START, gap_s: float = 0.0,
                marks: tuple[tuple[int, str], ...] = ()) -> pa.Table:
    """A drive in the log's form; ``gap_s`` of silence in its middle, marks before given rows."""
    values = drive_values(samples, rate_hz, seed)
    elapsed_s = np.arange(samples) / rate_hz
    events = {row: f"mark: {words}" for row, words in marks}
    if gap_s:
        elapsed_s[samples // 2:] += gap_s
        events[samples // 2] = "link lost: the cable was pulled"
    rows = np.insert(np.arange(samples), sorted(events), -1)
    times = np.insert(elapsed_s, sorted(events), [elapsed_s[r] - 0.4 / rate_hz
                                                  for r in sorted(events)])
    schema = log_schema(COLUMNS)
    origin = round(start.timestamp() * 1000)
    columns: dict[str, object] = {
        "time": pa.array(np.round(times * 1000).astype(np.int64) + origin).cast(
            schema.field("time").type),
        "monotonic_s": times + 50.0}
    for name in COLUMNS:
        column = np.insert(values[name], sorted(events), np.nan)
        columns[name] = pa.array(column, mask=rows < 0)
    said = iter([events[r] for r in sorted(events)])
    columns["event"] = pa.array([next(said) if row < 0 else None for row in rows], pa.string())
    return pa.table(columns, schema=schema)


def make_logbook(root: Path, drives: int = 3, samples: int = 1500) -> Logbook:
    """A logbook of a few drives on consecutive days; the newest has a gap and two marks."""
    book = Logbook.create(root)
    (root / "logbook.toml").write_text('[[pack]]\nname = "main"\nrated_ah = 105\n')
    for day in range(drives):
        start = START + timedelta(days=day, minutes=7 * day)
        is_full = day == drives - 1 and samples > 900
        table = drive_table(samples, seed=day + 1, start=start, gap_s=150.0 if is_full else 0.0,
                            marks=((400, "top of the ramp"), (900, "<b>gate</b>")) if is_full
                            else ())
        write_log(book.log_path(book.stem_for(start)), META, table)
    return book


def newest_stem(book: Logbook) -> str:
    return book.logs()[-1].stem


def start_journal(book: Logbook, stem: str) -> JournalWriter:
    """A journal to write live samples to; hold the log while writing."""
    return JournalWriter.create(book.log_path(stem, ".csv"), META, COLUMNS)


def sample(values: dict[str, np.ndarray], row: int, time_ms: int, monotonic_s: float) -> Sample:
    """One row as the recorder writes it."""
    return Sample(time_ms, monotonic_s, {name: float(v[row]) for name, v in values.items()})
