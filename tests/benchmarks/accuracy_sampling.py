"""The sampling term of a count alone, at four rates: how often twice its figure holds.

Logs at 10 Hz, thinned from every moment, against their own whole count: recorded drives, their
first and second half, for what was chosen on one must hold on the other; and amps that jump at any
moment or are noise. Bound: what the term says, its root mean square over all thinned copies, in
percent of the net charge; achieved: the errors that there were. A ratio of 1 is a term that says
what it should. Aim: twice the term holds in 93 to 98 %, on the drives.

``python -m tests.benchmarks.accuracy_sampling [SEED [FOLDER]]``
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from analysis.one_log.charge import COVERAGE_FACTOR, sampling_term_ah, throughput
from analysis.telemetry import Telemetry
from analysis.timebase import observe
from tests.analysis.made_logs import every, log, switched_drive
from tests.benchmarks.accuracy_cells import Row, print_rows
from tests.benchmarks.open_drives import FOLDER, HERTZ, open_drives

RATES_HZ = (2.0, 1.0, 0.5, 0.2)
#: Logs made of each invented kind.
DRAWN = 20


def rows(seed: int, folder: Path = FOLDER) -> Iterator[Row]:
    """The table for a seed; of the drives nothing is drawn."""
    drives = open_drives(folder)
    rng = np.random.default_rng([seed, 6])
    for name, logs in (
            ("", drives), (", every other drive", drives[::2]), (", the others", drives[1::2]),
            (", jumping", [switched_drive(1200, seed=DRAWN * seed + k) for k in range(DRAWN)]),
            (", noise", [_noise(rng) for _ in range(DRAWN)])):
        for rate in RATES_HZ:
            yield _judged(name, logs, rate, seed)


def _noise(rng: np.random.Generator) -> Telemetry:
    elapsed_s = np.arange(0.0, 1200.0, 1 / HERTZ)
    return log(elapsed_s, current_a=rng.normal(-20.0, 10.0, len(elapsed_s)))


def _judged(name: str, logs: list[Telemetry], rate: float, seed: int) -> Row:
    found = np.array([pair for each in logs for pair in _thinned(each, rate)])
    told, missed = np.sqrt(np.mean(np.square(found), axis=0))
    held = float(np.mean(np.abs(found[:, 1]) <= COVERAGE_FACTOR * found[:, 0]))
    return Row(f"charge, {rate:g} points a second{name}, sampling term [% rms]", float(told),
               float(missed), float(missed / told), held, seed)


def _thinned(drive: Telemetry, rate_hz: float) -> Iterator[tuple[float, float]]:
    """Sampling term and error of each thinned copy. [% of the net charge]"""
    stride = round(HERTZ / rate_hz)
    for phase in range(stride):
        thin = every(drive, stride, phase)
        seen, amps = observe(thin, "current_a"), thin["current_a"]
        whole = drive.between(thin.elapsed_s[0], thin.elapsed_s[-1])
        truth = throughput(observe(whole, "current_a"), whole["current_a"]).net
        percent = 100 / abs(truth)
        yield (percent * sampling_term_ah(amps, seen),
               percent * (throughput(seen, amps).net - truth))


def main() -> None:
    print_rows(rows(int(sys.argv[1]) if len(sys.argv) > 1 else 1, *map(Path, sys.argv[2:])))


if __name__ == "__main__":
    main()
