"""One clean time axis for a log, and the gaps in it.

A log carries two clocks. The steady one (``monotonic_s``) rules; the wall clock says when the
log began, bridges a restart of the recorder, and is otherwise only checked. ``mend_time`` turns
both into strictly increasing seconds and tells what it mended. ``observe`` picks the rows where
columns hold figures and finds the steps that nothing may integrate across; ``Watched`` is a log
that keeps what was observed of it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from typing import Any, Final, Self, TypeVar

import numpy as np
from numpy.typing import NDArray

from .telemetry import Event, Floats, Telemetry

Rows = NDArray[np.intp]
Told = TypeVar("Told")

#: A step longer than this many usual steps is a gap. Chosen here: a radio that drops a few
#: samples in a row stays whole, a lost link does not.
GAP_STEPS: Final = 5.0
#: A missing figure widens its step to twice the usual; from here on it counts as missing.
HOLE_STEPS: Final = 1.5
#: Wall and steady clock may part this far before it is called a step. [s]
CLOCK_STEP_S: Final = 0.5
#: Rows this far out of place were merely written late; further, the clock was set back.
LATE_ROWS_MAX: Final = 16
#: What a receiver tells.
_PLACE: Final = frozenset(("speed_m_s", "distance_m", "latitude_deg", "longitude_deg",
                           "elevation_m"))
#: Kinds of event that say nothing was heard.
GAP_CAUSES: Final = ("link lost", "silent", "asleep", "computer slept", "not saved", "link back")
#: Steps looked at for the usual step; a median of all of 10 M steps would cost more than a sum.
_MEDIAN_OF: Final = 5_000
_PIECE_ROWS: Final = 32_768


@dataclass(frozen=True, slots=True)
class ClockStep:
    """The wall clock was set while recording."""

    elapsed_s: float
    #: How far it was moved; negative is back. [s]
    step_s: float


@dataclass(frozen=True, slots=True)
class MendedTime:
    """Strictly increasing seconds, and what it took to get them."""

    #: Seconds since the first row, strictly increasing. [s]
    elapsed_s: Floats
    #: Rows of the log that they belong to, in order; ``None`` if all rows are kept as they were.
    rows: Rows | None
    #: Unix time of the first row. [s]
    start_s: float
    #: Rows dropped because an earlier row has the same time.
    duplicates: int = 0
    #: Rows that were written late and put in their place.
    reordered: int = 0
    #: Times the steady clock began again: the recorder was restarted.
    restarts: int = 0
    clock_steps: tuple[ClockStep, ...] = ()
    #: Rows dropped because they have no time.
    untimed: int = 0

    def as_json(self) -> dict[str, int]:
        """The counts of what was mended; only those that are not 0."""
        counts = {"duplicates": self.duplicates, "reordered": self.reordered,
                  "restarts": self.restarts, "clock_steps": len(self.clock_steps),
                  "untimed": self.untimed}
        return {name: count for name, count in counts.items() if count}


def mend_time(wall_s: Floats, steady_s: Floats | None = None) -> MendedTime:
    """Strictly increasing seconds from a log's clocks.

    Parameters
    ----------
    wall_s
        Unix time of each row; NaN where it is missing. [s]
    steady_s
        The recorder's own clock; ``None`` or NaN throughout if the log has none. [s]

    Notes
    -----
    With a steady clock the wall clock is only checked; each part of it by more than
    ``CLOCK_STEP_S`` is reported. Without one, rows a little out of order are sorted, and a
    lasting step back is bridged with one usual step. A step forward cannot be told from a gap,
    and is one.
    """
    steady = steady_s if steady_s is not None and np.isfinite(steady_s).all() else None
    if steady is not None and len(steady):
        return _by_steady_clock(wall_s, steady)
    timed = np.flatnonzero(np.isfinite(wall_s))
    untimed = len(wall_s) - len(timed)
    return _by_wall_clock(wall_s[timed], timed if untimed else None, untimed)


def _by_steady_clock(wall_s: Floats, steady_s: Floats) -> MendedTime:
    elapsed = steady_s - steady_s[0]
    steps = np.diff(elapsed)
    start = float(wall_s[0])
    clock_steps = _clock_steps(wall_s, elapsed)
    restarts = np.flatnonzero(steps < 0) if steps.min(initial=0.0) < 0 else ()
    if len(restarts):
        usual = usual_step_s(elapsed)
        wall_steps = np.diff(wall_s)[restarts]
        steps[restarts] = np.where(wall_steps > 0, wall_steps, usual)
        elapsed = np.concatenate(([0.0], np.cumsum(steps)))
    kept, rows, duplicates = _without_duplicates(elapsed, steps)
    return MendedTime(kept, rows, start, duplicates, 0, len(restarts), clock_steps)


def _clock_steps(wall_s: Floats, elapsed_s: Floats) -> tuple[ClockStep, ...]:
    spans = [(float(offset.min()), float(offset.max())) for offset in
             (wall_s[part] - elapsed_s[part] for part in pieces(len(wall_s)))]
    if not max(high for _, high in spans) - min(low for low, _ in spans) > CLOCK_STEP_S:
        return ()
    jumps = np.diff(wall_s - elapsed_s)
    found = np.flatnonzero(np.abs(jumps) > CLOCK_STEP_S)
    return tuple(ClockStep(float(elapsed_s[k + 1]), float(jumps[k])) for k in found)


def _by_wall_clock(wall_s: Floats, rows: Rows | None, untimed: int) -> MendedTime:
    if not len(wall_s):
        return MendedTime(np.empty(0), rows, float("nan"), untimed=untimed)
    steps = np.diff(wall_s)
    if not len(steps) or steps.min() > 0:
        return MendedTime(wall_s - wall_s[0], rows, float(wall_s[0]), untimed=untimed)
    order = np.argsort(wall_s, kind="stable")
    moved = int(np.abs(order - np.arange(len(order))).max())
    reordered = 0
    clock_steps: tuple[ClockStep, ...] = ()
    elapsed = wall_s - wall_s[0]
    if moved <= LATE_ROWS_MAX:
        reordered = int(np.count_nonzero(steps < 0))
        if moved:
            elapsed = elapsed[order]
            rows = order if rows is None else rows[order]
    else:
        elapsed, clock_steps = _bridge_steps_back(elapsed, steps)
    kept, keep, duplicates = _without_duplicates(elapsed - elapsed[0], np.diff(elapsed))
    if keep is not None:
        rows = keep if rows is None else rows[keep]
    return MendedTime(kept, rows, float(wall_s.min() if reordered else wall_s[0]),
                      duplicates, reordered, 0, clock_steps, untimed)


def _bridge_steps_back(elapsed_s: Floats, steps: Floats) -> tuple[Floats, tuple[ClockStep, ...]]:
    usual = usual_step_s(elapsed_s)
    back = np.flatnonzero(steps < 0)
    told = steps[back]
    bridged = steps.copy()
    bridged[back] = usual
    mended = np.concatenate(([0.0], np.cumsum(bridged)))
    return mended, tuple(ClockStep(float(mended[k + 1]), float(step - usual))
                         for k, step in zip(back, told, strict=True))


def _without_duplicates(elapsed_s: Floats, steps: Floats) -> tuple[Floats, Rows | None, int]:
    if not len(steps) or steps.min() > 0:
        return elapsed_s, None, 0
    keep = np.flatnonzero(np.concatenate(([True], steps > 0)))
    return elapsed_s[keep], keep, len(elapsed_s) - len(keep)


def pieces(count: int) -> Iterator[slice]:
    """Slices that cover rows in order, each small enough to stay in the processor's cache."""
    return (slice(first, first + _PIECE_ROWS) for first in range(0, count, _PIECE_ROWS))


def usual_step_s(elapsed_s: Floats) -> float:
    """The median step between rows, from evenly spread short stretches; NaN if there is none."""
    count = len(elapsed_s) - 1
    if count < 1:
        return float("nan")
    picks = np.arange(count) if count <= _MEDIAN_OF else (
        np.linspace(0, count - 1, _MEDIAN_OF).astype(np.intp))
    steps = elapsed_s[picks + 1] - elapsed_s[picks]
    forward = steps[steps > 0]
    if not len(forward):
        return float("nan")
    # The lower of two middles: in a log of three steps a hole must not pass for the usual.
    middle = (len(forward) - 1) // 2
    return float(np.partition(forward, middle)[middle])


@dataclass(frozen=True, slots=True)
class Gap:
    """Time that nobody saw."""

    start_s: float
    end_s: float
    cause: str

    @property
    def seconds(self) -> float:
        return self.end_s - self.start_s


@dataclass(frozen=True)
class Observed:
    """Rows where columns hold figures, and the steps between them that were seen."""

    #: The columns that were asked for.
    columns: tuple[str, ...]
    #: Row numbers, or ``None`` if every row holds figures.
    rows: Rows | None
    #: Seconds at those rows. [s]
    time_s: Floats
    #: Width of each step between them; 0 across a gap. One fewer than rows. [s]
    width_s: Floats
    #: Numbers of the steps that are gaps.
    gap_steps: Rows
    #: Median step. [s]
    usual_s: float

    def pick(self, values: Floats) -> Floats:
        """A column at those rows."""
        return values if self.rows is None else values[self.rows]

    def rows_of(self, first: int, end: int) -> Rows:
        """Row numbers of the positions from ``first`` to before ``end``."""
        if self.rows is None:
            return np.arange(first, min(end, len(self.time_s)))
        return self.rows[first:end]

    @cached_property
    def seconds(self) -> float:
        """Observed time: the sum of all steps but the gaps. [s]"""
        return float(self.width_s.sum())

    @cached_property
    def weights_s(self) -> Floats:
        """The seconds that each row stands for in a trapezoid sum. [s]"""
        weights = np.zeros(len(self.time_s))
        weights[1:] = self.width_s
        weights[:-1] += self.width_s
        weights *= 0.5
        return weights

    def integral(self, values: Floats) -> float:
        """Trapezoid sum of figures at the rows over the observed steps, in unit-seconds."""
        # Piece by piece, for the sum of sums rounds less than one long sum.
        return float(sum(np.einsum("k,k", self.weights_s[part], values[part])
                         for part in pieces(len(values))))

    @cached_property
    def clock_s(self) -> Floats:
        """Observed time since the first row, at each row. [s]"""
        if len(self.gap_steps):
            return np.concatenate(([0.0], np.cumsum(self.width_s)))
        return self.time_s - self.time_s[:1]

    def running(self, *factors: Floats) -> Floats:
        """Trapezoid sum of the factors' product from the first row to each, in unit-seconds."""
        total = np.empty(len(self.time_s))
        total[:1] = 0.0
        for part, steps in self._steps(factors):
            steps[0] += total[part.start]
            np.cumsum(steps, out=total[part.start + 1: part.stop + 1])
        return total

    def running_at(self, places: Rows, *factors: Floats) -> Floats:
        """``running`` at places in rising order: the first row, others, and the last one again."""
        moved = np.zeros(len(self.time_s))
        for part, steps in self._steps(factors):
            moved[part.start: part.stop] = steps
        total = np.zeros(len(places))
        np.cumsum(np.add.reduceat(moved, places)[:-1], out=total[1:])
        return total

    def _steps(self, factors: tuple[Floats, ...]) -> Iterator[tuple[slice, Floats]]:
        """What each step adds to the trapezoid sum of the factors' product, piece by piece."""
        for part in pieces(len(self.width_s)):
            rows = slice(part.start, part.stop + 1)
            figures = factors[0][rows]
            for factor in factors[1:]:
                figures = figures * factor[rows]
            steps = figures[1:] + figures[:-1]
            steps *= self.width_s[part]
            steps *= 0.5
            yield slice(part.start, part.start + len(steps)), steps

    def runs(self) -> list[tuple[int, int]]:
        """First and one-past-last position of each stretch without a gap."""
        edges = [0, *(int(k) + 1 for k in self.gap_steps), len(self.time_s)]
        return [(a, b) for a, b in pairwise(edges) if b > a]


@dataclass(frozen=True, slots=True)
class Watched(Telemetry):
    """A log that keeps what ``observe`` saw of it, for a reader that asks again and again.

    What is kept is of these arrays: ``between`` and ``having`` begin anew.
    """

    _kept: dict[frozenset[str], Observed] = field(default_factory=dict, init=False, repr=False,
                                                  compare=False)
    _told: dict[Callable[[Telemetry], Any], Any] = field(default_factory=dict, init=False,
                                                         repr=False, compare=False)

    @classmethod
    def of(cls, telemetry: Telemetry) -> Self:
        """The same log, watched; one that is watched already goes on being so."""
        if isinstance(telemetry, cls):
            return telemetry
        return cls(telemetry.start, telemetry.elapsed_s, telemetry.columns, telemetry.events,
                   telemetry.meta)

    def observed(self, *columns: str) -> Observed:
        """What ``observe`` tells of the columns, worked out the first time."""
        asked = frozenset(columns)
        if asked not in self._kept:
            whole = next((seen for seen in self._kept.values() if seen.rows is None), None)
            self._kept[asked] = _observe(self, columns, whole)
        return self._kept[asked]

    def once(self, ask: Callable[[Telemetry], Told]) -> Told:
        """What a question tells of the log, worked out the first time."""
        if ask not in self._told:
            self._told[ask] = ask(self)
        told: Told = self._told[ask]
        return told


def once(telemetry: Telemetry, ask: Callable[[Telemetry], Told]) -> Told:
    """What a question tells of a log; a watched log is asked only once."""
    return telemetry.once(ask) if isinstance(telemetry, Watched) else ask(telemetry)


def observe(telemetry: Telemetry, *columns: str, like: Observed | None = None) -> Observed:
    """The rows where all the columns hold figures, and which steps between them were seen.

    ``like`` is what was observed of other columns of the same log; where both hold figures in
    every row it is the answer, and given back.

    A step is a gap if it is longer than ``GAP_STEPS`` usual steps, if a figure is missing where
    one was due (NaN in a row, and the step is longer than ``HOLE_STEPS`` usual ones), or if an
    event in it says that nothing was heard. A monitor that sends amps in every second row has no
    gaps: its amps were not due in the rows between.

    Where two monitors share a log (``origin`` in its metadata names one ``beside``), the rows of
    the other are passed over, and one falls silent while the other goes on: there a step with such
    an event must be longer than ``HOLE_STEPS``, too.
    """
    if isinstance(telemetry, Watched):
        return telemetry.observed(*columns)
    return _observe(telemetry, columns, like)


def _observe(telemetry: Telemetry, columns: tuple[str, ...], like: Observed | None) -> Observed:
    whole = like if like is not None and like.rows is None else None
    unseen = [c for c in columns if whole is None or c not in whole.columns]
    if whole is not None and all(_is_finite(telemetry[column]) for column in unseen):
        return whole
    rows = _finite_rows([telemetry[column] for column in columns])
    time_s = telemetry.elapsed_s if rows is None else telemetry.elapsed_s[rows]
    width_s = np.diff(time_s)
    usual = usual_step_s(time_s)
    broken = width_s > GAP_STEPS * usual
    is_shared = bool(telemetry.meta.get("origin", {}).get("beside"))
    if rows is not None:
        places = _own_places(telemetry, rows) if is_shared else rows
        broken |= (np.diff(places) > 1) & (width_s > HOLE_STEPS * usual)
    steps = np.flatnonzero(broken)
    caused = _steps_with_cause(time_s, telemetry.events)
    if is_shared:
        caused = caused[width_s[caused] > HOLE_STEPS * usual]
    if len(caused):
        steps = np.union1d(steps, caused)
    width_s[steps] = 0.0
    return Observed(columns, rows, time_s, width_s, steps, usual)


def _own_places(telemetry: Telemetry, rows: Rows) -> Rows:
    """The rows' numbers among those of their monitor: rows with a figure of any column that is
    ever told together with theirs. Speed and place, worked out for every row on loading, tell
    nothing about whose row it is."""
    asked = np.zeros(len(telemetry), dtype=bool)
    asked[rows] = True
    own = asked.copy()
    for name, values in telemetry.columns.items():
        told = np.isfinite(values)
        if name not in _PLACE and (told & asked).any():
            own |= told
    return np.cumsum(own)[rows]


def _is_finite(column: Floats) -> bool:
    # A sum is finite only if all its terms are, and costs a quarter of a mask of them.
    return bool(np.isfinite(column.sum()))


def _finite_rows(columns: list[Floats]) -> Rows | None:
    if all(_is_finite(column) for column in columns):
        return None
    mask = np.isfinite(columns[0])
    for column in columns[1:]:
        mask &= np.isfinite(column)
    return None if mask.all() else np.flatnonzero(mask)


def _steps_with_cause(time_s: Floats, events: Iterable[Event]) -> Rows:
    at = np.array([e.elapsed_s for e in events if e.kind in GAP_CAUSES])
    steps = np.searchsorted(time_s, at) - 1
    return np.unique(steps[(steps >= 0) & (steps < len(time_s) - 1)])


def gaps_of(telemetry: Telemetry, observed: Observed) -> tuple[Gap, ...]:
    """The gaps with their causes, as the log's events tell them."""
    return tuple(_gap(telemetry, float(observed.time_s[k]), float(observed.time_s[k + 1]))
                 for k in observed.gap_steps)


def _gap(telemetry: Telemetry, start_s: float, end_s: float) -> Gap:
    causes = [f"{e.kind}: {e.words}" if e.words else e.kind for e in telemetry.events
              if e.kind in GAP_CAUSES and e.kind != "link back" and start_s <= e.elapsed_s <= end_s]
    return Gap(start_s, end_s, causes[0] if causes else "no samples, cause not known")
