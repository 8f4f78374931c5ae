"""A charger: steady amps, then steady volts, ended by the tail or by the first cell.

An ordinary charge ends when the amps have fallen to the tail, or at once when the board opens
the path for one full cell; the charger then stays off. A *long fill* leaves it connected for
hours at a lower steady volts, at which the board bleeds exactly the cells that stand higher
than their mates.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np

from . import pack
from .board import LIMITS, Flags, bleeding_a
from .cell import FAST, SLOW, Floats, capacity_share, open_circuit_slope_v, stiffness
from .pack import State, Traces, Traits

#: After a cut-out on one cell, charging goes on when that cell is below this. [V]
RESUME_CELL_V: Final = 3.45
#: Recorded after the charger has stopped. [s]
AFTER_S: Final = 900

Ending = Literal["tail", "first cell", "timer", "cold"]


@dataclass(frozen=True, slots=True)
class Mains:
    """What a charger gives."""

    steady_a: float
    steady_v: float
    tail_a: float
    #: Volts of a long fill: 3.40 V a cell, where bleeding begins.
    hold_v: float


YARD: Final = Mains(25.0, 55.2, 4.0, 54.4)


@dataclass(frozen=True, slots=True)
class Charge:
    """One charge, a sample a second."""

    traces: Traces
    state: State
    ending: Ending
    #: Sample at which the charge ended for the first time.
    end_index: int
    #: Where the board bleeds a cell, and where it has closed the path to the charger; shape (n,).
    is_bleeding: Flags
    is_high_cell: Flags


@dataclass(slots=True)
class _Profile:
    """Amps and bleeding as they are decided, in steps of whole seconds."""

    amps: list[Floats] = field(default_factory=list)
    bleed: list[Floats] = field(default_factory=list)
    high: list[Flags] = field(default_factory=list)

    def add(self, current_a: float, bleed_a: Floats, seconds: int, *,
            is_high: bool = False) -> None:
        self.amps.append(np.full(seconds, current_a))
        self.bleed.append(np.broadcast_to(bleed_a, (seconds, len(bleed_a))))
        self.high.append(np.full(seconds, is_high))

    def seconds(self) -> int:
        return sum(map(len, self.amps))


def charge(traits: Traits, state: State, air_c: float, *, standby_a: float,
           limit_s: int | None = None, hold_s: int = 0, mains: Mains = YARD) -> Charge:
    """Charge the pack.

    Parameters
    ----------
    standby_a
        Pack amps while the charger is off, minus is out.
    limit_s
        Stop by the clock after this long (a partial charge). [s]
    hold_s
        Go on for this long after the first ending (a long fill). [s]
    mains
        The charger.
    """
    profile = _Profile()
    ending: Ending = "cold"
    if state.temperature_c >= LIMITS.charge_min_c:
        ending = _steady_amps(traits, state, air_c, profile, mains, limit_s)
    now = _replay(traits, state, air_c, profile)[1] if profile.amps else state
    if ending == "tail":
        ending, now = _steady_volts(traits, now, air_c, profile, mains)
    end_index = profile.seconds()
    if hold_s and ending != "cold":
        now = _hold(traits, now, air_c, profile, mains, hold_s)
    profile.add(standby_a, np.zeros_like(traits.capacity_ah), AFTER_S,
                is_high=ending == "first cell")
    traces, after = _replay(traits, state, air_c, profile)
    bleed = np.concatenate(profile.bleed)
    return Charge(traces, after, ending, end_index, np.any(bleed > 0, axis=1),
                  np.concatenate(profile.high))


def _replay(traits: Traits, state: State, air_c: float,
            profile: _Profile) -> tuple[Traces, State]:
    amps = np.concatenate(profile.amps)
    return pack.respond(traits, state, amps, np.ones(len(amps)), air_c,
                        bleed_a=np.concatenate(profile.bleed))


def _steady_amps(traits: Traits, state: State, air_c: float, profile: _Profile,
                 mains: Mains, limit_s: int | None) -> Ending:
    """All of the steady-amps part at once; ``tail`` where steady volts take over."""
    seconds = int((float(state.drawn_ah.max()) + 5) / mains.steady_a * 3600)
    seconds = seconds if limit_s is None else min(seconds, limit_s)
    traces, _ = pack.respond(traits, state, np.full(seconds, mains.steady_a),
                             np.ones(seconds), air_c)
    high_cell = traces.cell_v.max(axis=1) >= LIMITS.cell_high_v
    reached = high_cell | (traces.voltage_v >= mains.steady_v)
    end = int(np.argmax(reached)) + 1 if reached.any() else seconds
    profile.add(mains.steady_a, np.zeros_like(traits.capacity_ah), end)
    if not reached.any():
        return "timer"
    return "first cell" if high_cell[end - 1] else "tail"


def _steady_volts(traits: Traits, state: State, air_c: float, profile: _Profile,
                  mains: Mains) -> tuple[Ending, State]:
    amps, bleed = mains.steady_a, np.zeros_like(traits.capacity_ah)
    while True:
        amps = _amps_for(mains, mains.steady_v, traits, state, amps, bleed, air_c, step_s=5)
        profile.add(amps, bleed, 5)
        traces, state = _step(traits, state, amps, bleed, air_c, step_s=5)
        bleed = bleeding_a(traces.cell_v[-1], amps)
        if traces.cell_v.max() >= LIMITS.cell_high_v:
            return "first cell", state
        if amps <= mains.tail_a:
            return "tail", state


def _hold(traits: Traits, state: State, air_c: float, profile: _Profile, mains: Mains,
          hold_s: int) -> State:
    """Steady lower volts, the path open while one cell stands too high."""
    end_s = profile.seconds() + hold_s
    is_open, bleed, amps, top_v = True, np.zeros_like(traits.capacity_ah), 0.0, np.inf
    while profile.seconds() < end_s:
        is_open = top_v >= (RESUME_CELL_V if is_open else LIMITS.cell_high_v)
        step_s = 60 if is_open or amps < 1 else 5
        amps = 0.0 if is_open else _amps_for(mains, mains.hold_v, traits, state, amps, bleed,
                                             air_c, step_s)
        profile.add(amps, bleed, step_s, is_high=is_open)
        traces, state = _step(traits, state, amps, bleed, air_c, step_s)
        bleed, top_v = bleeding_a(traces.cell_v[-1], amps), float(traces.cell_v.max())
    return state


def _step(traits: Traits, state: State, amps: float, bleed: Floats, air_c: float,
          step_s: int) -> tuple[Traces, State]:
    return pack.respond(traits, state, np.array([amps]), np.array([float(step_s)]), air_c,
                        bleed_a=bleed[None, :])


def _amps_for(mains: Mains, volts: float, traits: Traits, state: State, amps: float,
              bleed: Floats, air_c: float, step_s: int) -> float:
    """Amps that bring the pack to ``volts`` at the end of a step, from 0 to the charger's most.

    One Newton step from the last amps, with the volts' slope by amps worked out.
    """
    traces, _ = _step(traits, state, amps, bleed, air_c, step_s)
    lag_mohm = traits.lag * sum(p.resistance_mohm * -np.expm1(-step_s / p.time_s)
                                for p in (FAST, SLOW))
    cells_mohm = (traits.resistance_mohm + lag_mohm).sum() * stiffness(state.temperature_c)
    held_ah = traits.capacity_ah * capacity_share(state.temperature_c)
    rise = (open_circuit_slope_v(state.soc(traits)) / held_ah).sum() * step_s / 3600
    slope = float((cells_mohm + traits.leads_mohm) * 1e-3 + rise)
    return float(np.clip(amps + (volts - traces.voltage_v[-1]) / slope, 0.0, mains.steady_a))
