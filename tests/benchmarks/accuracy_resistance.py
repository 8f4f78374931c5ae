"""Resistance from ten minutes of recorded amps through a known pack: how far it misses.

A pack of 16 mohm at once, 4 more with 2 s and 6 more with 15 s; its volts rounded to 10 or 100 mV,
told in step with the amps or later; a row a second. The amps are those of recorded drives, and
such as jump at any moment, which a row a second tells least of. Errors are those that 95 of 100
stretches stay within; coverage is that of the 95 % interval. Bound: the aim. Aims: 3 % at 1 s in
step, 10 % with up to 0.7 s between the channels, 10 % at 10 s. Short strings with coarse volts have
no aim: they show that the steps of the volts decide, and what the interval makes of them.

``python -m tests.benchmarks.accuracy_resistance [SEED [FOLDER]]``
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from analysis.estimate import Answer, Estimate
from analysis.one_log.one_pole import one_pole
from analysis.one_log.resistance import STEPS_MIN, Resistance, find_resistance
from analysis.telemetry import Telemetry
from tests.analysis.made_logs import every, switched_drive
from tests.benchmarks.accuracy_cells import Row, print_rows
from tests.benchmarks.open_drives import FOLDER, HERTZ, open_drives

AT_ONCE_MOHM = 16.0
#: Added with these times. [mohm], [s]
LATER = ((4.0, 2.0), (6.0, 15.0))
STRETCH_S = 600.0
CASES = tuple((step_v, skew_s) for step_v in (0.01, 0.1) for skew_s in (0.0, 0.3, 0.7, -0.7))
#: Cells of strings whose volts move little.
SHORT = (16, 8, 4)
#: Stretches whose amps jump.
JUMPING = 60
JUMPING_CASES = ((0.1, 0.0), (0.1, 0.3), (0.1, -0.7))


def rows(seed: int, folder: Path = FOLDER) -> Iterator[Row]:
    """The table for a seed."""
    rng = np.random.default_rng([seed, 3])
    stretches = [_with_volts(part) for drive in open_drives(folder) for part in _parts(drive)]
    yield from _of_short_strings(stretches, seed)
    jumping = [_with_volts(switched_drive(int(STRETCH_S), seed=JUMPING * seed + number))
               for number in range(JUMPING)]
    for name, amps, cases in (("", stretches, CASES), ("jumping, ", jumping, JUMPING_CASES)):
        for step_v, skew_s in cases:
            found = [find_resistance(_shown(part, step_v, skew_s, int(rng.integers(HERTZ))))
                     for part in amps]
            yield from _judged(f"{name}{1000 * step_v:.0f} mV, {skew_s:+.1f} s apart", found,
                               skew_s, seed)


def _of_short_strings(stretches: list[Telemetry], seed: int) -> Iterator[Row]:
    """A quarter of the amps, as of a cart, told to 100 mV: how often there is an answer, beside how
    often the volts move by the steps that one needs; and how good it is."""
    for cells in SHORT:
        shown = [_shown(part.having(current_a=part["current_a"] / 4,
                                    voltage_v=part["voltage_v"] * cells / 64), 0.1, 0.0, 0)
                 for part in stretches]
        found = [find_resistance(part) for part in shown]
        told = float(np.mean([isinstance(r.after_1_s, Estimate) for r in found]))
        moving = float(np.mean([np.ptp(part["voltage_v"]) >= 0.1 * STEPS_MIN - 1e-6
                                for part in shown]))
        yield Row(f"resistance told, {cells} cells, 100 mV [share]", moving, told, told / moving,
                  told, seed)
        yield from _judged(f"{cells} cells, 100 mV", found, 0.0, seed, cells / 16)


def _parts(drive: Telemetry) -> list[Telemetry]:
    starts = np.arange(drive.elapsed_s[0], drive.elapsed_s[-1] - STRETCH_S + 1, STRETCH_S / 2)
    return [drive.between(start, start + STRETCH_S) for start in starts]


def _with_volts(part: Telemetry) -> Telemetry:
    amps = part["current_a"]
    volts = 52.8 + AT_ONCE_MOHM / 1000 * amps
    for mohm, time_s in LATER:
        pole = float(np.exp(-1 / HERTZ / time_s))
        volts = volts + mohm / 1000 * one_pole((1 - pole) * amps, pole)
    return part.having(voltage_v=volts)


def _shown(part: Telemetry, step_v: float, skew_s: float, phase: int) -> Telemetry:
    late = np.interp(part.elapsed_s - skew_s, part.elapsed_s, part["voltage_v"])
    return every(part.having(voltage_v=np.round(late / step_v) * step_v), HERTZ, phase)


def _judged(name: str, found: list[Resistance], skew_s: float, seed: int,
            size: float = 1.0) -> Iterator[Row]:
    at_1_s, at_10_s = [r.after_1_s for r in found], [r.after_10_s for r in found]
    for after_s, answers, goal in ((1, at_1_s, 10.0 if skew_s else 3.0), (10, at_10_s, 10.0)):
        truth = AT_ONCE_MOHM + sum(m * -np.expm1(-after_s / t) for m, t in LATER)
        within, held = _missed(answers, size * float(truth))
        yield Row(f"resistance at {after_s} s, {name} [% in 95 %]", goal, within, within / goal,
                  held, seed)


def _missed(answers: list[Answer], truth: float) -> tuple[float, float]:
    told = [a for a in answers if isinstance(a, Estimate)]
    errors = [100 * abs(a.value / truth - 1) for a in told]
    return float(np.percentile(errors, 95)), float(np.mean([a.low <= truth <= a.high
                                                            for a in told]))


def main() -> None:
    print_rows(rows(int(sys.argv[1]) if len(sys.argv) > 1 else 1, *map(Path, sys.argv[2:])))


if __name__ == "__main__":
    main()
