"""Cost of recording: CPU and memory of ``packhand record`` on a real pseudo-terminal.

Yardstick: 15 % of a core and 300 MB on a small single-board computer (chosen here).
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import time
import tty
from pathlib import Path

import psutil
import pyarrow.parquet as pq

from tests.benchmarks.bench_frames import stream

ROOT = Path(__file__).resolve().parents[2]
SECONDS = 15


def play(masters: list[int], frames: list[bytes], rate_hz: float, seconds: float) -> int:
    """Send frames to every port at a steady beat; returns how many were sent to each."""
    started = time.monotonic()
    sent = 0
    while time.monotonic() - started < seconds:
        for master in masters:
            os.write(master, frames[sent % len(frames)])
        sent += 1
        time.sleep(max(0.0, started + sent / rate_hz - time.monotonic()))
    return sent


def one_run(rate_hz: float, monitors: int = 1) -> None:
    data = stream("demo-binary")
    size = len(data) // (len(data) // 56)
    frames = [data[at:at + size] for at in range(0, len(data), size)]
    ports = [os.openpty() for _ in range(monitors)]
    for _, slave in ports:
        tty.setraw(slave)
    with tempfile.TemporaryDirectory() as folder:
        recorder = subprocess.Popen(
            [sys.executable, "-m", "packhand", "record",
             *(f"demo-binary@{os.ttyname(slave)}" for _, slave in ports), "--logbook", folder],
            cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(2.0 + monitors)
        process = psutil.Process(recorder.pid)
        before = process.cpu_times()
        sent = play([master for master, _ in ports], frames, rate_hz, SECONDS)
        after, memory = process.cpu_times(), process.memory_info().rss
        busy = after.user + after.system - before.user - before.system
        recorder.send_signal(signal.SIGINT)
        recorder.wait(timeout=30)
        rows = [pq.read_metadata(path).num_rows for path in Path(folder, "logs").glob("*.parquet")]
    for end in (end for port in ports for end in port):
        os.close(end)
    print(f"{monitors} x {rate_hz:3.0f} Hz   {100 * busy / SECONDS:5.1f} % of a core   "
          f"{memory / 1e6:5.0f} MB   "
          f"{sum(rows)} rows for {monitors * sent} samples, {len(rows)} logs")


def main() -> None:
    for rate_hz in (1, 10, 100):
        one_run(rate_hz)
    one_run(10, monitors=4)


if __name__ == "__main__":
    main()
