"""Whether the cells are still those of the logs before: the pattern of their resistances.

No two cells have the same resistance, and age moves one or two of them, never all at once. Where
the whole pattern moves from one log to the next, numbers mean other cells from then on: they are
told in another order, or another pack is at the monitor. Two packs that are told apart by nothing
else, such as their percent, are told apart by this; packs whose cells spread by less than the
resistances are known to are not, and nothing is said.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from ..estimate import Verdict
from ..phrases import day_text, iso_utc
from ..telemetry import Floats
from .story import Dated

#: How far the middle cell is from its usual place, in standard deviations, where the pattern has
#: moved, and where it is the same. Chosen here: wear and a lead move one cell or two and never the
#: middle of all, which is at 0.7 for mere scatter.
MOVED: Final = 2.0
SAME: Final = 1.25
#: What warmth and amps leave of a ratio between logs, beside what a log knows. Chosen here: twice
#: what the invented season leaves.
_SCATTER: Final = 0.006
#: Logs that make a pattern, at least and at most.
LOGS_MIN: Final = 3
_LOGS_MAX: Final = 6
#: Median absolute deviation to standard deviation, for normal scatter.
_MAD: Final = 1.4826
#: Fewer cells make no pattern.
CELLS_MIN: Final = 6


@dataclass(frozen=True, slots=True)
class PatternBreak:
    """From one log on, numbers mean other cells."""

    #: Start of the first log with the new pattern. [s, Unix time]
    start_s: float
    #: ``turned_round``, ``moved_along`` or ``other_cells``.
    kind: str
    verdict: Verdict
    words: str
    next: str

    def as_json(self) -> dict[str, Any]:
        return {"start": iso_utc(self.start_s), "kind": self.kind, "verdict": self.verdict,
                "words": self.words, "next": self.next}


@dataclass(frozen=True, slots=True)
class _Seen:
    """The ratios of one log's resistances to its middle cell's, and their standard deviations."""

    start_s: float
    ratio: Floats
    sd: Floats


def pattern_breaks(logs: Sequence[Dated]) -> tuple[PatternBreak, ...]:
    """Where the cells' numbers changed their meaning, oldest first.

    Logs that do not tell the resistance of every cell, and those with another number of cells than
    the last, are passed over. A break is told when three logs in a row show the new pattern.
    """
    breaks: list[PatternBreak] = []
    known: list[_Seen] = []
    pending: list[_Seen] = []
    for log in _seen(logs):
        if len(known) < LOGS_MIN or not _has_moved(log, known):
            known, pending = [*known, log][-_LOGS_MAX:], []
            continue
        if pending and _off(log, _middle(pending)) > SAME:
            pending = []
        pending.append(log)
        if len(pending) == LOGS_MIN:
            breaks.append(_break(_middle(known), pending))
            known, pending = pending, []
    return tuple(breaks)


def since_last_break(logs: Sequence[Dated], breaks: Sequence[PatternBreak]) -> list[Dated]:
    """The logs whose numbers mean the cells of today."""
    return [log for log in logs if not breaks or log.start_s >= breaks[-1].start_s]


def _seen(logs: Sequence[Dated]) -> Iterator[_Seen]:
    whole = [log for log in logs if len(log.digest.cells) >= CELLS_MIN
             and np.isfinite([*log.digest.resistance_mohm, *log.digest.resistance_sd_mohm]).all()]
    for log in whole:
        if log.digest.cells == whole[-1].digest.cells:
            mohm = np.array(log.digest.resistance_mohm)
            middle = float(np.median(mohm))
            sd = np.array(log.digest.resistance_sd_mohm) / middle
            yield _Seen(log.start_s, mohm / middle, np.hypot(sd, _SCATTER))


def _middle(logs: Sequence[_Seen]) -> Floats:
    return np.asarray(np.median([log.ratio for log in logs], axis=0))


def _scatter(logs: Sequence[_Seen]) -> float:
    """Of a cell's ratio between logs that go together: that of the middle cell."""
    ratios = np.array([log.ratio for log in logs])
    return _MAD * float(np.median(np.abs(ratios - np.median(ratios, axis=0))))


def _has_moved(log: _Seen, known: Sequence[_Seen]) -> bool:
    """Whether the pattern is another, also without what all cells share: one cell that changed can
    make another the middle one, against which all are told."""
    pattern, scatter = _middle(known), _scatter(known)
    shared = float(np.median(log.ratio / pattern))
    return (_off(log, pattern, scatter) > MOVED
            and _off(replace(log, ratio=log.ratio / shared), pattern, scatter) > SAME)


def _off(log: _Seen, pattern: Floats, scatter: float = 0.0) -> float:
    """How far the middle cell is from where the pattern has it, in standard deviations."""
    return float(np.median(np.abs(log.ratio - pattern) / np.maximum(log.sd, scatter)))


def _break(before: Floats, now: Sequence[_Seen]) -> PatternBreak:
    day, count = day_text(now[0].start_s), len(before)
    orders = [("turned_round", before[::-1], "from the other end"),
              *(("moved_along", np.roll(before, k), f"{k} places further on")
                for k in range(1, count))]
    for kind, pattern, words in orders:
        if all(_off(log, pattern) <= SAME for log in now):
            return PatternBreak(
                now[0].start_s, kind, "yes",
                f"since {day} the cells are told {words}: the same cells under other numbers",
                "look at what was changed on the monitor that day; numbers of cells before it mean "
                "others")
    return PatternBreak(
        now[0].start_s, "other_cells", "cannot tell yet",
        f"since {day} no cell has the resistance it had before: another pack is at this monitor, "
        "or the cells are told in another order",
        "look which pack it is; if it is another, give it a name and logs of its own")
