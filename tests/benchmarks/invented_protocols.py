"""Invented monitors drawn at random, for the learner's benchmark; none copies a known layout.

Each draw fixes framing, check, decoys and how each figure is coded, plays an invented drive
through it, and lets a person read the display five times in three states: rounded, up to three
seconds late. ``Invented.truth`` is what a learner should find.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from collector.learner import Reading
from collector.rawfile import Chunk
from tests.benchmarks.invented_binary import binary_monitor, mixed_monitor
from tests.benchmarks.invented_drives import Drive, Trace, drive
from tests.benchmarks.invented_figures import Truth
from tests.benchmarks.invented_text import text_monitor

START_MS = 1_775_116_800_000


@dataclass(frozen=True)
class Invented:
    """One monitor, what it sent, and what a person read off its display."""

    seed: int
    title: str
    chunks: list[Chunk]
    readings: list[Reading]
    truth: dict[str, Truth]
    #: Volts of each cell at each frame, where they are told. [frames, cells]
    cells_v: Trace | None
    #: When each frame as it should be cut was whole. [s]
    times_s: Trace


def invent(seed: int) -> Invented:
    """The monitor of this seed."""
    rng = np.random.default_rng(seed)
    rate_hz = float(rng.choice([1, 1, 2, 4, 5, 10]))
    trip = drive(rng, rate_hz)
    display_sign = 1 if rng.random() < 0.75 else -1
    pick = rng.random()
    maker = (mixed_monitor if pick > 0.8 else text_monitor if pick < 0.2 else binary_monitor)
    sent = maker(rng, trip, display_sign)
    chunks = _as_heard(rng, sent.wire, sent.times_s)
    own_c = _own_sensor(np.random.default_rng([seed, 1]), trip)
    readings = _typed(rng, trip, sent.truth, sent.times_s, own_c)
    return Invented(seed, f"{sent.title}, {rate_hz:g} Hz", chunks, readings, sent.truth,
                    sent.cells_v, sent.times_s)


def _as_heard(rng: np.random.Generator, wire: list[bytes], times_s: Trace) -> list[Chunk]:
    """Frames in one, two or three pieces, the first torn, now and then junk or a lost piece."""
    pieces, junk = int(rng.choice([1, 1, 2, 3])), rng.random() < 0.3
    chunks = []
    for n, (whole, at_s) in enumerate(zip(wire, times_s, strict=True)):
        frame = whole
        if n == 0:
            frame = whole[len(whole) // 2:]
        elif junk and rng.random() < 0.004:
            frame = rng.integers(0, 256, int(rng.integers(1, 9)), dtype=np.uint8).tobytes() + whole
        elif junk and rng.random() < 0.004:
            frame = whole[:int(rng.integers(1, len(whole)))]
        cuts = np.linspace(0, len(frame), pieces + 1).astype(int)
        for k in range(pieces):
            late_s = at_s + 0.012 * k + rng.uniform(0, 0.004)
            data = frame[cuts[k]:cuts[k + 1]]
            if data:
                chunks.append(Chunk(START_MS + round(1000 * late_s), late_s, data))
    return chunks


def _own_sensor(rng: np.random.Generator, trip: Drive) -> Trace:
    """What a display with a sensor of its own shows where the monitor sends no temperature."""
    heat = np.cumsum(trip.current_a ** 2)
    own_c: Trace = (rng.uniform(0, 35) + rng.uniform(-2, 12) * heat / heat[-1]
                    + rng.normal(0, 0.05, len(heat)))
    return own_c


def _typed(rng: np.random.Generator, trip: Drive, truth: dict[str, Truth],
           times_s: Trace, own_c: Trace) -> list[Reading]:
    """Five readings in three states, each figure as displayed, late by up to three seconds.

    ``own_c`` is typed as temperature where none is sent.
    """
    states = [0, 1, 3 if (trip.state == 3).any() else 2]
    states += [int(k) for k in rng.choice(states, 2)]
    decimals = {"voltage_v": 1, "current_a": int(rng.choice([1, 1, 0])), "soc_pct": 0,
                "temp_1_c": int(rng.choice([0, 0, 1]))}
    lag_s = rng.uniform(0, 2.4)
    moments = []
    for state in states:
        inside = np.flatnonzero((trip.state == state) & (trip.time_s > 8))
        moments.append(float(trip.time_s[rng.choice(inside)]))
    readings = []
    for at_s in sorted(moments):
        shown = np.searchsorted(times_s, at_s - lag_s - rng.uniform(0, 0.5), "right") - 1
        values = {name: f"{truth[name].values[shown]:.{places}f}"
                  for name, places in decimals.items() if name in truth}
        if "temp_1_c" not in truth:
            looked = np.searchsorted(trip.time_s, at_s - lag_s, "right") - 1
            values["temp_1_c"] = f"{own_c[looked]:.{decimals['temp_1_c']}f}"
        readings.append(Reading.from_texts(START_MS + round(1000 * at_s), values))
    return readings
