"""The days of a season: work, weather, and what is staged on them.

Working days are all but Sundays, with three Sundays worked in August: 181 from 2 April to
26 October 2026. The pack starts each season as ``staged`` says.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final, Literal

import numpy as np

from . import staged, vehicle
from .driving import Control, Stop

FIRST: Final = date(2026, 4, 2)
LAST: Final = date(2026, 10, 26)
WORKED_SUNDAYS: Final = (date(2026, 8, 2), date(2026, 8, 16), date(2026, 8, 23))
TRIPS: Final = (4, 5, 6, 7, 8, 9)
#: How often a day has that many trips, out of a hundred; spring and autumn, early summer, high.
_QUIET: Final = (22, 32, 26, 12, 6, 2)
_BRISK: Final = (10, 25, 30, 20, 10, 5)
_BUSY: Final = (3, 10, 22, 30, 22, 13)
_BY_MONTH: Final = {4: _QUIET, 5: _QUIET, 6: _BRISK, 7: _BUSY, 8: _BUSY, 9: _BRISK, 10: _QUIET}

ChargeKind = Literal["none", "full", "partial", "long"]


@dataclass(frozen=True, slots=True)
class Workday:
    """Everything that is so on one day. A staged event replaces single fields."""

    date: date
    trips: int
    #: Air at night, and in the afternoon. [degC]
    night_c: float
    noon_c: float
    #: Speeds of the day against the usual.
    pace: float
    #: True where a phone tells speed and distance.
    has_phone: bool
    charge: ChargeKind = "full"
    #: Length of a partial charge. [s]
    partial_s: int = 3600
    #: How long a long fill goes on after the charge has ended. [s]
    hold_s: int = 6 * 3600
    control: Control = "resistor"
    load_up_kg: float = vehicle.LOAD_UP_KG
    head_wind_m_s: float = 0.0
    drag_n: float = 0.0
    stop: Stop | None = None
    #: Amps that always flow, minus is out. [A]
    parked_a: float = staged.STANDBY_A
    zero_error_a: float = 0.0
    setting_ah: float = 105.0
    #: Capacity that somebody sets at noon, if they do. [Ah]
    new_setting_ah: float | None = None
    tap_v: float = 0.0
    #: Extra spread of the cells' shown volts, highest less lowest. [V]
    spread_v: float = 0.0
    is_sensor_off: bool = False
    #: Resistance that a bad lug adds. [mohm]
    lug_mohm: float = 0.0
    #: How far the computer's clock is set during the afternoon. [s]
    clock_step_s: float = 0.0
    #: True where the recorder runs on over noon, so that one log holds the whole day and a gap.
    is_left_on: bool = False
    #: True where the day begins with a capacity test from full to empty.
    has_capacity_test: bool = False

    @property
    def morning_c(self) -> float:
        return self.night_c + 0.3 * (self.noon_c - self.night_c)


def season_days(seed: int, first: date = FIRST, last: date = LAST,
                events: Iterable[staged.StagedEvent] = staged.SEASON_ONE) -> list[Workday]:
    """Every day from ``first`` to ``last``, Sundays too (no trips), with the events on it."""
    events = tuple(events)
    count = (last - first).days + 1
    return [_staged_day(_plain_day(first + timedelta(days=n), seed), events) for n in range(count)]


def is_worked(day: date) -> bool:
    return day.isoweekday() != 7 or day in WORKED_SUNDAYS


def _plain_day(day: date, seed: int) -> Workday:
    rng = np.random.default_rng([seed, day.toordinal()])
    trips = int(rng.choice(TRIPS, p=np.array(_BY_MONTH[day.month]) / 100))
    noon_c = 15.5 - 4.5 * math.cos(2 * math.pi * (day.timetuple().tm_yday - 25) / 365)
    noon_c += float(rng.normal(0, 1.5))
    return Workday(
        date=day, trips=trips if is_worked(day) else 0,
        night_c=noon_c - float(rng.uniform(3, 6)), noon_c=noon_c,
        pace=float(rng.normal(1, 0.015)), has_phone=bool(rng.uniform() < 0.85),
        charge="full" if is_worked(day) else "none",
        load_up_kg=float(rng.normal(vehicle.LOAD_UP_KG, 10)),
        head_wind_m_s=float(rng.normal(0, 0.5)))


def _staged_day(day: Workday, events: tuple[staged.StagedEvent, ...]) -> Workday:
    """The day with every event that lies on it; later ones in the table win."""
    for event in events:
        if event.first <= day.date <= event.last and not (event.worked_only and not day.trips):
            day = replace(day, **event.changes)
    return day
