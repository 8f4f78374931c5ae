"""Import: rows per second of a foreign table, beside pandas' fastest reader of the same file.

Yardstick: ``pandas.read_csv(engine="pyarrow")``, which understands nothing of what it reads; and
for text times the same with the time column parsed.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

from collector.importing import ImportOptions, read_foreign

ROWS = 1_000_000
#: Of a workbook, whose cells are unpacked one by one, and of a track.
SHEET_ROWS = 20_000
TRACK_ROWS = 100_000
CELLS = 16


def drive(rows: int) -> pd.DataFrame:
    """An invented drive at 10 Hz as a logger would write it: amps, volts, percent, 16 cells."""
    rng = np.random.default_rng(5)
    amps = np.round(-30 + 25 * np.sin(np.arange(rows) / 300) + rng.normal(0, 1, rows), 1)
    frame = {"Time [s]": np.round(np.arange(rows) / 10, 1), "Battery Current [A]": amps,
             "Battery Voltage [V]": np.round(52.8 + amps * 0.016, 2),
             "SoC [%]": np.round(np.linspace(100, 20, rows), 0), "Speed [km/h]": 14.2}
    frame |= {f"Cell {n} [mV]": np.rint(3300 + amps + n) for n in range(1, CELLS + 1)}
    return pd.DataFrame(frame)


def gpx(rows: int) -> str:
    """An invented track at 1 Hz to the north."""
    start = pd.Timestamp("2026-04-02 08:15")
    points = "\n".join(
        f'<trkpt lat="{59 + n * 4e-5:.7f}" lon="10"><ele>31.5</ele>'
        f"<time>{(start + pd.Timedelta(seconds=n)).isoformat()}Z</time></trkpt>"
        for n in range(rows))
    return f'<gpx version="1.1"><trk><trkseg>{points}</trkseg></trk></gpx>'


def seconds(work: Callable[[], object]) -> float:
    """Best of three."""
    times = []
    for _ in range(3):
        started = time.perf_counter()
        work()
        times.append(time.perf_counter() - started)
    return min(times)


def report(name: str, path: Path, yardstick: Callable[[], object], rows: int = ROWS) -> None:
    ours, theirs = seconds(lambda: read_foreign(path, ImportOptions())), seconds(yardstick)
    print(f"{name:<34} {path.stat().st_size / 1e6:6.1f} MB  import {rows / ours:10,.0f} rows/s "
          f"({ours:5.2f} s)  pandas {rows / theirs:10,.0f} rows/s ({theirs:5.2f} s)  "
          f"{ours / theirs:4.1f} x")


def main() -> None:
    frame = drive(ROWS)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "point.csv")
        frame.to_csv(path, index=False)
        report("commas, decimal point, 21 columns", path,
               lambda: pd.read_csv(path, engine="pyarrow"))
        comma = Path(folder, "comma.csv")
        frame.to_csv(comma, index=False, sep=";", decimal=",")
        report("semicolons, decimal comma", comma,
               lambda: pd.read_csv(comma, engine="pyarrow", sep=";", decimal=","))
        moments = pd.Timestamp("2026-04-02 08:15") + pd.to_timedelta(frame.pop("Time [s]"), "s")
        for name, form in (("ISO times", "%Y-%m-%d %H:%M:%S.%f"),
                           ("day-first times", "%d/%m/%Y %H:%M:%S.%f")):
            dated = Path(folder, f"{name.split()[0]}.csv")
            frame.assign(Time=moments.dt.strftime(form)).to_csv(dated, index=False)
            report(name, dated, lambda path=dated, form=form: pd.read_csv(
                path, engine="pyarrow").assign(
                    Time=lambda f: pd.to_datetime(f["Time"].astype(str), format=form)
                    if form.startswith("%d") else f["Time"]))
        parquet = Path(folder, "t.parquet")
        frame.assign(time=moments).to_parquet(parquet)
        report("Parquet", parquet, lambda: pd.read_parquet(parquet))
        sheet = Path(folder, "t.xlsx")
        frame[:SHEET_ROWS].assign(time=moments[:SHEET_ROWS]).to_excel(sheet, index=False)
        report("workbook", sheet, lambda: pd.read_excel(sheet), SHEET_ROWS)
        track = Path(folder, "t.gpx")
        track.write_text(gpx(TRACK_ROWS))
        report("GPX", track, lambda: pd.read_xml(track, xpath=".//trkpt", parser="etree"),
               TRACK_ROWS)


if __name__ == "__main__":
    main()
