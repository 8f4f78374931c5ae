"""A cart's working hours as forces and amps: trips down and up with loading in between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Final, Literal, Self

import numpy as np

from . import route, vehicle
from .board import Flags, over_current_index
from .cell import Floats, one_pole

Control = Literal["resistor", "electronic"]

#: How unevenly the driver presses: scatter of the force and the time it lasts. Chosen here.
PEDAL_SCATTER: Final = 0.05
PEDAL_TIME_S: Final = 4.0
#: From one press of the pedal to the next where the driver moves between two steps. [s]
STEP_PERIOD_S: Final = 9.0


@dataclass(frozen=True, slots=True)
class Stop:
    """An unwanted stop on the way up."""

    #: Which trip of the day, from 1.
    trip: int
    at_m: float
    stop_s: float
    #: Amps while the driver holds the pedal against it, minus is out; 0 for none. [A]
    stalled_a: float = 0.0


@dataclass(frozen=True, slots=True)
class Errand:
    """What one round trip carries, and through what."""

    load_up_kg: float = vehicle.LOAD_UP_KG
    load_down_kg: float = vehicle.LOAD_DOWN_KG
    #: Against the cart on the way up, with it on the way down. [m/s]
    head_wind_m_s: float = 0.0
    #: What else holds the cart back. [N]
    drag_n: float = 0.0
    #: Share of the usual speeds.
    pace: float = 1.0
    stop: Stop | None = None
    #: The vehicle with its driver.
    empty_kg: float = vehicle.EMPTY_KG


@dataclass(frozen=True, slots=True)
class Ride:
    """Motion and force, a sample each step; every array has shape (n,)."""

    speed_m_s: Floats
    #: Since the start of the ride.
    covered_m: Floats
    elevation_m: Floats
    #: At the wheels, negative where the brakes hold. [N]
    force_n: Floats
    #: Pack amps that no control decides, such as a stalled motor's; NaN elsewhere. [A]
    forced_a: Floats
    #: Where the driver's foot is between two steps, 0..1.
    dither: Floats

    def __len__(self) -> int:
        return len(self.speed_m_s)

    @classmethod
    def joined(cls, rides: Sequence[Self]) -> Self:
        """One after the other; distance goes on counting."""
        start, counted = 0.0, []
        for ride in rides:
            counted.append(ride.covered_m + start)
            start += float(ride.covered_m[-1]) if len(ride) else 0.0
        parts = {f.name: np.concatenate([getattr(r, f.name) for r in rides]) for f in fields(cls)}
        return cls(**{**parts, "covered_m": np.concatenate(counted)})


def round_trip(errand: Errand, rng: np.random.Generator, step_s: float) -> Ride:
    """Down to the jetty, loading, up to the yard, unloading."""
    return Ride.joined([trip_down(errand, rng, step_s), trip_up(errand, rng, step_s)])


def trip_down(errand: Errand, rng: np.random.Generator, step_s: float) -> Ride:
    """Down to the jetty, and loading there."""
    return Ride.joined([_leg(errand, rng, step_s, is_up=False),
                        standing(rng.uniform(180, 330), step_s, route.JETTY_M)])


def trip_up(errand: Errand, rng: np.random.Generator, step_s: float) -> Ride:
    """Up to the yard, and unloading there."""
    return Ride.joined([_leg(errand, rng, step_s, is_up=True),
                        standing(rng.uniform(120, 240), step_s)])


def standing(seconds: float, step_s: float, elevation_m: float | None = None) -> Ride:
    """Switched on and still, in the yard if no height is given."""
    n = max(1, round(seconds / step_s))
    height = float(route.elevation_m(np.array(route.WAY_M))) if elevation_m is None else elevation_m
    zero = np.zeros(n)
    return Ride(zero, zero, np.full(n, height), zero, np.full(n, np.nan), zero)


def _leg(errand: Errand, rng: np.random.Generator, step_s: float, *, is_up: bool) -> Ride:
    stop = errand.stop if is_up else None
    motion = route.travel(_stages(errand, is_up=is_up), step_s)
    position = motion.covered_m if is_up else route.WAY_M - motion.covered_m
    towards = 1 if is_up else -1
    mass = errand.empty_kg + (errand.load_up_kg if is_up else errand.load_down_kg)
    force = vehicle.road_load_n(
        mass, motion.speed_m_s, grade=towards * route.grade(position),
        rolling=route.rolling(position), acceleration_m_s2=motion.acceleration_m_s2,
        head_wind_m_s=towards * errand.head_wind_m_s, drag_n=errand.drag_n)
    n = len(force)
    is_still = motion.speed_m_s < 1e-6
    forced = np.where(is_still & (stop is not None), 0.0, np.nan)
    if stop and stop.stalled_a:
        forced[is_still & (motion.covered_m > 1)] = stop.stalled_a
    uneven = 1 + one_pole(rng.normal(0, PEDAL_SCATTER, n), np.full(n, step_s / PEDAL_TIME_S), 0.0)
    phase = (np.arange(n) * step_s / STEP_PERIOD_S + rng.uniform()) % 1
    return Ride(motion.speed_m_s, motion.covered_m, route.elevation_m(position),
                np.where(is_still, 0.0, force * uneven), forced, np.abs(2 * phase - 1))


def _stages(errand: Errand, *, is_up: bool) -> list[route.Stage]:
    if is_up:
        stop = errand.stop
        return route.stages_up(errand.pace, stop_at_m=stop.at_m if stop else None,
                               stop_s=stop.stop_s if stop else 0.0)
    mass = errand.empty_kg + errand.load_down_kg
    coasting = vehicle.coasting_m_s2(mass, 2.5, errand.drag_n)
    return route.stages_down(errand.pace, max(coasting, 0.05))


def pack_amps(ride: Ride, control: Control, pack_v: Floats | float,
              standby_a: float, step_s: float) -> tuple[Floats, Flags]:
    """Pack amps with a control, minus is out, and where the board holds the path open.

    Parameters
    ----------
    pack_v
        Volts of the pack, known or nearly; a scalar or shape (n,). [V]
    standby_a
        Amps that always flow. [A]
    """
    if control == "resistor":
        drive = vehicle.resistor_amps(ride.force_n, ride.speed_m_s, pack_v, ride.dither)
    else:
        drive = vehicle.electronic_amps(ride.force_n, ride.speed_m_s, pack_v)
    amps = np.where(np.isnan(ride.forced_a), -drive, ride.forced_a) + standby_a
    is_open = np.zeros(len(amps), dtype=bool)
    cut = over_current_index(amps, step_s)
    if cut is not None:
        is_open[cut + 1:] = ride.forced_a[cut + 1:] < 0
        amps[is_open] = standby_a
    return amps, is_open
