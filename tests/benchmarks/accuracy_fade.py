"""Fade: slope, tests needed, and the date of 80 %, by Monte Carlo.

Slope: truth 2 % a year, 0.4 % per kelvin over a seasonal swing of 12 K, one test in sixteen off by
6 %; bound: Cramer-Rao of the slope without a temperature term. Groups: tests before and after a
drop of 2 %, the least that shows it nine times in ten. Date: 24 tests in two years of a pack that
fades straight, with the root of time, or speeding up; a 90 % interval. Step: a drop half way in 24
tests, sd 1 %; its coverage is the share that is placed within two tests. Aims: slope within 0.6 % a
year with 24 tests in two years, intervals that hold in 92 to 98 %; dates that hold in 86 % or more;
a step of 2 % found in 96 % (so much, if the sd is known), with 2 % false.

``python -m tests.benchmarks.accuracy_fade [SEED]``
"""

from __future__ import annotations

import math
import sys

import numpy as np

from analysis.estimate import Estimate
from analysis.fitting.change_points import find_steps
from analysis.fitting.student import t_quantile
from analysis.season.fade import (
    REACH,
    YEAR_S,
    CapacityPoint,
    FadeLine,
    fade_line,
    forecast_crossing,
    group_size,
    slope_bound,
)
from tests.benchmarks.accuracy_cells import Row

TRIALS = 300
#: Loss of capacity by year, such that 80 % lie within twice the two years of tests.
SHAPES = {"straight": (1.0, 7.0), "root of time": (0.5, 11.0), "speeding up": (1.5, 4.0)}


def rows(seed: int) -> list[Row]:
    """The table for a seed."""
    rng = np.random.default_rng([seed, 6])
    slopes = [_slope(count, years, sd, rng, seed) for count, years, sd in (
        (12, 1.0, 1.0), (24, 1.0, 1.0), (24, 2.0, 1.0), (24, 2.0, 2.0))]
    groups = [_group(sd, rng, seed) for sd in (0.5, 1.0, 1.5, 2.0)]
    dates = [_date(name, rng, seed) for name in SHAPES]
    return slopes + groups + dates + [_step(drop, rng, seed) for drop in (0.0, 2.0, 3.0)]


def aged_pack(count: int, years: float, sd: float, rng: np.random.Generator, *,
              power: float = 1.0, loss: float = 2.0, swing: bool = True) -> list[CapacityPoint]:
    """Capacities of a 100 Ah pack over some years."""
    time = np.linspace(0, years, count)
    celsius = 20 + (12 * np.sin(2 * np.pi * time) + rng.normal(0, 1, count) if swing else 0 * time)
    capacity = 100 - loss * time**power + 0.4 * (celsius - 20) + rng.normal(0, sd, count)
    if swing:
        capacity -= 6.0 * (rng.random(count) < 0.06)
    return [CapacityPoint(float(t) * YEAR_S, float(c), sd, float(k))
            for t, c, k in zip(time, capacity, celsius, strict=True)]


def _slope(count: int, years: float, sd: float, rng: np.random.Generator, seed: int) -> Row:
    held, errors = 0, []
    for _ in range(TRIALS):
        line = fade_line(aged_pack(count, years, sd, rng))
        assert isinstance(line, FadeLine)
        slope = line.per_year()
        held += slope.low <= -2.0 <= slope.high
        errors.append(slope.value + 2.0)
    bound = slope_bound(count, years / (count - 1), sd)
    achieved = float(np.sqrt(np.mean(np.square(errors))))
    return Row(f"fade, {count} tests in {years:.0f} yr, sd {sd:.0f} % [%/yr rms]", bound, achieved,
               achieved / bound, held / TRIALS, seed)


def _group(sd: float, rng: np.random.Generator, seed: int) -> Row:
    """The count that is asked for, and how often it shows the drop."""
    count = group_size(2.0, sd, 0.9)
    before = rng.normal(100, sd, (2000, count))
    after = rng.normal(98, sd, (2000, count))
    spread = np.sqrt((before.var(axis=1, ddof=1) + after.var(axis=1, ddof=1)) / count)
    shown = (before.mean(axis=1) - after.mean(axis=1)) / spread > t_quantile(0.975, 2 * count - 2)
    # Known errors and a normal quantile would ask for so many.
    bound = math.ceil(2 * (1.960 + 1.282) ** 2 * (sd / 2.0) ** 2)
    return Row(f"tests each side for a drop of 2 %, sd {sd} % [tests]", bound, count,
               count / bound, float(np.mean(shown)), seed)


def _date(name: str, rng: np.random.Generator, seed: int) -> Row:
    power, loss = SHAPES[name]
    truth = (20 / loss) ** (1 / power)
    held = told = 0
    widths = []
    for _ in range(TRIALS):
        points = aged_pack(24, 2.0, 1.0, rng, power=power, loss=loss, swing=False)
        line = fade_line(points)
        assert isinstance(line, FadeLine)
        found = forecast_crossing(line, points, 80.0)
        if not isinstance(found, Estimate):
            continue
        told += 1
        is_open = found.high >= REACH * line.span_years * (1 - 1e-9)
        held += found.low <= truth and (truth <= found.high or is_open)
        widths.append(found.high - found.low)
    return Row(f"80 % date, {name}, told in {told / TRIALS:.0%} [yr width]", truth,
               float(np.mean(widths)), float(np.mean(widths)) / truth, held / max(told, 1), seed)


def _step(drop: float, rng: np.random.Generator, seed: int) -> Row:
    """How often a step half way in 24 tests, sd 1 %, is found within two tests of its place."""
    told = [find_steps(100 - drop * (np.arange(24) >= 12) + rng.normal(0, 1, 24))
            for _ in range(TRIALS)]
    found = float(np.mean([bool(steps) for steps in told]))
    if not drop:
        return Row("step in 24 tests, sd 1 %, none there [share]", 0.02, found, found / 0.02,
                   1 - found, seed)
    placed = float(np.mean([any(abs(step.first - 12) <= 2 for step in steps) for steps in told]))
    return Row(f"step in 24 tests, sd 1 %, {drop:.0f} %, found [share]", 0.96, found,
               found / 0.96, placed, seed)


def main() -> None:
    seed = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    for row in rows(seed):
        print(f"{row.estimator:52} bound {row.bound:6.2f}  achieved {row.achieved:6.2f}  "
              f"ratio {row.ratio:5.2f}  coverage {row.coverage:.3f}")


if __name__ == "__main__":
    main()
