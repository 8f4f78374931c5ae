"""Invented drives for the learner's benchmark: a pack that is parked, driven and charged.

Only as true as a learner needs it: volts answer amps, cells add up to the pack, percent follows
the counted charge. All figures are drawn from a seed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Trace = NDArray[np.float64]


@dataclass(frozen=True)
class Drive:
    """What is true at each frame; amps negative out of the pack."""

    time_s: Trace
    current_a: Trace
    voltage_v: Trace
    soc_pct: Trace
    charge_left_ah: Trace
    cells_v: Trace
    temp_c: Trace
    #: 0 parked, 1 driven, 2 driven hard, 3 charged.
    state: NDArray[np.int64]


def drive(rng: np.random.Generator, rate_hz: float) -> Drive:
    """Eight to twenty minutes, with a charge in two of three."""
    state = _states(rng, rate_hz)
    current_a = _amps(rng, state, rate_hz)
    capacity_ah = float(rng.choice([40, 60, 72, 100, 105, 150, 210]))
    charge_ah = np.cumsum(current_a) / rate_hz / 3600
    start = rng.uniform(0.35, 0.97 - max(0.0, charge_ah.max() / capacity_ah))
    soc = start + charge_ah / capacity_ah
    cells_v = _cells(rng, soc, current_a, rate_hz)
    voltage_v = cells_v.sum(axis=1) + 0.003 * current_a
    return Drive(np.arange(len(state)) / rate_hz, current_a, voltage_v, 100 * soc,
                 capacity_ah * soc, cells_v, _temperatures(rng, current_a, rate_hz), state)


def _states(rng: np.random.Generator, rate_hz: float) -> NDArray[np.int64]:
    kinds = [0, 1, 2, 1, 2, 0, 1, 0]
    if rng.random() < 0.65:
        kinds += [3, 0]
    seconds = {0: (30, 100), 1: (60, 240), 2: (30, 120), 3: (120, 400)}
    return np.concatenate([
        np.full(int(rng.uniform(*seconds[kind]) * rate_hz), kind) for kind in kinds])


def _amps(rng: np.random.Generator, state: NDArray[np.int64], rate_hz: float) -> Trace:
    level = {0: -rng.uniform(0.3, 2.0), 1: -rng.uniform(18, 45), 2: -rng.uniform(50, 130),
             3: rng.uniform(9, 40)}
    swing = {0: 0.05, 1: 0.35, 2: 0.3, 3: 0.01}
    wanted = np.array([level[k] for k in range(4)])[state]
    size = np.array([abs(level[k]) * swing[k] for k in range(4)])[state]
    # Hills, stops and the pedal: a slow and a quick wander around the state's level.
    slow, quick = _wander(rng, len(state), 25 * rate_hz), _wander(rng, len(state), 2.5 * rate_hz)
    current_a = wanted + size * (1.2 * slow + 0.6 * quick)
    # Braking pays back now and then.
    if rng.random() < 0.4:
        current_a = np.where((state == 1) & (slow > 1.5), abs(level[1]) * 0.3, current_a)
    return _smoothed(current_a, 0.6 * rate_hz) + rng.normal(0, 0.06, len(state))


def _wander(rng: np.random.Generator, count: int, length: float) -> Trace:
    walk = _smoothed(rng.normal(0, 1, count + 200), length)[200:]
    return (walk - walk.mean()) / max(walk.std(), 1e-9)


def _smoothed(values: Trace, length: float) -> Trace:
    """A one-pole filter with this many samples of memory."""
    keep = np.exp(-1 / max(length, 0.2))
    out = np.empty_like(values)
    level = values[0]
    for n, value in enumerate(values):
        level = keep * level + (1 - keep) * value
        out[n] = level
    return out


def _cells(rng: np.random.Generator, soc: Trace, current_a: Trace, rate_hz: float) -> Trace:
    count = int(rng.choice([8, 12, 15, 16, 20, 24]))
    shifted = soc[:, None] + rng.normal(0, 0.01, count)
    if rng.random() < 0.7:  # flat, as iron phosphate is
        rest = 3.22 + 0.11 * shifted - 0.25 * np.exp(-18 * shifted) \
            + 0.25 * np.exp(-25 * (1.02 - shifted))
    else:
        rest = 3.35 + 0.75 * shifted
    slow = _smoothed(current_a, 30 * rate_hz)[:, None]
    ohm = rng.uniform(0.0006, 0.0018) * rng.normal(1, 0.05, count)
    return rest + ohm * (current_a[:, None] + 0.5 * slow) + rng.normal(0, 0.0004, shifted.shape)


def _temperatures(rng: np.random.Generator, current_a: Trace, rate_hz: float) -> Trace:
    heat = np.cumsum(current_a ** 2) / rate_hz * rng.uniform(0.5, 2.0) * 1e-6
    return rng.uniform(5, 28) + heat[:, None] + rng.normal(0, 0.03, (len(heat), 2)) + [0.0, 1.3]
