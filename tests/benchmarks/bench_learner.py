"""How often the learner is right, silent or wrong, on monitors drawn at random, and how long it
takes: ``python -m tests.benchmarks.bench_learner [FIRST_SEED COUNT [READINGS]]``.

Each monitor is heard over one invented drive and read five times in three states. An answer is

- *strict* right when place, type, scale and offset are those drawn;
- *equal* right when it gives the drawn figure in the capture, and also in a frame with the
  largest figures the pack can have, where a field read too narrow would break;
- *wrong* when it is given and neither: the one outcome that must not happen.

Temperatures, which are typed, and cells, which are not, count where a monitor sends them. Five
looks within a quarter of an hour often show one or two figures of a temperature: those that differ
by two steps of the display have a row of their own. Where no temperature is sent, the one typed is
of the display's own sensor, and every answer is wrong: row ``not sent``.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np

from collector.learner import Lesson, Reading, learn
from collector.learner.candidates import Candidate
from collector.learner.columns import Columns, Rows
from collector.learner.text_cells import TextCells
from tests.benchmarks.invented_figures import Truth
from tests.benchmarks.invented_protocols import START_MS, Invented, invent

#: Seeds below 50,200 were looked at while the learner was made; later ones were not.
FIRST_SEED, COUNT = 60_000, 200
#: Temperatures typed that differ, and such as no byte says.
MOVED, NOT_SENT = "temp, moved", "not sent"
QUANTITIES = ("voltage_v", "current_a", "soc_pct")
#: Frames that may differ: without a check, damaged ones cannot be told.
_SAME_SHARE = 0.99
#: Of the right place and wording more may: one damaged message stands until the next of its kind.
_STRICT_SHARE = 0.95
#: Largest size that must fit, as a share of the largest seen.
_MUST_FIT = {"voltage_v": 1.1, "current_a": 1.3, "soc_pct": 1.0, "temp_1_c": 1.3}


@dataclass(frozen=True)
class Mark:
    """One monitor's outcome."""

    seed: int
    title: str
    seconds: float
    outcomes: dict[str, str]


def marked(seed: int, readings: int = 5) -> Mark:
    """Let the learner work on one monitor with its first readings."""
    invented = invent(seed)
    begin = time.process_time()
    lesson = learn(invented.chunks, invented.readings[:readings])
    seconds = time.process_time() - begin
    outcomes = {name: outcome(name, lesson, invented)
                for name in (*QUANTITIES, "temp_1_c") if name in invented.truth}
    if "temp_1_c" not in invented.truth:
        outcomes[NOT_SENT] = "wrong" if "temp_1_c" in lesson.found else "undecided"
    elif _has_moved(invented.readings[:readings]):
        outcomes[MOVED] = outcomes["temp_1_c"]
    if invented.cells_v is not None:
        outcomes["cells"] = cells_outcome(lesson, invented)
    return Mark(seed, invented.title, seconds, outcomes)


def _has_moved(readings: Sequence[Reading]) -> bool:
    """Whether the typed temperatures differ by two steps of the display."""
    typed_c = [reading.values["temp_1_c"] for reading in readings]
    return bool(max(typed_c) - min(typed_c) > 1.99 * readings[0].steps["temp_1_c"])


def outcome(name: str, lesson: Lesson, invented: Invented) -> str:
    """``strict``, ``equal``, ``wrong`` or ``undecided``."""
    candidate = lesson.found.get(name)
    if candidate is None or lesson.columns is None:
        return "undecided"
    truth = invented.truth[name]
    same = np.mean(np.abs(truth.values[_heard(lesson.columns, invented)]
                          - candidate.values) < 1e-6)
    if same > _STRICT_SHARE and _is_as_drawn(candidate, truth):
        return "strict"
    return "equal" if same > _SAME_SHARE and _has_room(name, candidate, truth) else "wrong"


def _heard(columns: Columns, invented: Invented) -> Rows:
    """The frame sent of each frame heard."""
    heard_s = columns.times_s - START_MS / 1000
    found: Rows = np.searchsorted(invented.times_s, heard_s + 1e-4, side="right") - 1
    return found


def cells_outcome(lesson: Lesson, invented: Invented) -> str:
    """``equal`` where all cells read what was sent; several groups that fit are no answer."""
    if len(lesson.cells) != 1 or lesson.columns is None or invented.cells_v is None:
        return "undecided"
    sent_v, cells = invented.cells_v[_heard(lesson.columns, invented)], lesson.cells[0]
    read_v = cells.values_v if isinstance(cells, TextCells) else cells.values_v(
        lesson.columns.frames)  # type: ignore[attr-defined]
    if read_v.shape != sent_v.shape:
        return "wrong"
    same = np.mean(np.abs(read_v - sent_v) < 1e-6)
    return "equal" if same > _STRICT_SHARE else "wrong"


def _is_as_drawn(candidate: Candidate, truth: Truth) -> bool:
    return (candidate.spot.place == truth.place and candidate.spot.type == truth.type
            and abs(candidate.scale - truth.scale) < 1e-12
            and abs(candidate.offset - truth.offset) < 1e-9
            and (candidate.flag.at if candidate.flag else None) == truth.flag_at)


def _has_room(name: str, candidate: Candidate, truth: Truth) -> bool:
    """Whether the answer can say the largest figures the pack can have."""
    if candidate.spot.form is None:
        return True
    ends = [end * candidate.scale + candidate.offset for end in candidate.spot.form.span()]
    if candidate.flag is not None:
        ends += [-end for end in ends]
    more = _MUST_FIT[name]
    low, high = more * min(truth.values.min(), 0), more * truth.values.max()
    return bool(min(ends) <= low and max(ends) >= {"soc_pct": min(high, 99.0)}.get(name, high))


def lines(marks: list[Mark]) -> Iterator[str]:
    """The figures, and every answer that is wrong."""
    yield f"{len(marks)} invented monitors"
    yield (f"{'':<12}{'monitors':>9}{'strict':>8}{'right':>8}{'undecided':>11}{'wrong':>8}"
           "   (percent)")
    yield _row("these three", marks, QUANTITIES)
    for name in (*QUANTITIES, "temp_1_c", MOVED, NOT_SENT, "cells"):
        yield _row(name, marks, (name,))
    seconds = [mark.seconds for mark in marks]
    yield (f"seconds of one processor each: median {np.median(seconds):.2f}, "
           f"largest {max(seconds):.2f}")
    for mark in marks:
        for name, outcome in mark.outcomes.items():
            if outcome == "wrong" and name != MOVED:
                yield f"wrong: seed {mark.seed}, {mark.title}: {name}"


def _row(title: str, marks: list[Mark], names: tuple[str, ...]) -> str:
    counts = Counter(mark.outcomes[name] for mark in marks for name in names
                     if name in mark.outcomes)
    total = max(counts.total(), 1)
    shares = [100 * n / total for n in (counts["strict"], counts["strict"] + counts["equal"],
                                        counts["undecided"], counts["wrong"])]
    return (f"{title:<12}{total:>9}{shares[0]:>8.1f}{shares[1]:>8.1f}{shares[2]:>11.1f}"
            f"{shares[3]:>8.1f}")


def main(first: int = FIRST_SEED, count: int = COUNT, readings: int = 5) -> None:
    """Print the figures; two processes at most."""
    with ProcessPoolExecutor(2) as pool:
        marks = list(pool.map(partial(marked, readings=readings), range(first, first + count),
                              chunksize=4))
    print(f"the first {readings} of 5 readings in 3 states")
    print("\n".join(lines(marks)))


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
