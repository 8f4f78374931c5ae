"""How often the learner is right, silent or wrong, on monitors drawn at random, and how long it
takes: ``python -m tests.benchmarks.bench_learner [FIRST_SEED COUNT [READINGS]]``.

Each monitor is heard over one invented drive and read five times in three states. An answer is

- *strict* right when place, type, scale and offset are those drawn;
- *equal* right when it gives the drawn figure in the capture, and also in a frame with the
  largest figures the pack can have, where a field read too narrow would break;
- *wrong* when it is given and neither: the one outcome that must not happen.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np

from collector.learner import Lesson, learn
from collector.learner.candidates import Candidate
from tests.benchmarks.invented_protocols import START_MS, Invented, Truth, invent

#: Seeds below 10,000 were looked at while the learner was made; later ones were not.
FIRST_SEED, COUNT = 20_000, 200
QUANTITIES = ("voltage_v", "current_a", "soc_pct")
#: Frames that may differ: without a check, damaged ones cannot be told.
_SAME_SHARE = 0.99
#: Of the right place and wording more may: one damaged message stands until the next of its kind.
_STRICT_SHARE = 0.95
#: Largest size that must fit beside those seen. [V, A, %]
_MUST_FIT = {"voltage_v": 1.1, "current_a": 1.3, "soc_pct": 1.0}


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
    return Mark(seed, invented.title, seconds,
                {name: outcome(name, lesson, invented) for name in QUANTITIES})


def outcome(name: str, lesson: Lesson, invented: Invented) -> str:
    """``strict``, ``equal``, ``wrong`` or ``undecided``."""
    candidate = lesson.found.get(name)
    if candidate is None or lesson.columns is None:
        return "undecided"
    truth = invented.truth[name]
    heard_s = lesson.columns.times_s - START_MS / 1000
    frame = np.searchsorted(invented.times_s, heard_s + 1e-4, side="right") - 1
    same = np.mean(np.abs(truth.values[frame] - candidate.values) < 1e-6)
    if same > _STRICT_SHARE and _is_as_drawn(candidate, truth):
        return "strict"
    return "equal" if same > _SAME_SHARE and _has_room(name, candidate, truth) else "wrong"


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
    low, high = _MUST_FIT[name] * min(truth.values.min(), 0), _MUST_FIT[name] * truth.values.max()
    return min(ends) <= low and max(ends) >= min(high, 99.0 if name == "soc_pct" else np.inf)


def lines(marks: list[Mark]) -> Iterator[str]:
    """The figures, and every answer that is wrong."""
    total = len(marks)
    yield f"{total} invented monitors"
    yield f"{'':<12}{'strict':>8}{'right':>8}{'undecided':>11}{'wrong':>8}   (percent)"
    everything: Counter[str] = Counter()
    for name in QUANTITIES:
        counts = Counter(mark.outcomes[name] for mark in marks)
        everything.update(counts)
        yield _row(name, counts, total)
    yield _row("all", everything, total * len(QUANTITIES))
    seconds = [mark.seconds for mark in marks]
    yield (f"seconds of one processor each: median {np.median(seconds):.2f}, "
           f"largest {max(seconds):.2f}")
    for mark in marks:
        for name, outcome in mark.outcomes.items():
            if outcome == "wrong":
                yield f"wrong: seed {mark.seed}, {mark.title}: {name}"


def _row(name: str, counts: Counter[str], total: int) -> str:
    shares = [100 * n / total for n in (counts["strict"], counts["strict"] + counts["equal"],
                                        counts["undecided"], counts["wrong"])]
    return (f"{name:<12}{shares[0]:>8.1f}{shares[1]:>8.1f}{shares[2]:>11.1f}{shares[3]:>8.1f}")


def main(first: int = FIRST_SEED, count: int = COUNT, readings: int = 5) -> None:
    """Print the figures; two processes at most."""
    with ProcessPoolExecutor(2) as pool:
        marks = list(pool.map(partial(marked, readings=readings), range(first, first + count),
                              chunksize=4))
    print(f"the first {readings} of 5 readings in 3 states")
    print("\n".join(lines(marks)))


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
