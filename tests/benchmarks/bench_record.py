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

from collector.logfile import read_log
from tests.benchmarks.bench_frames import stream

ROOT = Path(__file__).resolve().parents[2]
SECONDS = 15


def play(master: int, frames: list[bytes], rate_hz: float, seconds: float) -> int:
    """Send frames at a steady beat; returns how many were sent."""
    started = time.monotonic()
    sent = 0
    while time.monotonic() - started < seconds:
        os.write(master, frames[sent % len(frames)])
        sent += 1
        time.sleep(max(0.0, started + sent / rate_hz - time.monotonic()))
    return sent


def one_run(rate_hz: float) -> None:
    data = stream("demo-binary")
    size = len(data) // (len(data) // 56)
    frames = [data[at:at + size] for at in range(0, len(data), size)]
    master, slave = os.openpty()
    tty.setraw(slave)
    with tempfile.TemporaryDirectory() as folder:
        recorder = subprocess.Popen(
            [sys.executable, "-m", "packhand", "record", "demo-binary", "--port",
             os.ttyname(slave), "--logbook", folder], cwd=ROOT, stdout=subprocess.DEVNULL)
        time.sleep(2.0)
        process = psutil.Process(recorder.pid)
        before = process.cpu_times()
        sent = play(master, frames, rate_hz, SECONDS)
        after, memory = process.cpu_times(), process.memory_info().rss
        busy = after.user + after.system - before.user - before.system
        recorder.send_signal(signal.SIGINT)
        recorder.wait(timeout=30)
        log = read_log(next(Path(folder, "logs").glob("*.parquet")))
    os.close(master)
    os.close(slave)
    print(f"{rate_hz:5.0f} Hz   {100 * busy / SECONDS:5.1f} % of a core   {memory / 1e6:5.0f} MB   "
          f"{log.table.num_rows} of {sent} samples in the log")


def main() -> None:
    for rate_hz in (1, 10, 100):
        one_run(rate_hz)


if __name__ == "__main__":
    main()
