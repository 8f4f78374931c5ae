"""Cells in series with their leads: amps in, volts and temperatures out.

Amps are known over the whole span, so charge is a cumulative sum, relaxation a one-pole filter
and volts an interpolation; nothing steps through time. Charge comes back as it went in
(coulombic efficiency 1); what a cell leaks or the board bleeds is taken out of that cell.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from . import cell
from .cell import Floats

#: Of the flatbed.
CELLS: Final = 16
#: Heat capacity of the pack and time in which it follows the air: 35 kg of cells at about
#: 1 kJ/(kg K) in a wooden box. Chosen here.
HEAT_J_PER_K: Final = 40_000.0
AIR_TIME_S: Final = 18_000.0
#: The board's switches: kelvin of warming for each watt in the pack, and how quickly.
BOARD_K_PER_W: Final = 0.15
BOARD_TIME_S: Final = 240.0


@dataclass(frozen=True, slots=True)
class Traits:
    """What the pack is on one day; arrays have one value a cell."""

    #: From full to empty at 20 degC. [Ah]
    capacity_ah: Floats
    #: Felt within a second, at 20 degC. [mohm]
    resistance_mohm: Floats
    #: Extra self-discharge. [A]
    leak_a: Floats
    #: Straps, cables and switches between the pack's posts, outside the cells. [mohm]
    leads_mohm: float
    #: How many times the slow part of a 100 Ah cell's resistance; smaller cells have more.
    lag: float = 1.0

    @property
    def pack_mohm(self) -> float:
        """Resistance between the posts at 20 degC. [mohm]"""
        return float(self.resistance_mohm.sum()) + self.leads_mohm


def alike_cells(rng: np.random.Generator, count: int, capacity_ah: float,
                resistance_mohm: float) -> tuple[Floats, Floats]:
    """Capacities [Ah] and resistances [mohm] of one batch: within 0.6 % and 4 %."""
    capacity = capacity_ah * (1 + np.clip(rng.normal(0, 0.003, count), -0.006, 0.006))
    return capacity, resistance_mohm * (1 + rng.uniform(-0.04, 0.04, count))


@dataclass(frozen=True, slots=True)
class State:
    """How the pack stands at one moment."""

    #: Charge taken out of each cell since it was full. [Ah]
    drawn_ah: Floats
    temperature_c: float
    #: Amps as the two polarisations remember them. [A]
    fast_a: float = 0.0
    slow_a: float = 0.0
    hysteresis_v: float = 0.0
    board_warming_k: float = 0.0

    def soc(self, traits: Traits) -> Floats:
        """State of charge of each cell at its temperature, 0..1."""
        share = cell.capacity_share(self.temperature_c)
        return np.asarray(1 - self.drawn_ah / (traits.capacity_ah * share))


@dataclass(frozen=True, slots=True)
class Traces:
    """What happened over a span; shapes (n,) and (n, cells)."""

    current_a: Floats
    voltage_v: Floats
    cell_v: Floats
    temperature_c: Floats
    board_c: Floats

    def cut(self, end: int) -> Traces:
        """The first ``end`` samples."""
        return Traces(self.current_a[:end], self.voltage_v[:end], self.cell_v[:end],
                      self.temperature_c[:end], self.board_c[:end])


def respond(traits: Traits, state: State, current_a: Floats, step_s: Floats,
            air_c: float, *, bleed_a: Floats | None = None) -> tuple[Traces, State]:
    """What the pack does when amps flow through it.

    Parameters
    ----------
    current_a
        Pack amps during each step, plus is into the pack. Shape (n,), no NaN. [A]
    step_s
        Length of each step, shape (n,). [s]
    air_c
        Temperature around the pack. [degC]
    bleed_a
        Amps that the board takes out of each cell, shape (n, cells). None by default. [A]

    Returns
    -------
    Traces, State
        Volts at the end of each step, and the state after the last one.
    """
    drawn_ah = _drawn(traits, state, current_a, step_s, bleed_a)
    fast_a = cell.one_pole(current_a, step_s / cell.FAST.time_s, state.fast_a)
    slow_a = cell.one_pole(current_a, step_s / cell.SLOW.time_s, state.slow_a)
    hysteresis_v = cell.one_pole(
        cell.HYSTERESIS_V * np.sign(current_a),
        np.abs(current_a) * step_s / 3600 / cell.HYSTERESIS_AH, state.hysteresis_v)
    heat_w = current_a ** 2 * traits.pack_mohm * 1e-3
    temperature_c = cell.one_pole(air_c + heat_w * AIR_TIME_S / HEAT_J_PER_K,
                                  step_s / AIR_TIME_S, state.temperature_c)
    warming_k = cell.one_pole(BOARD_K_PER_W * heat_w, step_s / BOARD_TIME_S, state.board_warming_k)

    soc = 1 - drawn_ah / (cell.capacity_share(temperature_c)[:, None] * traits.capacity_ah)
    slow_v = traits.lag * (cell.FAST.resistance_mohm * fast_a
                           + cell.SLOW.resistance_mohm * slow_a) * 1e-3
    sag_v = current_a[:, None] * traits.resistance_mohm * 1e-3 + slow_v[:, None]
    cell_v = (cell.open_circuit_v(soc) + hysteresis_v[:, None]
              + sag_v * cell.stiffness(temperature_c)[:, None])
    voltage_v = cell_v.sum(axis=1) + current_a * traits.leads_mohm * 1e-3
    after = State(drawn_ah[-1], float(temperature_c[-1]), float(fast_a[-1]), float(slow_a[-1]),
                  float(hysteresis_v[-1]), float(warming_k[-1]))
    return Traces(current_a, voltage_v, cell_v, temperature_c, temperature_c + warming_k), after


def _drawn(traits: Traits, state: State, current_a: Floats, step_s: Floats,
           bleed_a: Floats | None) -> Floats:
    """Charge drawn from each cell at the end of each step, shape (n, cells). [Ah]"""
    hours = step_s / 3600
    drawn = state.drawn_ah - np.cumsum(current_a * hours)[:, None]
    drawn += np.cumsum(hours)[:, None] * traits.leak_a
    if bleed_a is not None:
        drawn += np.cumsum(bleed_a * hours[:, None], axis=0)
    return drawn


def rest(traits: Traits, state: State, current_a: float, seconds: float, air_c: float) -> State:
    """The state after hours of standing still with a small steady drain."""
    if seconds <= 0:
        return state
    _, after = respond(traits, state, np.array([current_a]), np.array([seconds]), air_c)
    return after


def top_up(state: State, extra_ah: Floats) -> State:
    """The state with charge moved to the top of single cells, as ageing does. [Ah]"""
    return replace(state, drawn_ah=state.drawn_ah - extra_ah)
