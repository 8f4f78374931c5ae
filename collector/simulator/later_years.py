"""The flatbed's second and third season: a first fill in spring, six capacity tests, and the days.

Nobody records the drives any more. In the evening the caretaker reads the day's figures off the
display and types them; the logs are those of a spring fill and of a capacity test, three a season.

- The pack is laid up full in October, drains through display and board, and is switched off at a
  fifth in January. Cell 14 goes on leaking: in spring it is two amp-hours behind its mates.
- Long fills level it again before the first test of a season.
- In spring 2027 the display's zero was set anew, so its amps are right from there on.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Final

import numpy as np

from ..logbook import Logbook
from . import staged
from .daylog import DayLog, as_log, write_day_log
from .driving import Errand, pack_amps, round_trip
from .flatbed import Flatbed
from .pack import CELLS, State
from .route import WAY_M
from .season import flatbed_meta, live_day_of
from .staged import StagedEvent
from .workday import LAST, Workday, season_days

#: First and last working day of each later season.
SEASONS: Final = ((date(2027, 4, 5), date(2027, 10, 23)), (date(2028, 4, 3), date(2028, 10, 21)))
SPRING_FILLS: Final = (date(2027, 4, 3), date(2028, 4, 1))
#: Sundays, without a trip.
TESTS: Final = (date(2027, 5, 9), date(2027, 7, 25), date(2027, 10, 24),
                date(2028, 5, 14), date(2028, 7, 23), date(2028, 10, 22))
SETTING_AH: Final = 100.0
#: State of charge at which the main switch was opened in January.
LAID_UP_SOC: Final = 0.20
#: Drawn on the eve of a test. [Ah]
EVE_AH: Final = 30.0
#: So many evenings in a hundred nobody typed anything.
FORGOTTEN: Final = 5
_STEP_S: Final = 2.0
#: The pack at rest, and what an amp takes off it; for the watt-hours that a display adds up. [V]
_REST_V, _SAG_V_PER_A = 52.6, 0.022
#: What goes in to bring one amp-hour out, the display's own amps included. Chosen here.
_IN_PER_OUT: Final = 1.012


@dataclass(frozen=True, slots=True)
class Evening:
    """What the display says on the evening of a day."""

    day: date
    out_ah: float
    in_ah: float
    out_kwh: float
    distance_km: float
    low_pct: int

    @property
    def words(self) -> str:
        """As the caretaker types it."""
        return (f"{self.out_ah:.1f} Ah out, {self.in_ah:.1f} Ah in, {self.out_kwh:.2f} kWh out, "
                f"{self.distance_km:.1f} km, {self.low_pct} to 100 %")


def build_later_years(logbook_root: Path, seed: int) -> list[Path]:
    """Write the logs of both seasons into the logbook of the first; the paths, oldest first.

    Raises
    ------
    FileExistsError
        If a log of that name is there already.
    """
    book, meta = Logbook.create(logbook_root), flatbed_meta(seed, "seasons 2 and 3")
    return [write_day_log(book, meta, log) for logs in live_later_years(seed) for log in logs]


def live_later_years(seed: int) -> Iterator[list[DayLog]]:
    """The logs of each spring fill and each test, oldest first."""
    for day in sorted((*SPRING_FILLS, *TESTS)):
        yield _spring_fill(day, seed) if day in SPRING_FILLS else _test(day, seed)


def _spring_fill(day: date, seed: int) -> list[DayLog]:
    """From a fifth to full; cell 14 has gone on leaking since the last day of October."""
    (spring,) = _days(day, day, seed)
    traits = staged.traits_on(day, seed)
    drawn = np.full(CELLS, (1 - LAID_UP_SOC) * float(traits.capacity_ah.min()))
    drawn += traits.leak_a * 24 * (day - LAST.replace(year=day.year - 1)).days
    cart = _cart(spring, seed, drawn, LAID_UP_SOC * SETTING_AH, hour=10)
    return [as_log([cart.charge(_rng(day, seed), spring.noon_c)])]


def _test(day: date, seed: int) -> list[DayLog]:
    (sunday,) = _days(day, day, seed)
    rng = _rng(day, seed)
    drawn = EVE_AH + rng.uniform(-0.1, 0.1, CELLS)
    return live_day_of(_cart(sunday, seed, drawn, SETTING_AH - EVE_AH, hour=0), sunday)


def _cart(day: Workday, seed: int, drawn_ah: np.ndarray[tuple[int], np.dtype[np.float64]],
          count_ah: float, hour: int) -> Flatbed:
    cart = Flatbed(seed, datetime.combine(day.date, time(hour), UTC), State(drawn_ah, day.night_c),
                   count_ah, staged.cell_error_v(seed))
    cart.begin(day)
    return cart


def evenings(seed: int) -> Iterator[Evening]:
    """What was typed, oldest first; now and then nobody did."""
    for first, last in SEASONS:
        for day in _days(first, last, seed):
            rng = _rng(day.date, seed)
            if day.trips and rng.integers(100) >= FORGOTTEN:
                yield _evening(day, rng)


def _evening(day: Workday, rng: np.random.Generator) -> Evening:
    """A day's figures: one round trip worked out and made as often as it was driven."""
    ride = round_trip(Errand(load_up_kg=day.load_up_kg, head_wind_m_s=day.head_wind_m_s,
                             pace=day.pace), rng, _STEP_S)
    amps, _ = pack_amps(ride, "electronic", _REST_V, day.parked_a, _STEP_S)
    volts = _REST_V + _SAG_V_PER_A * amps
    hours = day.trips * _STEP_S / 3600
    out_ah = -float(amps.sum()) * hours
    return Evening(day.date, round(out_ah, 1), round(_IN_PER_OUT * out_ah, 1),
                   round(-float(amps @ volts) * hours / 1000, 2),
                   round(day.trips * 2 * WAY_M / 1000 * (1 + float(rng.normal(0, 0.004))), 1),
                   math.floor(100 * (1 - out_ah / SETTING_AH)))


def _days(first: date, last: date, seed: int) -> list[Workday]:
    """Plain days with the electronic control and the display as it was left."""
    control = StagedEvent(first, last, "later season", "nothing staged",
                          {"control": "electronic", "setting_ah": SETTING_AH})
    tests = (StagedEvent(day, day, "capacity test", f"{staged.truth_on(day).level_capacity_ah} Ah",
                         {"trips": 0, "charge": "none", "has_capacity_test": True,
                          "night_c": 20.0, "noon_c": 21.0}) for day in TESTS)
    return season_days(seed, first, last, events=(control, *tests))


def _rng(day: date, seed: int) -> np.random.Generator:
    return np.random.default_rng([seed, day.toordinal(), 1])

