"""Cost of recording: CPU and memory of ``packhand record`` on real pseudo-terminals.

Yardstick: 15 % of a core and 300 MB on a small single-board computer (chosen here).

Half an hour of ten samples a second from each monitor is played five times faster. A frame then
comes every 20 ms, longer than the recorder gathers what belongs together (10 ms), so that each is
read, checked, decoded and written by itself as at its true pace. What is faster is only the
waiting: its cost is measured on a silent line and added once. That this holds is seen by a stretch
at the true pace beside it.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import time
import tty
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import psutil
import pyarrow.parquet as pq

from tests.benchmarks.bench_frames import stream

ROOT = Path(__file__).resolve().parents[2]
RATE_HZ = 10.0
SPEED = 5.0
HALF_AN_HOUR_S = 1800.0
TRUE_PACE_S = 30.0


@dataclass(frozen=True)
class Cost:
    """What a recorder took over a stretch."""

    cpu_s: float
    wall_s: float
    #: Memory at the stretch's beginning and end, and the most of the whole run. [MB]
    begin_mb: float
    end_mb: float
    peak_mb: float
    #: From the order to stop to the end: the log is sealed. [s]
    sealing_s: float
    rows: int


@contextmanager
def ports(count: int) -> Iterator[tuple[list[int], list[str]]]:
    """Open pseudo-terminals: their masters, and their names."""
    pairs = [os.openpty() for _ in range(count)]
    for _, slave in pairs:
        tty.setraw(slave)
    yield [master for master, _ in pairs], [os.ttyname(slave) for _, slave in pairs]
    for end in (end for pair in pairs for end in pair):
        os.close(end)


def play(masters: list[int], frames: list[bytes], rate_hz: float, seconds: float) -> int:
    """Send frames to every port at a steady beat; returns how many were sent to each."""
    started = time.monotonic()
    sent = 0
    while time.monotonic() - started < seconds:
        for master in masters if frames else []:
            os.write(master, frames[sent % len(frames)])
        sent += 1
        time.sleep(max(0.0, started + sent / rate_hz - time.monotonic()))
    return sent


def peak_mb(pid: int) -> float:
    """The most memory that a process had; Linux alone tells it."""
    for line in Path(f"/proc/{pid}/status").read_text(encoding="ascii").splitlines():
        if line.startswith("VmHWM:"):
            return int(line.split()[1]) / 1e3
    return float("nan")


def cost_of(monitors: int, frames: list[bytes], rate_hz: float, seconds: float) -> Cost:
    with tempfile.TemporaryDirectory() as folder, ports(monitors) as (masters, names):
        recorder = subprocess.Popen(
            [sys.executable, "-m", "packhand", "record",
             *(f"demo-binary@{name}" for name in names), "--logbook", folder],
            cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(3.0 + monitors)
        process = psutil.Process(recorder.pid)
        before, begin = process.cpu_times(), process.memory_info().rss
        started = time.monotonic()
        play(masters, frames, rate_hz, seconds)
        wall_s = time.monotonic() - started
        after, end = process.cpu_times(), process.memory_info().rss
        recorder.send_signal(signal.SIGINT)
        stopped, most = time.monotonic(), 0.0
        while recorder.poll() is None:
            most = max(most, peak_mb(recorder.pid)) if process.status() != "zombie" else most
            time.sleep(0.05)
        sealing_s = time.monotonic() - stopped
        rows = sum(pq.read_metadata(path).num_rows
                   for path in Path(folder, "logs").glob("*.parquet"))
    cpu_s = after.user + after.system - before.user - before.system
    return Cost(cpu_s, wall_s, begin / 1e6, end / 1e6, most, sealing_s, rows)


def report(monitors: int, frames: list[bytes]) -> None:
    idle = cost_of(monitors, [], RATE_HZ, TRUE_PACE_S)
    true = cost_of(monitors, frames, RATE_HZ, TRUE_PACE_S)
    fast = cost_of(monitors, frames, RATE_HZ * SPEED, HALF_AN_HOUR_S / SPEED)
    idle_pct = 100 * idle.cpu_s / idle.wall_s
    each_us = 1e6 * (fast.cpu_s - idle.cpu_s / idle.wall_s * fast.wall_s) / max(fast.rows, 1)
    print(f"{monitors} x {RATE_HZ:.0f} Hz, half an hour: "
          f"{idle_pct + each_us * monitors * RATE_HZ / 1e4:4.1f} % of a core "
          f"({idle_pct:.1f} % on a silent line, {each_us:.0f} us a sample); at the true pace for "
          f"{true.wall_s:.0f} s {100 * true.cpu_s / true.wall_s:4.1f} %")
    print(f"    memory {fast.begin_mb:.0f} MB, after half an hour {fast.end_mb:.0f} MB, while "
          f"sealing {fast.peak_mb:.0f} MB; {fast.rows} rows of "
          f"{monitors * HALF_AN_HOUR_S * RATE_HZ:.0f}, closed and sealed in {fast.sealing_s:.1f} s",
          flush=True)


def main() -> None:
    data = stream("demo-binary")
    size = len(data) // (len(data) // 56)
    frames = [data[at:at + size] for at in range(0, len(data), size)]
    for monitors in (1, 4):
        report(monitors, frames)


if __name__ == "__main__":
    main()
