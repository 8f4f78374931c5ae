"""The flatbed through its days: it drives, charges, is tested, and stands in between.

A ``Flatbed`` carries what outlasts a day: the state of every cell, the display's counter, the
moment. Each act moves it on and gives back what the monitor showed meanwhile.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, time, timedelta
from typing import Final

import numpy as np

from . import charger, display, pack, staged
from .board import Flags, low_cell_index
from .cell import Floats
from .display import Board, Columns, Sensing
from .driving import Errand, Ride, pack_amps, round_trip, standing
from .pack import State, Traces, Traits
from .workday import Workday

#: Switched on before the first trip or a test, and after the last. [s]
BEFORE_S: Final = 60
AFTER_S: Final = 600
#: The old coils as a load. [A]
TEST_A: Final = -25.0


@dataclass(frozen=True, slots=True)
class Recording:
    """What the monitor showed over a span."""

    kind: str
    start: datetime
    #: Since the start, strictly increasing. [s]
    elapsed_s: Floats
    columns: Columns


@dataclass(slots=True)
class Flatbed:
    """The cart, its pack and its display at one moment."""

    seed: int
    moment: datetime
    state: State
    count_ah: float
    cell_error_v: Floats
    #: From one sample of a drive to the next; charges and tests come once a second. [s]
    step_s: float = 1.0
    #: The monitor's running number.
    sequence: int = 0
    _day: Workday = field(init=False)
    _traits: Traits = field(init=False)

    @classmethod
    def delivered(cls, first: Workday, seed: int) -> Flatbed:
        """As it stands on the evening before the first day."""
        moment = datetime.combine(first.date, time(), UTC)
        state = State(staged.first_drawn_ah(seed), staged.FIRST_C)
        cart = cls(seed, moment, state, staged.FIRST_COUNT_AH, staged.cell_error_v(seed))
        cart.begin(first)
        return cart

    @property
    def lowest_soc(self) -> float:
        """State of charge of the emptiest cell, 0..1."""
        return float(self.state.soc(self._traits).min())

    def begin(self, day: Workday) -> None:
        """Take over what is so on a day; the pack has aged since the day before."""
        self._day = day
        self._traits = staged.traits_on(day.date, self.seed, day.lug_mohm)
        self.state = pack.top_up(self.state, staged.shift_to_top_ah(day.date))

    def stand_until(self, moment: datetime, air_c: float) -> None:
        """Stand still, unrecorded; a moment already past changes nothing."""
        seconds = (moment - self.moment).total_seconds()
        if seconds > 0:
            day = self._day
            self.state = pack.rest(self._traits, self.state, day.parked_a, seconds, air_c)
            self.count_ah = display.stand(
                self.count_ah, day.parked_a, seconds, self._sensing(air_c), day.setting_ah)
            self.moment = moment

    def drive(self, trips: range, rng: np.random.Generator, air_c: float) -> Recording:
        """The round trips of one session, switched on throughout. ``trips`` counts from 1."""
        return self.follow(Ride.joined([
            standing(BEFORE_S, self.step_s),
            *(round_trip(self._errand(trip), rng, self.step_s) for trip in trips),
            standing(AFTER_S, self.step_s)]), rng, air_c)

    def follow(self, ride: Ride, rng: np.random.Generator, air_c: float) -> Recording:
        """A ride as the pack and the display see it; it ends where a cell is empty."""
        amps, _ = self._amps(ride, np.full(len(ride), 52.0))
        loaded, _ = self._respond(amps, air_c, self.step_s)
        amps, is_open = self._amps(ride, loaded.voltage_v)
        traces, _ = self._respond(amps, air_c, self.step_s)
        empty = low_cell_index(traces.cell_v)
        end = len(ride) if empty is None else empty + 1
        no = np.zeros(end, dtype=bool)
        recording = self._record("drive", amps[:end], Board(is_open[:end], no, no), air_c, rng,
                                 self.step_s)
        if self._day.has_phone:
            recording.columns["speed_m_s"] = np.round(ride.speed_m_s[:end], 2)
            recording.columns["distance_m"] = np.round(ride.covered_m[:end], 1)
        return recording

    def charge(self, rng: np.random.Generator, air_c: float) -> Recording:
        """Charge as the day says, fifteen minutes of rest included."""
        day = self._day
        done = charger.charge(
            self._traits, self.state, air_c, standby_a=day.parked_a,
            limit_s=day.partial_s if day.charge == "partial" else None,
            hold_s=day.hold_s if day.charge == "long" else 0)
        n = len(done.traces.current_a)
        board = Board(np.zeros(n, dtype=bool), done.is_bleeding, done.is_high_cell)
        is_full = done.ending in ("tail", "first cell")
        recording = self._shown("charge", done.traces, board, air_c, rng, 1.0,
                                full_at=done.end_index if is_full else None)
        self.state = done.state
        return recording

    def test_capacity(self, rng: np.random.Generator, air_c: float) -> Recording:
        """Steady amps into the old coils until the board opens the path; rest on both sides."""
        most_s = round(1.2 * staged.RATED_AH / -TEST_A * 3600)
        amps = np.full(BEFORE_S + most_s, TEST_A)
        amps[:BEFORE_S] = self._day.parked_a
        cut = low_cell_index(self._respond(amps, air_c, 1.0)[0].cell_v)
        end = len(amps) if cut is None else cut + 1
        amps = np.concatenate([amps[:end], np.full(AFTER_S, self._day.parked_a)])
        no = np.zeros(len(amps), dtype=bool)
        board = Board(np.arange(len(amps)) >= end, no, no)
        return self._record("", amps, board, air_c, rng, 1.0)

    def _amps(self, ride: Ride, pack_v: Floats) -> tuple[Floats, Flags]:
        day = self._day
        return pack_amps(ride, day.control, pack_v, day.parked_a, self.step_s)

    def _respond(self, amps: Floats, air_c: float, step_s: float) -> tuple[Traces, State]:
        return pack.respond(self._traits, self.state, amps, np.full(len(amps), step_s), air_c)

    def _record(self, kind: str, amps: Floats, board: Board, air_c: float,
                rng: np.random.Generator, step_s: float) -> Recording:
        traces, after = self._respond(amps, air_c, step_s)
        recording = self._shown(kind, traces, board, air_c, rng, step_s)
        self.state = after
        return recording

    def _shown(self, kind: str, traces: Traces, board: Board, air_c: float,
               rng: np.random.Generator, step_s: float,
               full_at: int | None = None) -> Recording:
        n, day = len(traces.current_a), self._day
        setting = np.full(n, day.setting_ah)
        if day.new_setting_ah is not None and self.moment.hour >= 12:
            setting[BEFORE_S // 2:] = day.new_setting_ah
            self._day = replace(day, setting_ah=day.new_setting_ah, new_setting_ah=None)
        columns, self.count_ah = display.show(
            traces, self.count_ah, self._sensing(air_c), board, setting_ah=setting, rng=rng,
            step_s=step_s, full_at=full_at)
        columns["sequence"] = np.asarray((self.sequence + np.arange(n)) % 65536.0)
        self.sequence += n
        recording = Recording(kind, self.moment, np.asarray(np.arange(n) * step_s), columns)
        self.moment += timedelta(seconds=n * step_s)
        return recording

    def _sensing(self, air_c: float) -> Sensing:
        day = self._day
        error = self.cell_error_v + staged.wide_spread_v(day.spread_v)
        return Sensing(day.zero_error_a, error, day.tap_v,
                       air_c if day.is_sensor_off else math.nan)

    def _errand(self, trip: int) -> Errand:
        day = self._day
        stop = day.stop if day.stop and day.stop.trip == trip else None
        return Errand(load_up_kg=day.load_up_kg, head_wind_m_s=day.head_wind_m_s,
                      drag_n=day.drag_n, pace=day.pace, stop=stop)
