"""Before and after: width, coverage and power of the paired comparison.

Simulated pairs: a true change of -10 %, each side scatters by 6 %. The bound of the half width is
that of a known scatter, ``1.96 s sqrt(2 / n)``. Aims: 8 pairs, coverage 93 to 97 %, power 0.8.

The invented season's change of the speed control, besides, if a number of seasons is given: what
each day takes with either control is simulated, so that the true change is known, with the brake
that drags, the gale and the piano of the days after. Goal: half of a width of 1 %.

``python -m tests.benchmarks.accuracy_compare [SEED [SEASONS]]``; 40 seconds a season.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from analysis.ahead.compare import PARTS_NEEDED, change_of_pairs, compare_digests
from analysis.ahead.consumption import is_drive, zero_error_w
from analysis.ahead.pairing import day_figures
from analysis.ahead.routes import common_routes, day_of, route_trips
from analysis.digest import LogDigest
from analysis.estimate import Estimate
from analysis.load_logbook import read_digests
from collector.logbook import Logbook
from collector.simulator.daylog import write_day_log
from collector.simulator.driving import Control
from collector.simulator.season import flatbed_meta, live_season
from collector.simulator.workday import season_days
from tests.benchmarks.accuracy_cells import Row

TRIALS = 4000
CHANGE, SCATTER = math.log(0.9), 0.06
#: The day of the other control.
SWAPPED = date(2026, 6, 12)


def found(pairs: int, likeness: float, seed: int) -> list[Estimate]:
    """Changes found, with a correlation between the two days of a pair."""
    rng = np.random.default_rng([seed, pairs])
    sd = SCATTER * math.sqrt(2 * (1 - likeness))
    answers = [change_of_pairs(rng.normal(CHANGE, sd, pairs)) for _ in range(TRIALS)]
    return [a for a in answers if isinstance(a, Estimate)]


def rows(seed: int) -> list[Row]:
    """Half widths against the bound; then the power against its aim."""
    told = []
    for pairs, likeness in ((5, 0.0), (5, 0.5), (8, 0.0), (8, 0.5), (12, 0.0), (20, 0.0)):
        answers = found(pairs, likeness, seed)
        bound = 90 * 1.96 * SCATTER * math.sqrt(2 * (1 - likeness) / pairs)
        width = float(np.mean([a.half_width for a in answers]))
        held = float(np.mean([a.low <= 100 * math.expm1(CHANGE) <= a.high for a in answers]))
        power = float(np.mean([a.high < 0 for a in answers]))
        name = f"{pairs} pairs, likeness {likeness:.1f}"
        told += [Row(f"{name}, half width [%]", bound, width, width / bound, held, seed),
                 Row(f"{name}, found [share]", 0.8, power, power / 0.8, held, seed)]
    return told


def season_rows(seed: int, seasons: int) -> Iterable[Row]:
    """The change of the season's speed control as told, against what each day would have taken."""
    errors, halves, held = [], [], []
    for season in range(seed, seed + seasons):
        coils, chopper = (_season(season, control) for control in ("resistor", "electronic"))
        truth = _change_of_days(coils, chopper)
        found = compare_digests([d for d in coils if day_of(d) < SWAPPED],
                                [d for d in chopper if day_of(d) >= SWAPPED]).change_pct
        if isinstance(found, Estimate):
            errors.append(found.value - truth)
            halves.append(found.half_width)
            held.append(found.low <= truth <= found.high)
    width = float(np.mean(halves))
    yield Row("seasons, error of the change [%]", 0.5, float(np.abs(errors).mean()),
              float(np.abs(errors).mean()) / 0.5, float(np.mean(held)), seed)
    yield Row("seasons, half width [%]", 1.0, width, width, float(np.mean(held)), seed)


def _season(seed: int, control: Control) -> tuple[LogDigest, ...]:
    """The season driven with one control throughout."""
    calendar = [replace(day, control=control) for day in season_days(seed)]
    with TemporaryDirectory() as folder:
        book, meta = Logbook.create(Path(folder)), flatbed_meta(seed, "season 1")
        for logs in live_season(calendar, seed):
            for log in logs:
                write_day_log(book, meta, log)
        return read_digests(Path(folder), PARTS_NEEDED).digests


def _change_of_days(coils: tuple[LogDigest, ...], chopper: tuple[LogDigest, ...]) -> float:
    """Mean change over all days, each against itself. [%]"""
    drives = [(digest, error_w) for run in (coils, chopper)
              for digest, error_w in zip(run, zero_error_w(run), strict=True) if is_drive(digest)]
    routed = route_trips(drives)
    border = sum(is_drive(digest) for digest in coils)
    sides = [[trip for log in part for trip in log] for part in (routed[:border], routed[border:])]
    shares = common_routes(*sides)
    with_coils, with_chopper = (day_figures(side, shares) for side in sides)
    days = sorted(with_coils.keys() & with_chopper.keys())
    return 100 * math.expm1(float(np.mean(
        [math.log(with_chopper[day].rate / with_coils[day].rate) for day in days])))


def main(seed: int = 1, seasons: int = 0) -> None:
    """Print the table."""
    for row in [*rows(seed), *(season_rows(seed, seasons) if seasons else ())]:
        print(f"{row.estimator:<40} goal {row.bound:5.2f}  reached {row.achieved:5.2f}  "
              f"ratio {row.ratio:4.2f}  holds {row.coverage:5.3f}  seed {row.seed}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:3]))
