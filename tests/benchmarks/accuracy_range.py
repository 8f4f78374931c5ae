"""Range ahead: how far predictions miss, and how often their intervals hold.

Real drives (tests/data, with their sources) and simulated vehicles. The 25 drives of the first car
go from summer straight into winter: the jump is in its widths. Aims: the next trip's energy
within 10 % (median, from the tenth trip on; trips of one car scatter by 10 to 16 %); 30 km ahead a
90 % interval of at most 25 % half width that holds in 86 to 94 %; 95 % in 91 to 98 %.

A width is printed beside its bound: the narrowest half width, the same for all of the same
predictions and chosen after they came due, that holds in 86 % of them (95 %: in 91 %). The aim of
25 % was met on 60 drives of the first car. On the 25 that are open here the bound itself is 32 %,
for means that fade over 30 to 100 km too: a car that was never in the cold cannot know what its
heater takes. With its own cost of cold (2.4 % a kelvin in hindsight, where 1 is assumed until its
drives tell) the bound would be 21 %. On 60 drives of the second car the aims are met.

What else is known at the start was tried and left out, for it narrows at best by 7 %, and not for
every car. Correlation of the rate of the rest of a drive, less cold and what was usual, with the
rate of its first 1, 2, 3 km: 0.34, 0.24, 0.03 on those 25 drives, 0.22, 0.37, 0.38 on 124 of the
second car; with the speed of these km: 0.07, 0.33, 0.29 and 0.04, 0.00, -0.08; of a whole drive
with the hours since the last: -0.11 on the second car, 0.06 on 231 drives of a third.

``python -m tests.benchmarks.accuracy_range [SEED]``
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pandas as pd

from analysis.ahead.consumption import Conditions, Run
from analysis.ahead.range_ahead import Prediction, predict_rates
from tests.benchmarks.accuracy_cells import Row, print_rows

DATA = Path(__file__).resolve().parents[1] / "data"
#: Of 90 and of 95 % so many must hold.
HELD_AT_LEAST = {0.9: 0.86, 0.95: 0.91}
#: What the folders of open data call what was used.
USED = {"real_drives/runs": "energy_wh", "cars_with_cells/car3_runs": "energy_wh",
        "small_ev/runs": "percent_used", "scooter/runs": "percent_used"}
#: What they call the temperature, if they have one.
TEMPS = ("ambient_c", "pack_c")
VEHICLES, DRIVES = 40, 60


def open_runs(name: str) -> list[Run]:
    """Drives of open data, oldest first."""
    table = pd.read_csv(DATA / f"{name}.csv")
    temps = next((table[c] for c in TEMPS if c in table), np.full(len(table), np.nan))
    return [Run(float(k), float(km), float(used), Conditions(float(temp)))
            for k, (km, used, temp) in enumerate(zip(table["distance_km"], table[USED[name]],
                                                     temps, strict=True))]


def wandering_runs(seed: int, scatter: float = 0.12, walk: float = 0.02) -> list[Run]:
    """Drives of a simulated vehicle whose level wanders."""
    rng = np.random.default_rng(seed)
    level, extents = np.cumsum(rng.normal(0, walk, DRIVES)), rng.uniform(5, 15, DRIVES)
    rates = 100 * np.exp(level + rng.normal(0, scatter, DRIVES) * np.sqrt(10 / extents))
    return [Run(float(k), e, e * r) for k, (e, r) in enumerate(zip(extents, rates, strict=True))]


def _miss(name: str, goal_pct: float, made: Sequence[Prediction], seed: int) -> Row:
    achieved = 100 * float(np.median([abs(p.value / p.actual - 1) for p in made]))
    return Row(f"{name}, median miss [%]", goal_pct, achieved, achieved / goal_pct, _held(made),
               seed)


def _width(name: str, runs: Sequence[Run], horizon: float, seed: int,
           coverage: float = 0.9) -> Row:
    made = predict_rates(runs, horizon, coverage=coverage)[0].made
    achieved = 100 * float(np.mean([np.log(p.high / p.value) for p in made]))
    misses = np.sort([abs(np.log(p.actual / p.value)) for p in made])
    bound = 100 * float(misses[int(np.ceil(HELD_AT_LEAST[coverage] * len(misses))) - 1])
    return Row(f"{name}, half width of {100 * coverage:.0f} % [%]", bound, achieved,
               achieved / bound, _held(made), seed)


def _held(made: Sequence[Prediction]) -> float:
    return float(np.mean([p.is_hit for p in made]))


def rows(seed: int) -> list[Row]:
    """The table for a seed; what comes from open data does not depend on it."""
    car = open_runs("real_drives/runs")
    turned = [*car[16:], *car[:16]]
    second, scooter = open_runs("cars_with_cells/car3_runs"), open_runs("scooter/runs")
    told = [
        _miss("car, next trip from the tenth", 10,
              [p for p in predict_rates(car)[0].made if p.known >= 10], seed),
        _width("car, next 30 km", car, 30.0, seed),
        _width("car, next 30 km", car, 30.0, seed, coverage=0.95),
        _width("car, winter first, next 30 km", turned, 30.0, seed),
        _width("second car, next 30 km", second, 30.0, seed),
        _width("second car, next 30 km", second, 30.0, seed, coverage=0.95),
        _width("second car, next 100 km", second, 100.0, seed),
        _miss("quadricycle, percent alone, next drive", 15,
              predict_rates(open_runs("small_ev/runs"))[0].made, seed),
        _miss("scooter, whole percent, next 5 km", 20, predict_rates(scooter, 5.0)[0].made, seed),
        _width("scooter, whole percent, next 5 km", scooter, 5.0, seed),
    ]
    fleet = [wandering_runs(seed * 1000 + k) for k in range(VEHICLES)]
    for horizon in (None, 30.0):
        made = [p for runs in fleet for p in predict_rates(runs, horizon)[0].made]
        name = "next drive" if horizon is None else "next 30 km"
        # The median of a normal's size is 0.674 of its standard deviation.
        goal = 67.4 * (0.12 if horizon is None else 0.12 * np.sqrt(10 / 30))
        told.append(_miss(f"{VEHICLES} simulated, {name}", goal, made, seed))
    return told


def main() -> None:
    print_rows(rows(int(sys.argv[1]) if len(sys.argv) > 1 else 1))


if __name__ == "__main__":
    main()
