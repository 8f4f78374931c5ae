"""Season one as a logbook: a finished log for each boat's trips and for each charge.

Rows come once a second while the cart is switched on or charging. Trips for the morning boat and
for the afternoon boat are a log each; where the recorder ran on over noon they are one, with an
honest gap. Nights are not recorded, but lived through. A capacity test is a log of its own whose
kind nobody said.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Final

import numpy as np

from ..logbook import CONFIG_NAME, Logbook
from ..meta import LogMeta, software
from ..monitors import load_description
from .at_work import Recording
from .daylog import DayLog, as_log, write_day_log
from .flatbed import Flatbed
from .workday import FIRST, Workday, season_days

DEFAULT_SEED: Final = 1

CONFIG: Final = """\
# Invented: Quillet Isle, its cart and every figure in logs/ are made up by packhand's simulator.
invented = true

[units]
distance = "km"        # km or mi
temperature = "C"      # C or F

[[vehicle]]
name = "flatbed"
pack = "flatbed main"
mass_kg = 520          # with driver, without load

[[pack]]
name = "flatbed main"
cells = 16
rated_ah = 105

[pack.limits]
continuous_a = 100
peak_a = 200
peak_s = 10
cell_high_v = 3.60
cell_low_v = 2.70
charge_min_c = 0
bleed_a = 0.06

# Beyond what the board allows for a while, or just before it cuts out. Each means something to do;
# an alarm protects nothing.
[pack.alarms]
out_a = [{limit = 100, for_s = 60}, {limit = 200, for_s = 3}]
in_a = 60
cell_high_v = 3.65     # the board should have stopped at 3.60
cell_low_v = 2.80      # the board cuts out at 2.70
temp_high_c = 55
cold_charging_c = 0
soc_low_pct = 10

[[claim]]
date = 2026-04-02
text = "40 miles on a charge"
quantity = "range"
value = 40
unit = "mi"

[[claim]]
date = 2026-04-02
text = "105 Ah"
quantity = "capacity"
value = 105
unit = "Ah"

[[claim]]
date = 2026-04-02
text = "200 A peak"
quantity = "peak"
value = 200
unit = "A"

[[claim]]
date = 2026-04-02
text = "full in 5 h"
quantity = "charge time"
value = 5
unit = "h"
"""


def build_season(logbook_root: Path, *, seed: int = DEFAULT_SEED, days: slice | None = None,
                 progress: Callable[[int, int], None] | None = None) -> list[Path]:
    """Write season one's logs and ``logbook.toml`` into a folder.

    Parameters
    ----------
    days
        Which of the season's 208 calendar days to write, 0 is 2 April. All are lived through up
        to the last one written, so a day is the same alone or in the whole season.
    progress
        Called with days done and days to do.

    Returns
    -------
    list of Path
        The logs written, oldest first.

    Raises
    ------
    FileExistsError
        If a log of that name is there already.
    """
    logbook_root.mkdir(parents=True, exist_ok=True)
    if not (logbook_root / CONFIG_NAME).exists():
        (logbook_root / CONFIG_NAME).write_text(CONFIG, encoding="utf-8")
    book = Logbook.create(logbook_root)
    meta = flatbed_meta(seed, "season 1")
    calendar = season_days(seed)
    chosen = range(len(calendar))[days or slice(None)]
    paths: list[Path] = []
    for number, logs in enumerate(live_season(calendar[:max(chosen, default=-1) + 1], seed)):
        if number in chosen:
            paths += [write_day_log(book, meta, log) for log in logs]
        if progress:
            progress(number + 1, max(chosen) + 1)
    return paths


def live_season(calendar: list[Workday], seed: int) -> Iterator[list[DayLog]]:
    """The logs of each day in turn; the days must begin with the season's first."""
    if not calendar:
        return
    cart = Flatbed.delivered(calendar[0], seed)
    for day in calendar:
        if day.date != FIRST:
            cart.begin(day)
        yield live_day_of(cart, day)


def live_day_of(cart: Flatbed, day: Workday) -> list[DayLog]:
    """The logs of one day that the cart has begun."""
    rng = np.random.default_rng([cart.seed, day.date.toordinal(), 1])
    logs: list[DayLog] = []
    if day.has_capacity_test:
        cart.stand_until(_at(day.date, 4, 30), day.night_c)
        logs.append(as_log([cart.charge(rng, day.night_c)]))
        cart.stand_until(cart.moment + timedelta(minutes=20), day.night_c)
        logs.append(as_log([cart.test_capacity(rng, day.morning_c)]))
        cart.stand_until(cart.moment + timedelta(minutes=10), day.noon_c)
        logs.append(as_log([cart.charge(rng, day.noon_c)]))
    if day.trips:
        drives = _drives(cart, day, rng)
        parts = [drives] if day.is_left_on else [[drive] for drive in drives]
        logs += [as_log(part) for part in parts[:-1]]
        logs.append(as_log(parts[-1], day.clock_step_s))
    if day.charge != "none":
        evening_c = (day.night_c + day.noon_c) / 2
        pause = timedelta(minutes=float(rng.integers(10, 40)))
        cart.stand_until(max(cart.moment + pause, _at(day.date, 17, 0)), evening_c)
        logs.append(as_log([cart.charge(rng, evening_c)]))
    cart.stand_until(_at(day.date, 23, 59), day.night_c)
    return logs


def _drives(cart: Flatbed, day: Workday, rng: np.random.Generator) -> list[Recording]:
    """Trips for the morning boat and for the afternoon boat; all in the afternoon on test days."""
    morning = 0 if day.has_capacity_test else (day.trips + 1) // 2
    drives = []
    if morning:
        cart.stand_until(_at(day.date, 7, 30 + int(rng.integers(0, 20))), day.night_c)
        drives.append(cart.drive(range(1, morning + 1), rng, day.morning_c))
    cart.stand_until(_at(day.date, 13, 30 + int(rng.integers(0, 20))), day.noon_c)
    drives.append(cart.drive(range(morning + 1, day.trips + 1), rng, day.noon_c))
    return drives


def _at(day: date, hour: int, minute: int) -> datetime:
    return datetime.combine(day, time(hour, minute), tzinfo=UTC)


def flatbed_meta(seed: int, season: str) -> LogMeta:
    """What each of the flatbed's logs says about itself."""
    return LogMeta(pack="flatbed main", vehicle="flatbed", time_zone="UTC", software=software(),
                   monitor=load_description("demo-binary").as_tables(), invented=True,
                   origin={"simulated": season, "seed": seed})
