"""Invented packs of sixteen iron-phosphate cells, healthy and with one fault, one log at a time.

Healthy packs spread as methods and scenario say, and have what a vehicle adds: cells warmer than
others, hysteresis that differs, a scan that reads them one after the other. The cell's curve is
that of ``collector.simulator.cell``; nothing else of the simulator is used.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import Literal

import numpy as np

from analysis.telemetry import Floats, Telemetry
from collector.simulator.cell import one_pole, open_circuit_v, stiffness

Place = Literal["top", "middle", "bottom"]
CELLS = 16
START = datetime(2026, 4, 2, 8, tzinfo=UTC)
#: One standard deviation between healthy cells.
CAPACITY_SHARE, RESISTANCE_SHARE, OFFSET_SHARE = 0.007, 0.04, 0.0015
GAIN_V, NOISE_V = 0.0003, 0.0007
SKEW_MAX_S = 0.5
#: Cells differ in warmth by so much, all from day to day by half of that more or less, and each by
#: so much of its own. [K]
WARMTH_K, OWN_WARMTH_K = 1.5, 0.3
HYSTERESIS_V, HYSTERESIS_SHARE, HYSTERESIS_AH = 0.004, 0.25, 2.0
#: Charge and drive as on the flatbed. [A]
CHARGE_A = 25.0
PEDAL_A = (0.0, -15.0, -30.0, -60.0, -85.0)


@dataclass(frozen=True)
class Pack:
    """One pack; arrays have a value a cell."""

    capacity_ah: Floats
    resistance_mohm: Floats
    #: Fuller than the usual cell. [Ah]
    ahead_ah: Floats
    gain_v: Floats
    skew_s: Floats
    warmth_k: Floats
    hysteresis_v: Floats
    #: Of the sense lead above each cell: plus on it, minus on the next. [mohm]
    lead_mohm: Floats = field(default_factory=lambda: np.zeros(CELLS))


def healthy(rng: np.random.Generator) -> Pack:
    return Pack(
        100 * (1 + rng.normal(0, CAPACITY_SHARE, CELLS)),
        0.62 * (1 + rng.normal(0, RESISTANCE_SHARE, CELLS)),
        100 * rng.normal(0, OFFSET_SHARE, CELLS), rng.normal(0, GAIN_V, CELLS),
        rng.uniform(0, SKEW_MAX_S, CELLS), rng.normal(0, WARMTH_K, CELLS),
        HYSTERESIS_V * (1 + rng.normal(0, HYSTERESIS_SHARE, CELLS)))


def with_offset(pack: Pack, cell: int, share: float) -> Pack:
    return replace(pack, ahead_ah=_added(pack.ahead_ah, cell, 100 * share))


def with_less_capacity(pack: Pack, cell: int, share: float) -> Pack:
    return replace(pack, capacity_ah=_added(pack.capacity_ah, cell,
                                            -share * pack.capacity_ah[cell]))


def with_more_resistance(pack: Pack, cell: int, share: float) -> Pack:
    return replace(pack, resistance_mohm=_added(pack.resistance_mohm, cell,
                                                share * pack.resistance_mohm[cell]))


def with_lead(pack: Pack, cell: int, mohm: float) -> Pack:
    return replace(pack, lead_mohm=_added(pack.lead_mohm, cell, mohm))


def _added(values: Floats, cell: int, extra: float) -> Floats:
    changed = values.copy()
    changed[cell] += extra
    return changed


def one_log(pack: Pack, place: Place, day: float, rng: np.random.Generator) -> Telemetry:
    """What a monitor with 1 mV shows of one charge (``top``) or drive, a sample a second."""
    amps = _charge(rng) if place == "top" else _drive(rng, 1300 if place == "bottom" else 900)
    drawn_ah = {"top": rng.uniform(13, 16), "middle": rng.uniform(45, 60),
                "bottom": rng.uniform(82, 85)}[place] - np.cumsum(amps) / 3600
    volts = _volts(pack, amps, drawn_ah, rng)
    if place == "top":
        over = (volts.sum(axis=1) >= 55.2) | (volts.max(axis=1) >= 3.6)
        end = int(np.argmax(over)) + 1 if over.any() else len(amps)
        amps, drawn_ah = np.append(amps[:end], np.zeros(300)), drawn_ah[:end]
        drawn_ah = np.append(drawn_ah, np.full(300, drawn_ah[-1]))
        volts = _volts(pack, amps, drawn_ah, rng)
    n = len(amps)
    time_s = np.arange(float(n))
    shown = np.column_stack([np.interp(time_s - pack.skew_s[k], time_s, volts[:, k])
                             for k in range(CELLS)])
    shown += pack.gain_v + rng.normal(0, NOISE_V, shown.shape)
    columns = {f"cell_{k + 1:02d}_v": np.round(shown[:, k], 3) for k in range(CELLS)}
    columns |= {"current_a": np.round(amps + rng.normal(0, 0.03, n), 1),
                "voltage_v": np.round(volts.sum(axis=1), 2),
                "soc_pct": np.round(100 - drawn_ah)}
    return Telemetry(START + timedelta(days=day), time_s, columns)


def _volts(pack: Pack, amps: Floats, drawn_ah: Floats, rng: np.random.Generator) -> Floats:
    """Cell volts at the end of each second, shape (n, cells)."""
    step = np.ones(len(amps))
    soc = 1 - (drawn_ah[:, None] - pack.ahead_ah) / pack.capacity_ah
    hysteresis = one_pole(np.sign(amps), np.abs(amps) * step / 3600 / HYSTERESIS_AH,
                          float(np.sign(amps[len(amps) // 2])))
    slow_mohm = 0.25 * one_pole(amps, step / 15, 0.0) + 0.60 * one_pole(amps, step / 300, 0.0)
    # A generator beside the main one: what else is random stays what it was without this.
    own_k = rng.spawn(1)[0].normal(0, OWN_WARMTH_K, CELLS)
    celsius = rng.uniform(5, 30) + pack.warmth_k * rng.uniform(0.5, 1.5) + own_k
    sag_v = (np.outer(amps, pack.resistance_mohm) + slow_mohm[:, None]) * stiffness(celsius) * 1e-3
    lead_v = np.outer(amps, pack.lead_mohm - np.roll(pack.lead_mohm, 1)) * 1e-3
    level_v = open_circuit_v(soc) + np.outer(hysteresis, pack.hysteresis_v)
    return np.asarray(level_v + sag_v + lead_v)


def _charge(rng: np.random.Generator) -> Floats:
    return np.full(2600, CHARGE_A + rng.normal(0, 0.2))


def _drive(rng: np.random.Generator, seconds: int) -> Floats:
    pieces = [np.zeros(90)]
    while sum(map(len, pieces)) < seconds - 90:
        pieces.append(np.full(int(rng.integers(4, 13)), rng.choice(PEDAL_A)))
    return np.concatenate([*pieces, np.zeros(90)])
