"""A pack at work, whatever it moves: it is loaded, charged, stands, and its display tells of it.

What outlasts a day is carried along: the state of every cell, the display's counter, the moment.
Each act moves it on and gives back what the monitor showed meanwhile.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Final, Self

import numpy as np

from . import charger, display, pack
from .board import low_cell_index
from .cell import Floats
from .display import Board, Columns, Sensing
from .pack import State, Traces, Traits

#: A pack's temperature before its first day. [degC]
MIDNIGHT_C: Final = 14.0


@dataclass(frozen=True, slots=True)
class Recording:
    """What the monitor showed over a span."""

    kind: str
    start: datetime
    #: Since the start, strictly increasing. [s]
    elapsed_s: Floats
    columns: Columns


@dataclass(slots=True)
class PackAtWork:
    """A pack and its display at one moment."""

    seed: int
    moment: datetime
    state: State
    count_ah: float
    cell_error_v: Floats
    #: From one sample of a drive to the next; charges and tests come once a second. [s]
    step_s: float = 1.0
    #: The monitor's running number.
    sequence: int = 0
    traits: Traits = field(init=False)
    mains: charger.Mains = field(init=False, default=charger.YARD)
    #: Amps that always flow, minus is out. [A]
    parked_a: float = field(init=False)
    #: Capacity that the display reckons with. [Ah]
    setting_ah: float = field(init=False)

    @classmethod
    def at_midnight(cls, day: date, seed: int, traits: Traits, drawn_ah: Floats, *,
                    rated_ah: float, parked_a: float) -> Self:
        """As it stands before a day, its display right about what was drawn."""
        error_v = np.random.default_rng([seed, len(drawn_ah), 2]).uniform(-1e-3, 1e-3,
                                                                          len(drawn_ah))
        work = cls(seed, datetime.combine(day, time(), UTC), State(drawn_ah, MIDNIGHT_C),
                   rated_ah - float(np.mean(drawn_ah)), np.asarray(error_v))
        work.traits, work.parked_a, work.setting_ah = traits, parked_a, rated_ah
        return work

    @property
    def lowest_soc(self) -> float:
        """State of charge of the emptiest cell, 0..1."""
        return float(self.state.soc(self.traits).min())

    def stand_until(self, moment: datetime, air_c: float) -> None:
        """Stand still, unrecorded; a moment already past changes nothing."""
        seconds = (moment - self.moment).total_seconds()
        if seconds > 0:
            self.state = pack.rest(self.traits, self.state, self.parked_a, seconds, air_c)
            self.count_ah = display.stand(
                self.count_ah, self.parked_a, seconds, self.sensing(air_c), self.setting_ah)
            self.moment = moment

    def respond(self, amps: Floats, air_c: float, step_s: float) -> tuple[Traces, State]:
        """What these amps would do; nothing moves on."""
        return pack.respond(self.traits, self.state, amps, np.full(len(amps), step_s), air_c)

    def record(self, kind: str, amps: Floats, board: Board, air_c: float,
               rng: np.random.Generator, step_s: float) -> Recording:
        """These amps flow and are shown."""
        traces, after = self.respond(amps, air_c, step_s)
        recording = self.shown(kind, traces, board, air_c, rng, step_s)
        self.state = after
        return recording

    def record_until_empty(self, amps: Floats, board: Board, air_c: float,
                           rng: np.random.Generator) -> Recording:
        """A drive with these amps, at most until a cell is empty."""
        traces, _ = self.respond(amps, air_c, self.step_s)
        empty = low_cell_index(traces.cell_v)
        end = len(amps) if empty is None else empty + 1
        return self.record("drive", amps[:end], board.cut(end), air_c, rng, self.step_s)

    def fill(self, rng: np.random.Generator, air_c: float, *, limit_s: int | None = None,
             hold_s: int = 0) -> Recording:
        """Charge, fifteen minutes of rest included; see ``charger.charge``."""
        done = charger.charge(self.traits, self.state, air_c, standby_a=self.parked_a,
                              limit_s=limit_s, hold_s=hold_s, mains=self.mains)
        n = len(done.traces.current_a)
        board = Board(np.zeros(n, dtype=bool), done.is_bleeding, done.is_high_cell)
        is_full = done.ending in ("tail", "first cell")
        recording = self.shown("charge", done.traces, board, air_c, rng, 1.0,
                               full_at=done.end_index if is_full else None)
        self.state = done.state
        return recording

    def shown(self, kind: str, traces: Traces, board: Board, air_c: float,
              rng: np.random.Generator, step_s: float, full_at: int | None = None) -> Recording:
        """What the display makes of it; its counter and the moment move on."""
        n = len(traces.current_a)
        columns, self.count_ah = display.show(
            traces, self.count_ah, self.sensing(air_c), board, setting_ah=self.settings(n),
            rng=rng, step_s=step_s, full_at=full_at)
        columns["sequence"] = np.asarray((self.sequence + np.arange(n)) % 65536.0)
        self.sequence += n
        recording = Recording(kind, self.moment, np.asarray(np.arange(n) * step_s), columns)
        self.moment += timedelta(seconds=n * step_s)
        return recording

    def settings(self, samples: int) -> Floats:
        """The display's capacity at each sample, shape (samples,). [Ah]"""
        return np.full(samples, self.setting_ah)

    def sensing(self, air_c: float) -> Sensing:  # noqa: ARG002 - a loose sensor feels the air
        """How the monitor measures now."""
        return Sensing(cell_error_v=self.cell_error_v)
