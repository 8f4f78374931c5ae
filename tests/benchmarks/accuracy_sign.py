"""Sign of the amps on recorded drives: how soon it is decided, how often wrongly, and unsigned.

Drives at one row a second, each from ten moments of its first second, turned at random; as they
are, and as a pack of 52 V whose volts are rounded to 10 or 100 mV. Each is looked at over growing
times until it is decided. Then their amps without sign: how far the net charge is off, in percent
of what flowed both ways. Aims: none wrong (shown: 1 in 10,000 at most); 90 % decided by 180 s, all
by 300 s; unsigned amps flagged, off by 0.5 % (median) and 1.5 % (one in ten); amps that never flow
inward harmed by 0.5 % at most.

``python -m tests.benchmarks.accuracy_sign [SEED [FOLDER]]``
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from analysis.one_log.direction import direction_from_volts
from analysis.one_log.sign import find_sign
from analysis.telemetry import Telemetry
from tests.analysis.made_logs import every
from tests.benchmarks.accuracy_cells import Row, print_rows
from tests.benchmarks.open_drives import FOLDER, HERTZ, TO_52_V, open_drives

LOOKS_S = (10, 15, 20, 30, 45, 60, 90, 120, 180, 300)
WORDS = {1.0: "negative_is_discharge", -1.0: "positive_is_discharge"}
#: Name, factor on the volts and their display step. [V]
PACKS = (("390 V, 100 mV", 1.0, 0.1), ("52 V, 10 mV", TO_52_V, 0.01),
         ("52 V, 100 mV", TO_52_V, 0.1))


def rows(seed: int, folder: Path = FOLDER) -> Iterator[Row]:
    """The table for a seed."""
    rng = np.random.default_rng([seed, 1])
    drives = open_drives(folder)
    for name, factor, step_v in PACKS:
        logs = [_shown(every(drive, HERTZ, phase), factor, step_v)
                for drive in drives for phase in range(HERTZ)]
        decided_s, wrong = _decisions(logs, rng)
        by_180, by_300 = (float(np.mean(decided_s <= limit)) for limit in (180, 300))
        yield Row(f"sign, {name}, decided by 180 s [share]", 0.9, by_180, by_180 / 0.9, 1 - wrong,
                  seed)
        yield Row(f"sign, {name}, decided by 300 s [share]", 1.0, by_300, by_300, 1 - wrong, seed)
        yield from _unsigned(name, logs, seed)
    yield _never_inward(drives, seed)


def _shown(log: Telemetry, factor: float, step_v: float) -> Telemetry:
    return log.having(voltage_v=np.round(log["voltage_v"] * factor / step_v) * step_v)


def _decisions(logs: list[Telemetry], rng: np.random.Generator) -> tuple[np.ndarray, float]:
    """When each was decided, infinite if by no look; and the share decided wrongly."""
    decided_s, wrong = np.full(len(logs), np.inf), 0
    for k, log in enumerate(logs):
        turned = float(rng.choice([1.0, -1.0]))
        for look_s in LOOKS_S:
            part = log.between(log.elapsed_s[0], log.elapsed_s[0] + look_s)
            found = find_sign(part.having(current_a=turned * part["current_a"])).convention
            if found != "undecided":
                decided_s[k], wrong = look_s, wrong + (found != WORDS[turned])
                break
    return decided_s, wrong / len(logs)


def _unsigned(name: str, logs: list[Telemetry], seed: int) -> Iterator[Row]:
    """Median and one in ten; the column of coverage is the share that is flagged."""
    off, flagged = [], []
    for log in logs[::HERTZ]:
        bare = log.having(current_a=np.abs(log["current_a"]))
        found = find_sign(bare)
        flagged.append(found.convention == "unsigned")
        told = direction_from_volts(bare, found.lag_s) * bare["current_a"]
        off.append(100 * abs(np.sum(told - log["current_a"])) / np.sum(bare["current_a"]))
    for part, goal in ((50, 0.5), (90, 1.5)):
        reached = float(np.percentile(off, part))
        yield Row(f"unsigned amps, {name}, {part} % of drives within [%]", goal, reached,
                  reached / goal, float(np.mean(flagged)), seed)


def _never_inward(drives: list[Telemetry], seed: int) -> Row:
    """What is done to unsigned amps that only ever flow out, of a pack of 52 V and 16 mohm."""
    harmed = []
    for drive in drives:
        log = every(drive, HERTZ)
        out = np.maximum(-log["current_a"], 0.0)
        bare = log.having(current_a=out, voltage_v=np.round(52.8 - 0.016 * out, 1))
        found = find_sign(bare)
        told = direction_from_volts(bare, found.lag_s) * out
        is_flagged = found.convention == "unsigned"
        harmed.append(100 * abs(told.sum() + out.sum()) / out.sum() if is_flagged else 0.0)
    reached = float(np.percentile(harmed, 90))
    return Row("unsigned amps, never inward, 90 % of drives harmed by [%]", 0.5, reached,
               reached / 0.5, float(np.mean(np.array(harmed) <= 0.5)), seed)


def main() -> None:
    print_rows(rows(int(sys.argv[1]) if len(sys.argv) > 1 else 1, *map(Path, sys.argv[2:])))


if __name__ == "__main__":
    main()
