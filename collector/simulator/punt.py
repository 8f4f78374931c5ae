"""The punt: a work boat. Its shaft power grows with the cube of the shaft's speed; no wheels.

Four weeks of May and June: out to moorings in the morning and in the afternoon, a tow now and
then. Nothing tells a distance; the amps, the volts and the hours are all there is.

Power follows the propeller law ``P = P_full u^3`` with ``u`` the shaft's speed against its full
speed (similarity of a propeller at one advance ratio; common practice, no source). A tow or a
head wind makes the water look thicker: the same speed takes more power.

Figures chosen here: 8 cells of 100 Ah; 1.5 kW at full speed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Final

import numpy as np

from .at_work import PackAtWork, Recording
from .cell import Floats, one_pole
from .charger import Mains
from .craft_days import logs_by_day, stand_until
from .daylog import DayLog
from .display import Board
from .pack import Traits, alike_cells
from .workday import Workday

CELLS: Final = 8
RATED_AH: Final = 100.0
HELD_AH: Final = 102.0
CELL_MOHM: Final = 0.62
LEADS_MOHM: Final = 3.0
FIRST: Final = date(2026, 5, 18)
LAST: Final = date(2026, 6, 13)
FULL_W: Final = 1500.0
STANDBY_A: Final = -0.05
#: On the jetty: 3.45 V a cell, a tenth of the capacity an hour and a half.
MAINS: Final = Mains(15.0, 27.6, 4.0, 27.2)
#: The day on which it was out until the board opened the path.
EMPTY_DAY: Final = date(2026, 6, 6)
#: Share of the full shaft speed at which it leaves and comes in, and goes about its work.
HARBOUR_U: Final = 0.35
WORK_U: Final = (0.62, 0.70, 0.78)
#: How much more power a tow takes at the same shaft speed.
TOW: Final = 1.3
#: The water's unevenness: scatter of the power and the time it lasts.
_CHOP, _CHOP_S = 0.06, 5.0
_PACK_V: Final = 26.2


def shaft_watts(speed: Floats | float, thickness: float = 1.0) -> Floats:
    """Watts that the motor draws at a share of the full shaft speed, by the propeller law."""
    return np.asarray(thickness * FULL_W * np.asarray(speed) ** 3)


@dataclass(slots=True)
class Punt(PackAtWork):
    """The work boat, its pack and its display at one moment."""

    mains: Mains = field(init=False, default=MAINS)

    def outing(self, speed: Floats, thickness: float, rng: np.random.Generator,
               air_c: float) -> Recording:
        """A run at given shaft speeds, a second each; it ends where a cell is empty."""
        n = len(speed)
        chop = 1 + one_pole(rng.normal(0, _CHOP, n), np.full(n, self.step_s / _CHOP_S), 0.0)
        watts = shaft_watts(speed, thickness) * chop
        loaded, _ = self.respond(self.parked_a - watts / _PACK_V, air_c, self.step_s)
        amps = self.parked_a - watts / loaded.voltage_v
        return self.record_until_empty(amps, Board.quiet(n), air_c, rng)


def shaft_speeds(rng: np.random.Generator, work_s: float) -> Floats:
    """Out of the harbour, legs of work with pauses between, and back in. Shares, a second each."""
    parts = [np.zeros(60), np.full(240, HARBOUR_U)]
    left_s = work_s
    while left_s > 0:
        leg_s = min(left_s, float(rng.uniform(300, 900)))
        parts += [np.full(round(leg_s), float(rng.choice(WORK_U))),
                  np.zeros(int(rng.integers(60, 240)))]
        left_s -= leg_s
    return np.concatenate([*parts, np.full(240, HARBOUR_U), np.zeros(300)])


def boat_on(day: date, seed: int) -> Punt:
    """As it lies at midnight before a day, full."""
    rng = np.random.default_rng([seed, CELLS])
    traits = Traits(*alike_cells(rng, CELLS, HELD_AH, CELL_MOHM), np.zeros(CELLS), LEADS_MOHM)
    return Punt.at_midnight(day, seed, traits, rng.uniform(0.4, 0.5, CELLS), rated_ah=RATED_AH,
                            parked_a=STANDBY_A)


def live_days(seed: int) -> Iterator[list[DayLog]]:
    """The logs of each day in turn."""
    return logs_by_day(boat_on(FIRST, seed), FIRST, LAST, _day)


def _day(boat: Punt, day: Workday, rng: np.random.Generator) -> Iterator[Recording]:
    for hour in (8, 14):
        stand_until(boat, day, hour, int(rng.integers(0, 30)))
        is_long = day.date == EMPTY_DAY and hour == 14
        work_s = 6 * 3600.0 if is_long else float(rng.uniform(1800, 4200))
        thickness = TOW if rng.uniform() < 0.2 else 1.0
        yield boat.outing(shaft_speeds(rng, work_s), thickness, rng, day.noon_c)
    boat.stand_until(boat.moment + timedelta(minutes=30), day.noon_c)
    yield boat.fill(rng, day.noon_c)
