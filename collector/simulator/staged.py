"""What happens in season one, as data, and the hidden truth of all seasons that only tests read.

What the table alone does not say:

- "True capacity 104.2 Ah in April" is what the whole pack gives from the moment its first cell
  is full to the moment its first cell is empty. In April that is 106.8 Ah of cell 11, less the
  2.6 Ah by which cell 6 stops the charge early. In October the cells are level and cell 11 alone
  sets the 101.9 Ah. Its mates hold 110.1 and 108.4 Ah: 3 % more, then 6 % more.
- What cell 11 loses against its mates it loses at the top: it fills up earlier.
- Cell 14 begins 0.4 Ah fuller than its mates, so that its leak stays within half a percent.
- The capacity tests load the pack with the old coils, about 25 A, after a fresh fill.
- In the first week the pack gets short fills only; the counter began 28 Ah too high.
- The tap loosens on 15 September (week 24), is fully loose on the 17th, re-seated on the 28th.
- The temperature sensor hangs in the air from 14 to 23 August; the brake drags 19 to 21 October.
- Long fills: six hours on ten nights in June and July, two hours on Saturdays from
  4 July to 3 October.
- The cart stands in a shed at about 20 degC for the capacity tests.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Final

import numpy as np

from .cell import Floats
from .driving import Stop
from .pack import CELLS, Traits, alike_cells

RATED_AH: Final = 105.0
#: What display and board draw, day and night. [A]
STANDBY_A: Final = -0.018
#: Parked drain of August, the display's own included. [A]
DRAIN_A: Final = -0.31
PACK_MOHM: Final = 16.0
CELL_MOHM: Final = 0.62
OFFSET_CELL, OFFSET_AH = 6, 2.6
LEAKY_CELL, LEAK_A = 14, 0.0006
#: How much fuller the leaky cell begins: it was not leaky on the shelf's first day. [Ah]
LEAKY_HEAD_AH: Final = 0.4
SMALL_CELL: Final = 11
#: Charge left in each cell on the first morning, and what the counter believes then. [Ah]
FIRST_LEFT_AH: Final = 68.0
FIRST_COUNT_AH: Final = 96.3
FIRST_C: Final = 9.0


@dataclass(frozen=True, slots=True)
class Truth:
    """Hidden figures of one day; tests read them, and the simulation is made of them."""

    day: date
    #: Of one of the fifteen others, on average. [Ah]
    mate_capacity_ah: float
    #: First cell full to first cell empty with level cells: the small cell's capacity. [Ah]
    level_capacity_ah: float
    small_cell_mohm: float

    @property
    def fresh_capacity_ah(self) -> float:
        """What the pack gives while cell 6 still stops the charge. [Ah]"""
        return self.level_capacity_ah - OFFSET_AH


#: The pack's anchors over three seasons; in between run straight lines.
AGEING: Final = (
    Truth(date(2026, 4, 2), 110.1, 106.8, 0.78),
    Truth(date(2026, 4, 30), 110.1, 106.8, 0.80),
    Truth(date(2026, 7, 20), 109.1, 103.1, 0.87),
    Truth(date(2026, 10, 24), 108.4, 101.9, 0.95),
    Truth(date(2026, 10, 26), 108.4, 101.9, 0.95),
    Truth(date(2027, 10, 24), 106.9, 99.8, 1.01),
    Truth(date(2028, 10, 22), 105.4, 97.9, 1.06),
)


@dataclass(frozen=True, slots=True)
class StagedEvent:
    """Something that happens on some days, and the figure a tool should find."""

    first: date
    last: date
    kind: str
    truth: str
    #: Fields of ``Workday`` that it replaces.
    changes: Mapping[str, Any]
    #: True where days without trips are left as they are.
    worked_only: bool = False


def _event(first: str, last: str, kind: str, truth: str, *, worked_only: bool = False,
           **changes: Any) -> StagedEvent:
    return StagedEvent(date.fromisoformat(f"2026-{first}"), date.fromisoformat(f"2026-{last}"),
                       kind, truth, changes, worked_only)


_LONG_NIGHTS: Final = ("06-22", "06-24", "06-26", "06-29", "07-01", "07-03", "07-06", "07-08",
                       "07-10", "07-14")
_SATURDAYS: Final = tuple((date(2026, 7, 4) + timedelta(days=7 * n)).strftime("%m-%d")
                          for n in range(14))

#: In the order in which they apply; later ones win.
SEASON_ONE: Final = (
    _event("04-02", "04-08", "short fills", "never truly full since it arrived",
           worked_only=True, trips=5, charge="partial", partial_s=2500, has_phone=True),
    *(_event(day, day, "recorder left on", "a gap over noon in one log", is_left_on=True)
      for day in ("04-03", "06-18", "08-20", "09-24")),
    _event("04-09", "04-09", "percent jump", "41 to 12 at the knee; a full charge follows",
           trips=6, charge="full"),
    _event("04-16", "04-16", "cut-out", "212 A for 11 s on the ramp, over-current",
           trips=6, has_phone=True, stop=Stop(trip=3, at_m=400, stop_s=60, stalled_a=-212.0)),
    _event("04-20", "04-25", "lug works loose", "0.5 mohm", lug_mohm=0.5),
    _event("04-26", "05-02", "hot lug", "1.4 mohm, 0.12 after re-making", lug_mohm=1.28),
    _event("05-01", "05-13", "no full charge", "13 days", worked_only=True,
           charge="partial", partial_s=3000),
    _event("05-11", "10-26", "zero error", "+0.35 A", zero_error_a=0.35),
    _event("05-29", "05-29", "breaker trips", "worst 4 min RMS 55 A, enclosure at 48 degC",
           trips=7, has_phone=True, night_c=19.0, noon_c=29.0, load_up_kg=245.0, pace=1.0,
           stop=Stop(trip=6, at_m=905, stop_s=420)),
    _event("06-12", "10-26", "controller", "-24 % Wh/km", control="electronic"),
    *(_event(day, day, "long fill", "60 mA bleeds the highest cells", worked_only=True,
             charge="long") for day in _LONG_NIGHTS),
    *(_event(day, day, "long fill", "keeps the cells level", worked_only=True,
             charge="long", hold_s=2 * 3600) for day in _SATURDAYS),
    _event("07-08", "07-08", "clock step", "3 days back", clock_step_s=-3 * 86400.0),
    _event("07-19", "07-20", "fill before the test", "full", charge="full",
           night_c=20.0, noon_c=22.0),
    _event("07-20", "07-20", "capacity test", "103.1 Ah", trips=4, has_capacity_test=True),
    _event("07-22", "07-22", "heavy piano", "+300 kg, no fault", trips=6, load_up_kg=520.0),
    _event("07-29", "07-29", "wide spread", "14 mV in mid-range, no fault", spread_v=0.014),
    _event("08-03", "08-12", "parked drain", "0.31 A, shown as 0.0 A", parked_a=DRAIN_A),
    _event("08-14", "08-23", "sensor off", "temperature follows the air", is_sensor_off=True),
    _event("08-26", "08-26", "setting", "display capacity 105 to 100 Ah", new_setting_ah=100.0),
    _event("08-27", "10-26", "setting kept", "100 Ah", setting_ah=100.0),
    _event("09-08", "09-08", "head wind", "+12 % Wh/km, no fault", has_phone=True,
           head_wind_m_s=6.0),
    _event("09-15", "09-16", "tap works loose", "cells 3 and 4, mirror 8 mV", tap_v=0.008),
    _event("09-17", "09-27", "loose tap", "cells 3 and 4, mirror 18 mV", tap_v=0.018),
    _event("10-10", "10-11", "cold spell", "pack cools", night_c=2.0, noon_c=4.5),
    _event("10-12", "10-12", "cold morning", "3 degC: resistance +45 %, capacity -7 %",
           night_c=3.0, noon_c=9.0, trips=6, has_phone=True),
    _event("10-19", "10-21", "brake drags", "+17 % Wh/km", worked_only=True, has_phone=True,
           drag_n=38.0, pace=1.0, head_wind_m_s=0.0),
    _event("10-22", "10-24", "warm spell", "20 degC", night_c=20.0, noon_c=21.0),
    _event("10-23", "10-23", "fill before the test", "full", charge="long"),
    _event("10-24", "10-24", "capacity test", "101.9 Ah", trips=4, has_capacity_test=True),
)


def truth_on(day: date) -> Truth:
    """The figures of a day, between the anchors of ``AGEING``."""
    when = [anchor.day.toordinal() for anchor in AGEING]

    def between(figures: list[float]) -> float:
        return float(np.interp(day.toordinal(), when, figures))

    return Truth(day, between([a.mate_capacity_ah for a in AGEING]),
                 between([a.level_capacity_ah for a in AGEING]),
                 between([a.small_cell_mohm for a in AGEING]))


def traits_on(day: date, seed: int, lug_mohm: float = 0.0) -> Traits:
    """The pack as it is on a day; cells differ by seed, within 4 % in resistance."""
    truth, small = truth_on(day), SMALL_CELL - 1
    rng = np.random.default_rng([seed, CELLS])
    capacity, resistance = alike_cells(rng, CELLS, truth.mate_capacity_ah, CELL_MOHM)
    capacity[small] = truth.level_capacity_ah
    resistance[small] = AGEING[0].small_cell_mohm
    leads = PACK_MOHM - resistance.sum() + lug_mohm
    resistance[small] = truth.small_cell_mohm
    leak = np.zeros(CELLS)
    leak[LEAKY_CELL - 1] = LEAK_A
    return Traits(capacity, resistance, leak, float(leads))


def first_drawn_ah(seed: int) -> Floats:
    """Charge drawn from each cell on the first morning. [Ah]"""
    rng = np.random.default_rng([seed, CELLS, 1])
    drawn = truth_on(date(2026, 4, 2)).level_capacity_ah - FIRST_LEFT_AH + rng.uniform(
        -0.1, 0.1, CELLS)
    drawn[OFFSET_CELL - 1] -= OFFSET_AH
    drawn[LEAKY_CELL - 1] -= LEAKY_HEAD_AH
    return np.asarray(drawn)


def shift_to_top_ah(day: date) -> Floats:
    """How much fuller the small cell's top has become since the day before, by ageing. [Ah]"""
    before, now = truth_on(day - timedelta(days=1)), truth_on(day)
    lost = (before.level_capacity_ah - now.level_capacity_ah) - (
        before.mate_capacity_ah - now.mate_capacity_ah)
    shift = np.zeros(CELLS)
    shift[SMALL_CELL - 1] = lost
    return shift


def cell_error_v(seed: int) -> Floats:
    """Steady error of each shown cell, within a millivolt. [V]"""
    return np.asarray(np.random.default_rng([seed, CELLS, 2]).uniform(-0.001, 0.001, CELLS))


def wide_spread_v(spread_v: float) -> Floats:
    """An error over the cells whose highest less lowest is ``spread_v``. [V]"""
    return spread_v * (np.random.default_rng(CELLS).permutation(CELLS) / (CELLS - 1) - 0.5)
