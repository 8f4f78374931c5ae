"""Frames to figures: decoding speed of the two demo monitors, in MB/s of heard bytes.

Yardstick: the bytes a monitor can send at all, 11.5 kB/s at 115200 baud.
"""

from __future__ import annotations

import math
import time

from collector.frames.decoder import Decoder
from collector.frames.encoder import encode
from collector.monitors import load_description

FRAMES = 20_000
CHUNK = 512
LINE_BYTES_PER_S = 11_520


def stream(monitor: str) -> bytes:
    """Frames of a drive: figures that change from frame to frame."""
    description = load_description(monitor)
    frames = []
    for k in range(FRAMES):
        amps = round(-40 + 35 * math.sin(k / 30), 1)
        cell = round(3.30 + amps * 0.0007, 3)
        values: dict[str, float | str] = {
            "sequence": k % 65536, "current_a": amps, "voltage_v": round(16 * cell, 2),
            "soc_pct": 90 - k // 1000, "time_left_h": 3.1, "temp_1_c": 21, "temp_2_c": 22,
            "state": "discharging", "fault": "none",
            **{f"cell_{n:02d}_v": round(cell + n / 1000, 3) for n in range(1, 17)}}
        frames.append(encode(description, values))
    return b"".join(frames)


def main() -> None:
    for monitor in ("demo-binary", "demo-text"):
        data = stream(monitor)
        decoder = Decoder(load_description(monitor))
        started = time.perf_counter()
        rows = sum(len(decoder.feed(data[at:at + CHUNK])) for at in range(0, len(data), CHUNK))
        seconds = time.perf_counter() - started
        rate = len(data) / seconds
        print(f"{monitor:<12} {rate / 1e6:6.2f} MB/s   {rows / seconds:9.0f} frames/s of "
              f"{len(data) // FRAMES} bytes, 16 cells  "
              f"{rate / LINE_BYTES_PER_S:5.0f} x a full line")
        if rows != FRAMES:
            print(f"{monitor}: only {rows} of {FRAMES} frames came back")
