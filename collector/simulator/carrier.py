"""The carrier: a small people mover whose permanent-magnet drive gives power back downhill.

Two weeks of September. Its charger stands on a timer that ends the fill short of full, for the
first way of the day is downhill. On the evening of 9 September somebody switched the timer off;
on the 10th it left full, with guests, and on the ramp the board opened the charge path.

Figures chosen here: 12 cells of 60 Ah; 680 kg with its driver; 80 % of the watts reach the wheels,
60 % of the wheels' watts come back, at most 45 A, and none below walking pace.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Final

import numpy as np

from .at_work import PackAtWork, Recording
from .board import LIMITS
from .cell import Floats
from .charger import Mains
from .craft_days import logs_by_day, stand_until
from .daylog import DayLog
from .display import Board
from .driving import Errand, Ride, round_trip, standing
from .pack import Traits, alike_cells
from .workday import Workday

CELLS: Final = 12
RATED_AH: Final = 60.0
HELD_AH: Final = 61.5
CELL_MOHM: Final = 1.0
LEADS_MOHM: Final = 5.0
FIRST: Final = date(2026, 9, 1)
LAST: Final = date(2026, 9, 15)
#: The timer was off in the evening before.
FULL_DAY: Final = date(2026, 9, 10)
EMPTY_KG: Final = 680.0
#: Guests and their bags: on a usual way down, up, and those of the full morning.
GUESTS_KG: Final = (80.0, 240.0)
MANY_GUESTS_KG: Final = 400.0
STANDBY_A: Final = -0.02
TO_WHEELS, FROM_WHEELS = 0.80, 0.60
BACK_MAX_A: Final = 45.0
WALKING_M_S: Final = 1.0
#: Beside the road: 3.45 V a cell, a fifth of the capacity an hour.
MAINS: Final = Mains(12.0, 41.4, 3.0, 40.8)
#: The board closes the charge path again once amps flow out. [A]
AGAIN_A: Final = -2.0
#: Ends short of full by so much. [Ah]
HEADROOM_AH: Final = 5.0
_PACK_V: Final = 39.5
_BEFORE_S, _AFTER_S = 60.0, 300.0


def drive_amps(ride: Ride, pack_v: Floats | float) -> Floats:
    """Pack amps of the drive, minus is out; downhill they come back. [A]"""
    wheels_w = ride.force_n * ride.speed_m_s
    out_a = np.maximum(wheels_w, 0.0) / TO_WHEELS / pack_v
    back_a = np.minimum(np.maximum(-wheels_w, 0.0) * FROM_WHEELS / pack_v, BACK_MAX_A)
    return np.where(ride.speed_m_s < WALKING_M_S, 0.0, back_a) - out_a


@dataclass(slots=True)
class Carrier(PackAtWork):
    """The people mover, its pack and its display at one moment."""

    mains: Mains = field(init=False, default=MAINS)

    def drive(self, ride: Ride, rng: np.random.Generator, air_c: float) -> Recording:
        """A ride with what comes back; the board opens the charge path where a cell is full."""
        amps = drive_amps(ride, _PACK_V) + self.parked_a
        loaded, _ = self.respond(amps, air_c, self.step_s)
        wanted = drive_amps(ride, loaded.voltage_v) + self.parked_a
        amps = self._let_through(wanted, air_c)
        board = replace(Board.quiet(len(amps)), is_high_cell=amps < wanted)
        recording = self.record_until_empty(amps, board, air_c, rng)
        end = len(recording.elapsed_s)
        recording.columns["speed_m_s"] = np.round(ride.speed_m_s[:end], 2)
        recording.columns["distance_m"] = np.round(ride.covered_m[:end], 1)
        return recording

    def _let_through(self, amps: Floats, air_c: float) -> Floats:
        """The amps that the board lets through: none in while a cell is too high."""
        amps, first = amps.copy(), 0
        while True:
            cells = self.respond(amps, air_c, self.step_s)[0].cell_v.max(axis=1)
            high = np.flatnonzero((cells[first:] >= LIMITS.cell_high_v) & (amps[first:] > 0))
            if not len(high):
                return amps
            cut = first + int(high[0]) + 1
            out = np.flatnonzero(amps[cut:] < AGAIN_A)
            end = cut + int(out[0]) if len(out) else len(amps)
            amps[cut:end] = np.minimum(amps[cut:end], self.parked_a)
            first = end


def cart_on(day: date, seed: int) -> Carrier:
    """As it stands at midnight before a day, nearly full."""
    rng = np.random.default_rng([seed, CELLS])
    traits = Traits(*alike_cells(rng, CELLS, HELD_AH, CELL_MOHM), np.zeros(CELLS), LEADS_MOHM,
                    lag=100.0 / RATED_AH)
    return Carrier.at_midnight(day, seed, traits, HEADROOM_AH + rng.uniform(-0.05, 0.05, CELLS),
                               rated_ah=RATED_AH, parked_a=STANDBY_A)


def live_days(seed: int) -> Iterator[list[DayLog]]:
    """The logs of each day in turn."""
    return logs_by_day(cart_on(FIRST, seed), FIRST, LAST, _day)


def _day(cart: Carrier, day: Workday, rng: np.random.Generator) -> Iterator[Recording]:
    for hour, trips in ((7, (day.trips + 1) // 2), (13, day.trips // 2)):
        stand_until(cart, day, hour, 30 + int(rng.integers(0, 20)))
        rides = [round_trip(_errand(day, rng, is_first=hour == 7 and n == 0), rng, cart.step_s)
                 for n in range(trips)]
        ride = Ride.joined([standing(_BEFORE_S, cart.step_s), *rides,
                            standing(_AFTER_S, cart.step_s)])
        yield cart.drive(ride, rng, day.morning_c if hour == 7 else day.noon_c)
    cart.stand_until(cart.moment + timedelta(minutes=20), day.noon_c)
    missing_ah = float(cart.state.drawn_ah.max()) - HEADROOM_AH
    is_full = day.date == FULL_DAY - timedelta(days=1)
    limit_s = None if is_full else max(600, round(missing_ah / MAINS.steady_a * 3600))
    yield cart.fill(rng, day.noon_c, limit_s=limit_s)


def _errand(day: Workday, rng: np.random.Generator, *, is_first: bool) -> Errand:
    down_kg, up_kg = GUESTS_KG + rng.normal(0, 20, 2)
    if is_first and day.date == FULL_DAY:
        down_kg = MANY_GUESTS_KG
    return Errand(load_up_kg=float(up_kg), load_down_kg=float(down_kg), pace=day.pace,
                  head_wind_m_s=day.head_wind_m_s, empty_kg=EMPTY_KG)
