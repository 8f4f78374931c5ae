"""Make the sample logs anew: ``python -m tests.samples [FOLDER]``.

Everything is made from a seed, or cut from a copy of open data that lies in ``tests/data``, so
that ``tests/test_sample_logs.py`` can make it again and compare.
"""

from __future__ import annotations

import gzip
import itertools
import random
import shutil
import sys
from datetime import UTC, datetime
from pathlib import Path

from collector.clock import iso_utc
from collector.monitors import load_description
from collector.simulator import faults
from collector.simulator.live import live_day
from collector.simulator.season import build_season
from collector.simulator.typed import PARTS_LIST
from collector.simulator.voices import period_s, voice
from collector.simulator.workday import FIRST

ROOT = Path(__file__).resolve().parents[1]
SEED = 1
#: The day of the cut-out on the ramp, counted from the season's first.
DAY = 14
CAPTURE_START_MS = round(datetime(FIRST.year, FIRST.month, FIRST.day, 8, 0, tzinfo=UTC)
                         .timestamp() * 1000)
#: Capture -> how many frames of it.
CAPTURES = {"demo-text": 120, "demo-binary": 600}
#: Real drive -> how many lines of it, heading included.
CUTS = {"drive_A13": 3001, "drive_B26": 3001}


def capture(monitor: str, frames: int) -> str:
    """A raw capture of the live day: every 50th frame torn, junk before every 70th."""
    description = load_description(monitor)
    interval_s = period_s(description)
    rng = random.Random(SEED)
    lines = [f"# {description.title}; invented data; seed {SEED}"]
    for number, row in enumerate(itertools.islice(live_day(SEED, interval_s), frames), start=1):
        data = voice(description, row)
        if number % 50 == 0:
            data = faults.torn(data, rng)
        if number % 70 == 0:
            data = faults.garbage(rng) + data
        time_ms = CAPTURE_START_MS + round(number * interval_s * 1000)
        lines.append(f"{iso_utc(time_ms)} {data.hex()}")
    return "\n".join(lines) + "\n"


def cut(name: str, lines: int) -> bytes:
    """The first lines of a real drive, gzipped without a time of its own."""
    with gzip.open(ROOT / "tests" / "data" / "real_drives" / f"{name}.csv.gz", "rb") as file:
        head = b"".join(itertools.islice(file, lines))
    return gzip.compress(head, mtime=0)


def make(folder: Path) -> None:
    """Write every sample log into a folder; those of the same name are made anew."""
    folder.mkdir(parents=True, exist_ok=True)
    for monitor, frames in CAPTURES.items():
        (folder / f"{monitor}.raw").write_text(capture(monitor, frames), encoding="ascii",
                                               newline="\n")
    for name, lines in CUTS.items():
        (folder / f"{name}_first_5_min.csv.gz").write_bytes(cut(name, lines))
    for old in (folder / "flatbed" / "logs").glob("*.parquet"):
        old.unlink()
    build_season(folder / "flatbed", seed=SEED, days=slice(DAY, DAY + 1))
    shutil.copyfile(PARTS_LIST, folder / PARTS_LIST.name.removeprefix("flatbed_"))


if __name__ == "__main__":
    make(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "sample_logs")
