"""An endless day of the flatbed, beginning now, for the live monitor.

It stands laden at the jetty for a few seconds, drives trip after trip, and goes to the charger
when it runs low. The day is a plain spring day: nothing is staged on it, the display has no zero
error, and the old resistor control still shows its steps from the first metres on.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Final

import numpy as np

from . import staged
from .at_work import Recording
from .cell import REFERENCE_C
from .driving import Errand, Ride, round_trip, standing, trip_up
from .flatbed import Flatbed
from .island import places
from .pack import CELLS, State
from .route import JETTY_M, WAY_M
from .workday import FIRST, Workday

#: One row as the monitor shows it: by column name, missing ones absent.
Row = dict[str, float | str]

#: Charge drawn when it sets out, and below which state of charge it goes to the charger.
_DRAWN_AH: Final = 12.0
_LOW_SOC: Final = 0.25
_BEFORE_S: Final = 6.0


def live_day(seed: int, step_s: float = 1.0) -> Iterator[Row]:
    """Rows without end, one for each ``step_s`` of driving, one a second of charging."""
    rng = np.random.default_rng([seed, 3])
    day = Workday(FIRST, trips=0, night_c=REFERENCE_C, noon_c=REFERENCE_C, pace=1.0, has_phone=True)
    cart = Flatbed(seed, datetime.now(UTC), State(np.full(CELLS, _DRAWN_AH), REFERENCE_C),
                   staged.RATED_AH - _DRAWN_AH, staged.cell_error_v(seed), step_s)
    cart.begin(day)
    ride = Ride.joined([standing(_BEFORE_S, step_s, JETTY_M), trip_up(Errand(), rng, step_s)])
    start_m = 0.0
    while True:
        recording = cart.follow(ride, rng, REFERENCE_C)
        covered_m = ride.covered_m[:len(recording.elapsed_s)]
        recording.columns.update(places(covered_m, start_m))
        yield from rows(recording)
        ride, start_m = round_trip(Errand(), rng, step_s), WAY_M
        if cart.lowest_soc < _LOW_SOC:
            yield from rows(cart.charge(rng, REFERENCE_C))


def rows(recording: Recording) -> Iterator[Row]:
    """A recording row by row."""
    names = list(recording.columns)
    for values in zip(*(recording.columns[name].tolist() for name in names), strict=True):
        yield {name: value for name, value in zip(names, values, strict=True)
               if isinstance(value, str) or not math.isnan(value)}
