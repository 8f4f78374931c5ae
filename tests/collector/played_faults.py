"""Faults of single figures; a stage that plays some rows with faults, and what a listener made of
it."""

from __future__ import annotations

import threading
from collections.abc import Sequence

from collector.frames.fields import Row
from collector.monitors import Description
from collector.record import Sample
from collector.simulator.faults import Fault
from collector.simulator.row_faults import Teller, altered
from collector.simulator.stage import Stage, play
from tests.collector.listening import heard_until, kinds, rows

#: When a fault begins. [s]
BEGUN_S = 0.4
#: The last row that a test shows: what is heard of it ends the listening.
LAST_V = 55.0
#: Faults of single figures: no wire shows them, so that the rows come as they were told. What
#: packhand makes of them is in ``test_standstill`` and ``tests/analysis/test_fault_answers``.
FIGURES = ("scale", "wrap", "frozen", "stuck-volts", "stuck-amps", "stuck-cell", "late-volts",
           "late-sign", "turned", "zero", "gain", "coarse", "clipped", "dead-cell", "twin-cell",
           "order")


def shown(number: int) -> Row:
    """A row whose volts and amps follow from its number."""
    row: Row = {"current_a": round(-10 - number / 10, 1), "voltage_v": 52.0 + number / 100,
                "soc_pct": 91.0, "temp_1_c": 18.0, "temp_2_c": 19.0, "state": "discharging",
                "fault": "none"}
    return row | {f"cell_{n:02d}_v": 3.25 for n in range(1, 17)}


def figure_faults(beat_s: float) -> list[Fault]:
    """All of them, one after the other, each for two beats."""
    return [Fault(BEGUN_S + 3 * beat_s * n, kind, 2 * beat_s) for n, kind in enumerate(FIGURES)]


def told_with_figure_faults(count: int) -> dict[str, set[float]]:
    """By column what some fault makes of some row: of one row or of two that follow each other."""
    told: dict[str, set[float]] = {}
    for kind in ("", *FIGURES):
        teller = Teller()
        for number in range(count):
            for name, value in teller.tell(shown(number), kind).items():
                if isinstance(value, float | int):
                    told.setdefault(name, set()).add(float(value))
    return told


def not_told(heard: list[Row], told: dict[str, set[float]]) -> list[tuple[str, float]]:
    """Volts and amps that were heard and never told, to a step of the wire."""
    pairs = [(name, float(value)) for row in heard for name, value in row.items()
             if name in ("voltage_v", "current_a") or name.startswith("cell_")]
    return [(name, value) for name, value in pairs if abs(value - LAST_V) > 0.02
            and not any(abs(abs(value) - abs(each)) < 0.02 for each in told.get(name, {value}))]


def heard_of_figure_faults(stage: Stage, monitor: Description, port: str,
                           beat_s: float) -> tuple[list[Sample], list[tuple[str, float]]]:
    """What is heard while all of them come in turn, and the figures in it that nobody told."""
    count = 3 * len(FIGURES) + 10
    samples = heard_of(stage, monitor, port, *figure_faults(beat_s), count=count, beat_s=beat_s)
    return samples, not_told(rows(samples), told_with_figure_faults(count))


def heard_of(stage: Stage, monitor: Description, port: str, *faults: Fault,
             count: int, beat_s: float, expected: Sequence[str] = ()) -> list[Sample]:
    """Play ``count`` rows, then a last one until it and as many events as expected are heard."""
    done, sent = threading.Event(), threading.Event()

    def rows_to_play() -> list[Row]:
        return [shown(n) for n in range(count)]

    def trouble() -> None:
        play(stage, rows_to_play(), beat_s, done, iter(faults))
        last = shown(0) | {"voltage_v": LAST_V}
        sent.set()
        while not done.wait(beat_s):
            stage.show(last)

    playing = threading.Thread(target=trouble)

    def is_enough(samples: list[Sample]) -> bool:
        if playing.ident is None:
            playing.start()
        return sent.is_set() and bool(rows(samples)) and len(kinds(samples)) >= len(expected) \
            and abs(float(rows(samples)[-1].get("voltage_v", 0.0)) - LAST_V) < 0.02

    try:
        return heard_until(monitor, port, is_enough)
    finally:
        done.set()
        playing.join()


def is_true(row: Row, count: int, fault: str = "",
            names: tuple[str, ...] = ("voltage_v", "current_a")) -> bool:
    """Whether these figures are together those of one row that was shown, to a step of the wire.

    Where the fault changes figures, those it makes of the row count, too.
    """
    said = [shown(n) for n in range(count)]
    said += [altered(one, fault) for one in said] + [shown(0) | {"voltage_v": LAST_V}]
    return any(all(abs(abs(float(one[name])) - abs(float(row[name]))) < 0.017
                   for name in names if name in row) for one in said)
