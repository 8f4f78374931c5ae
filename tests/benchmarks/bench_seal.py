"""Sealing a long log: time and memory by rows.

Yardstick: 200 MB for five million rows, a quarter of a year of one sample a second while awake
(chosen here).
"""

from __future__ import annotations

import tempfile
import time
from multiprocessing import get_context
from pathlib import Path

from collector.journal import JournalWriter, encode_row
from collector.logfile import finish_log
from collector.meta import LogMeta
from collector.record import Sample

COLUMNS = ("current_a", "voltage_v", "soc_pct", "temp_1_c", "sequence")


def journal_of(folder: Path, rows: int) -> Path:
    path = folder / "2026-04-02T08-15-00Z.csv"
    JournalWriter.create(path, LogMeta(pack="p"), COLUMNS).close()
    with path.open("ab") as file:
        for n in range(rows):
            file.write(encode_row(Sample(1_775_117_700_000 + 100 * n, n / 10, {
                "current_a": -(n % 400) / 10, "voltage_v": 52 + n % 97 / 100, "soc_pct": 90.0,
                "temp_1_c": 20.0, "sequence": n % 65_536}), COLUMNS))
    return path


def seal(path: Path) -> None:
    """In a process of its own, whose memory nobody else has used."""
    import resource

    size = path.stat().st_size
    started = time.perf_counter()
    sealed = finish_log(path)
    seconds = time.perf_counter() - started
    print(f"    {seconds:5.1f} s   most memory "
          f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3:5.0f} MB   "
          f"{size / 1e6:.0f} MB of text to {sealed.stat().st_size / 1e6:.1f} MB", flush=True)


def main() -> None:
    for rows in (10_000, 1_000_000, 5_000_000):
        with tempfile.TemporaryDirectory() as folder:
            path = journal_of(Path(folder), rows)
            print(f"{rows:9} rows", flush=True)
            process = get_context("spawn").Process(target=seal, args=(path,))
            process.start()
            process.join()


if __name__ == "__main__":
    main()
