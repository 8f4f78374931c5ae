"""The flatbed through its days: it drives, charges, is tested, and stands in between.

Each act moves it on and gives back what the monitor showed meanwhile.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, time
from typing import Final

import numpy as np

from . import pack, staged
from .at_work import PackAtWork, Recording
from .board import Flags, low_cell_index
from .cell import Floats
from .display import Board, Sensing
from .driving import Errand, Ride, pack_amps, round_trip, standing
from .pack import State
from .workday import Workday

#: Switched on before the first trip or a test, and after the last. [s]
BEFORE_S: Final = 60
AFTER_S: Final = 600
#: The old coils as a load. [A]
TEST_A: Final = -25.0


@dataclass(slots=True)
class Flatbed(PackAtWork):
    """The cart, its pack and its display at one moment."""

    _day: Workday = field(init=False)

    @classmethod
    def delivered(cls, first: Workday, seed: int) -> Flatbed:
        """As it stands on the evening before the first day."""
        moment = datetime.combine(first.date, time(), UTC)
        state = State(staged.first_drawn_ah(seed), staged.FIRST_C)
        cart = cls(seed, moment, state, staged.FIRST_COUNT_AH, staged.cell_error_v(seed))
        cart.begin(first)
        return cart

    def begin(self, day: Workday) -> None:
        """Take over what is so on a day; the pack has aged since the day before."""
        self._day = day
        self.traits = staged.traits_on(day.date, self.seed, day.lug_mohm)
        self.parked_a, self.setting_ah = day.parked_a, day.setting_ah
        self.state = pack.top_up(self.state, staged.shift_to_top_ah(day.date))

    def drive(self, trips: range, rng: np.random.Generator, air_c: float) -> Recording:
        """The round trips of one session, switched on throughout. ``trips`` counts from 1."""
        return self.follow(Ride.joined([
            standing(BEFORE_S, self.step_s),
            *(round_trip(self._errand(trip), rng, self.step_s) for trip in trips),
            standing(AFTER_S, self.step_s)]), rng, air_c)

    def follow(self, ride: Ride, rng: np.random.Generator, air_c: float) -> Recording:
        """A ride as the pack and the display see it; it ends where a cell is empty."""
        amps, _ = self._amps(ride, np.full(len(ride), 52.0))
        loaded, _ = self.respond(amps, air_c, self.step_s)
        amps, is_open = self._amps(ride, loaded.voltage_v)
        board = replace(Board.quiet(len(amps)), is_open=is_open)
        recording = self.record_until_empty(amps, board, air_c, rng)
        end = len(recording.elapsed_s)
        if self._day.has_phone:
            recording.columns["speed_m_s"] = np.round(ride.speed_m_s[:end], 2)
            recording.columns["distance_m"] = np.round(ride.covered_m[:end], 1)
        return recording

    def charge(self, rng: np.random.Generator, air_c: float) -> Recording:
        """Charge as the day says."""
        day = self._day
        return self.fill(rng, air_c, limit_s=day.partial_s if day.charge == "partial" else None,
                         hold_s=day.hold_s if day.charge == "long" else 0)

    def test_capacity(self, rng: np.random.Generator, air_c: float) -> Recording:
        """Steady amps into the old coils until the board opens the path; rest on both sides."""
        most_s = round(1.2 * staged.RATED_AH / -TEST_A * 3600)
        amps = np.full(BEFORE_S + most_s, TEST_A)
        amps[:BEFORE_S] = self.parked_a
        cut = low_cell_index(self.respond(amps, air_c, 1.0)[0].cell_v)
        end = len(amps) if cut is None else cut + 1
        amps = np.concatenate([amps[:end], np.full(AFTER_S, self.parked_a)])
        board = replace(Board.quiet(len(amps)), is_open=np.arange(len(amps)) >= end)
        return self.record("", amps, board, air_c, rng, 1.0)

    def _amps(self, ride: Ride, pack_v: Floats) -> tuple[Floats, Flags]:
        return pack_amps(ride, self._day.control, pack_v, self.parked_a, self.step_s)

    def settings(self, samples: int) -> Floats:
        day = self._day
        setting = np.full(samples, self.setting_ah)
        if day.new_setting_ah is not None and self.moment.hour >= 12:
            self.setting_ah = setting[BEFORE_S // 2:] = day.new_setting_ah
            self._day = replace(day, new_setting_ah=None)
        return setting

    def sensing(self, air_c: float) -> Sensing:
        day = self._day
        error = self.cell_error_v + staged.wide_spread_v(day.spread_v)
        return Sensing(day.zero_error_a, error, day.tap_v,
                       air_c if day.is_sensor_off else math.nan)

    def _errand(self, trip: int) -> Errand:
        day = self._day
        stop = day.stop if day.stop and day.stop.trip == trip else None
        return Errand(load_up_kg=day.load_up_kg, head_wind_m_s=day.head_wind_m_s,
                      drag_n=day.drag_n, pace=day.pace, stop=stop)
