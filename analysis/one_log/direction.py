"""Which way unsigned amps flow, read from the volts.

Some monitors tell only how many amps flow. Between two samples the volts change by about
``-R (s m - s' m')`` with ``m`` the reading and ``s`` its unknown direction; the most likely run of
directions is found by dynamic programming over a two-state chain (L. R. Rabiner, *Proceedings of
the IEEE* 77 (1989) 257, section III B; from memory).
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..telemetry import Floats, Telemetry
from ..timebase import Observed, Rows, observe
from .charge import smallest_step

Flags = NDArray[np.bool_]

#: The amps are taken once a second: between closer samples the volts move less than they are
#: rounded. [s]
CHAIN_STEP_S: Final = 1.0
#: What a change of direction costs. [nats]
FLIP_COST: Final = 2.0
#: A few amps whose turning would move the volts by less than a display step: a parked vehicle
#: draws them, it does not brake, so that in costs a little for each second. [nats]
UNSEEN_IN_COST: Final = 0.2
#: One odd answer of the volts counts no more than this. [nats]
MISFIT_MAX: Final = 8.0
#: Above this share of the charge turned against the rest, the amps carry no sign ...
FLIPPED_SHARE: Final = 0.01
#: ... if the log is at least this long. [points]
POINTS_MIN: Final = 120
_PASSES: Final = 4


def direction_from_volts(telemetry: Telemetry, lag_s: float = 0.0) -> Floats:
    """For each row +1 if amps flow into the pack, -1 if out of it; NaN where amps are missing.

    Between two seconds that differ, the direction turns where the reading is smallest. ``lag_s``
    is how much later the volts are told than the amps.
    """
    direction = np.full(len(telemetry), np.nan)
    observed = observe(telemetry, "current_a", "voltage_v")
    told = observe(telemetry, "current_a")
    if len(observed.time_s) < 2:
        return direction
    points = _once_a_second(observed)
    reading = np.abs(observed.pick(telemetry["current_a"]))
    states = _chain(reading[points], observed, points, telemetry["voltage_v"], lag_s)
    full = _spread(states, points, reading)
    nearest = np.searchsorted(observed.time_s, told.time_s, side="right") - 1
    rows = slice(None) if told.rows is None else told.rows
    direction[rows] = full[np.clip(nearest, 0, None)]
    return direction


def is_flipped(telemetry: Telemetry, lag_s: float = 0.0) -> bool:
    """Whether the volts show amps flowing both ways under readings of one sign."""
    observed = observe(telemetry, "current_a", "voltage_v")
    points = _once_a_second(observed)[:20_000]
    reading = np.abs(observed.pick(telemetry["current_a"]))[points]
    states = _chain(reading, observed, points, telemetry["voltage_v"], lag_s)
    inward = float(reading[states > 0].sum() / max(reading.sum(), 1e-9))
    return len(points) >= POINTS_MIN and min(inward, 1 - inward) > FLIPPED_SHARE


def _once_a_second(observed: Observed) -> Rows:
    if observed.usual_s >= CHAIN_STEP_S:
        return np.arange(len(observed.time_s))
    grid = np.arange(observed.time_s[0], observed.time_s[-1], CHAIN_STEP_S)
    return np.unique(np.searchsorted(observed.time_s, grid))


def _broken(observed: Observed, points: Rows) -> Flags:
    """Whether a gap lies between each point and the next."""
    gaps = np.zeros(len(observed.time_s), dtype=np.intp)
    gaps[observed.gap_steps + 1] = 1
    flags: Flags = np.diff(np.cumsum(gaps)[points]) > 0
    return flags


def _chain(reading: Floats, observed: Observed, points: Rows, voltage_v: Floats,
           lag_s: float) -> Rows:
    """The most likely directions at the points, +1 in and -1 out."""
    volts = observed.pick(voltage_v)
    resolution_v, broken = smallest_step(volts), _broken(observed, points)
    volts = np.interp(observed.time_s[points] + lag_s, observed.time_s, volts)
    change_v, change_m = np.diff(volts), np.diff(reading)
    large = np.abs(change_m) > np.quantile(np.abs(change_m), 0.8)
    ratio = np.abs(change_v[large] / change_m[large])
    ohm = float(np.median(ratio)) if len(ratio) else 0.0
    states = np.zeros(len(reading), dtype=np.intp)
    for _ in range(_PASSES):
        before, states = states, _most_likely(_costs(reading, change_v, broken, ohm, resolution_v))
        if np.array_equal(states, before):
            break
        change_i = np.diff(states * reading)
        power = float(np.square(change_i).sum())
        if power > 0:
            ohm = max(float((change_i * change_v).sum()) / power, 1e-4)
    return states


def _costs(reading: Floats, change_v: Floats, broken: Flags, ohm: float,
           resolution_v: float) -> Floats:
    """Cost of each step from direction (row) to direction (column), shape (n, 2, 2). [nats]"""
    costs = np.empty((len(change_v), 2, 2))
    for i, before in enumerate((-1.0, 1.0)):
        for j, after in enumerate((-1.0, 1.0)):
            change_i = after * reading[1:] - before * reading[:-1]
            variance = ((0.6 * resolution_v)**2 + ohm**2 + (0.2 * ohm * change_i)**2 + 1e-12)
            misfit = np.minimum((change_v - ohm * change_i)**2 / (2 * variance), MISFIT_MAX)
            costs[:, i, j] = misfit + np.log(variance) / 2 + (FLIP_COST if i != j else 0.0)
    unseen = 2 * ohm * reading[1:] < resolution_v
    costs[:, :, 1] += UNSEEN_IN_COST * unseen[:, None]
    costs[broken] = 0.0
    return costs


def _most_likely(costs: Floats) -> Rows:
    """The cheapest run of directions through steps of ``costs``, shape (n, 2, 2); +1 and -1."""
    least = _least_costs(costs)
    before = least[:-1, :, None] + costs
    # Which direction each came from: True is in. Of equals the direction stays.
    from_in = (before[:, 1, 0] < before[:, 0, 0], before[:, 1, 1] <= before[:, 0, 1])
    states = _traced_back(bool(least[-1, 1] < least[-1, 0]), *from_in)
    return np.where(states, 1, -1)


def _least_costs(costs: Floats) -> Floats:
    """Cost of the cheapest run up to each point, by direction there, shape (n + 1, 2).

    Blocks are followed side by side from either direction, then joined: such a run is a product
    of matrices with (min, +) for (+, x), which may be bracketed at will.
    """
    length = max(1, math.isqrt(len(costs)))
    count = -(-len(costs) // length)
    steps = np.full((count * length, 2, 2), [[0.0, np.inf], [np.inf, 0.0]])
    steps[: len(costs)] = costs
    steps = np.ascontiguousarray(steps.reshape(count, length, 2, 2).transpose(1, 2, 3, 0))
    for before, step in pairwise(steps):
        np.minimum(before[:, :1] + step[:1], before[:, 1:] + step[1:], out=step)
    starts = [(0.0, 0.0)]
    for (oo, oi), (io, ii) in steps[-1].transpose(2, 0, 1).tolist():
        out, into = starts[-1]
        starts.append((min(out + oo, into + io), min(out + oi, into + ii)))
    from_out, from_in = np.array(starts[:-1]).reshape(-1, 2).T
    least = np.minimum(from_out + steps[:, 0], from_in + steps[:, 1]).transpose(2, 0, 1)
    return np.concatenate((np.zeros((1, 2)), least.reshape(-1, 2)[: len(costs)]))


def _traced_back(is_in_at_end: bool, out_from_in: Flags, in_from_in: Flags) -> Flags:
    """Whether the direction is in at each point, from where each direction was reached from."""
    is_told = np.append(True, (out_from_in == in_from_in)[::-1])  # whichever comes after
    told = np.append(is_in_at_end, out_from_in[::-1])
    turns = np.cumsum(np.append(False, (out_from_in & ~in_from_in)[::-1]))
    last = np.maximum.accumulate(np.where(is_told, np.arange(len(told)), 0))
    flags: Flags = (told[last] ^ ((turns - turns[last]) % 2 == 1))[::-1]
    return flags


def _spread(states: Rows, points: Rows, reading: Floats) -> Rows:
    """Directions of all rows from those at the points."""
    full = np.repeat(states, np.diff(np.append(points, len(reading))))
    full[:points[0]] = states[0]
    for k in np.flatnonzero(np.diff(states)):
        between = slice(points[k] + 1, points[k + 1])
        if between.start < between.stop:
            turn = between.start + int(np.argmin(reading[between]))
            full[turn:between.stop] = states[k + 1]
    return full
