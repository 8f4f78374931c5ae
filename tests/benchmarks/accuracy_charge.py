"""Amp-hours of recorded drives: what sampling costs, and how often the intervals hold.

Drives at 10 Hz, thinned to a row a second from ten moments, against their own whole count. In
percent of the net charge of each: of point samples (bound: 0.4 % rms, of these drives) and of
means over each second; the interval of a whole budget, with a gain and a zero error drawn anew
each time; what flowed in a gap against its upper bound. Aims: 1 % in 95 of 100 point-sampled
drives, 0.05 % rms of means, intervals that hold in 93 to 98 %.

``python -m tests.benchmarks.accuracy_charge [SEED [FOLDER]]``
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from analysis.one_log.charge import (
    Instrument,
    charge_budget,
    resolution_term_ah,
    sampling_term_ah,
    throughput,
    unseen_charge_ah,
)
from analysis.telemetry import Floats, Telemetry
from analysis.timebase import observe
from tests.analysis.made_logs import every, log
from tests.benchmarks.accuracy_cells import Row, print_rows
from tests.benchmarks.open_drives import FOLDER, HERTZ, open_drives

#: Standard uncertainty of the gain, and of the zero that a minute's rest leaves. [1], [A]
GAIN_SD, ZERO_SD_A = 0.005, 0.03
STEP_A = 0.1
DRAWS = 20


def rows(seed: int, folder: Path = FOLDER) -> Iterator[Row]:
    """The table for a seed."""
    drives = open_drives(folder)
    rng = np.random.default_rng([seed, 2])
    points = np.concatenate([_thinned(drive) for drive in drives])
    within, rms = float(np.percentile(np.abs(points), 95)), _rms(points)
    yield Row("charge, a point a second, 95 % of drives within [%]", 1.0, within, within,
              float(np.mean(np.abs(points) <= 1.0)), seed)
    yield Row("charge, a point a second [% rms]", 0.4, rms, rms / 0.4,
              float(np.mean([held for drive in drives for held in _budgets(drive, rng)])), seed)
    means = _rms(np.array([_of_means(drive) for drive in drives]))
    yield Row("charge, means of a second [% rms]", 0.05, means, means / 0.05, 1.0, seed)
    for gap_s in (10.0, 30.0, 120.0):
        held, most = _gaps([every(drive, HERTZ) for drive in drives], gap_s)
        yield Row(f"charge unseen in a gap of {gap_s:.0f} s, bound [Ah]", most[0], most[1],
                  most[1] / most[0], held, seed)


def _net(telemetry: Telemetry) -> float:
    seen = observe(telemetry, "current_a")
    return throughput(seen, seen.pick(telemetry["current_a"])).net


def _rms(values: Floats) -> float:
    return float(np.sqrt(np.mean(np.square(values))))


def _thinned(drive: Telemetry) -> Floats:
    """Errors of ten thinned copies against the same stretch of the whole. [% of net]"""
    errors = []
    for phase in range(HERTZ):
        thin = every(drive, HERTZ, phase)
        whole = _net(drive.between(thin.elapsed_s[0], thin.elapsed_s[-1]))
        errors.append(100 * (_net(thin) - whole) / abs(whole))
    return np.array(errors)


def _of_means(drive: Telemetry) -> float:
    """Error where the monitor averages within each second. [% of net]"""
    count = len(drive) // HERTZ
    time_s, amps = (values[: count * HERTZ].reshape(count, HERTZ).mean(axis=1)
                    for values in (drive.elapsed_s, drive["current_a"]))
    whole = _net(drive.between(time_s[0], time_s[-1]))
    return 100 * (_net(log(time_s, current_a=amps)) - whole) / abs(whole)


def _budgets(drive: Telemetry, rng: np.random.Generator) -> Iterator[bool]:
    """Whether the interval of a thinned, rounded count with gain and zero error holds the truth."""
    # Half widths of rectangles that have these standard deviations.
    instrument = Instrument(GAIN_SD * math.sqrt(3), ZERO_SD_A * math.sqrt(3), 0.0)
    for _ in range(DRAWS):
        thin = every(drive, HERTZ, int(rng.integers(HERTZ)))
        amps = np.round((thin["current_a"] * (1 + rng.normal(0, GAIN_SD))
                         + rng.normal(0, ZERO_SD_A)) / STEP_A) * STEP_A
        thin = thin.having(current_a=amps)
        seen, found = observe(thin, "current_a"), _net(thin)
        budget = charge_budget(found, seen.seconds, instrument,
                               resolution_ah=resolution_term_ah(amps, seen, STEP_A),
                               sampling_ah=sampling_term_ah(amps, seen))
        whole = _net(drive.between(thin.elapsed_s[0], thin.elapsed_s[-1]))
        yield abs(found - whole) <= budget.expanded


def _gaps(drives: list[Telemetry], gap_s: float) -> tuple[float, tuple[float, float]]:
    """Share of gaps whose charge, each way, is below its bound; 95 % of them and the mean bound."""
    flowed, bounds = [], []
    for drive in drives:
        for start_s in np.linspace(5, drive.elapsed_s[-1] - gap_s - 5, 20):
            seen = (drive.elapsed_s <= start_s) | (drive.elapsed_s >= start_s + gap_s)
            holed = log(drive.elapsed_s[seen], current_a=drive["current_a"][seen])
            part = drive.between(start_s, start_s + gap_s)
            inside = observe(part, "current_a")
            moved = throughput(inside, inside.pick(part["current_a"]))
            flowed += [moved.into, moved.out]
            bounds += unseen_charge_ah(holed["current_a"], observe(holed, "current_a"))
    held = float(np.mean(np.array(flowed) <= np.array(bounds) + 1e-9))
    return held, (float(np.percentile(flowed, 95)), float(np.mean(bounds)))


def main() -> None:
    print_rows(rows(int(sys.argv[1]) if len(sys.argv) > 1 else 1, *map(Path, sys.argv[2:])))


if __name__ == "__main__":
    main()
