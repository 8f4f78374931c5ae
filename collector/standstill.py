"""A monitor whose frames go on while its figures stand still: all of them, or one.

One figure alone may stand still by right, so each is held against another that moves it: amps move
the volts, volts the amps, and all cells move together. How often a figure stands still through
such a swing is learnt while it is alive; it is told when going on so would be mere chance.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from .gaps import RESTING_A
from .record import Sample, cell_columns, member_of

#: A running number stands still after this long, and after so many of its longest steps. [s]
_NUMBER_S: Final = 3.0
_NUMBER_STEPS: Final = 5
#: So do all figures at once, while amps flow. [s] Chosen here: a charger's even amps keep a coarse
#: display still for a minute (common practice, no source).
_FIGURES_S: Final = 120.0
#: A swing of the amps [A], of the pack volts [parts] and of the cells' mean [V] that the figures it
#: moves should answer. Chosen here: a few steps of a usual display (common practice, no source).
_SWING_A: Final = 8.0
_SWING_PART: Final = 0.003
_SWING_CELL_V: Final = 0.004
#: Odds against chance, and swings that must have been answered before. Chosen here.
_LOG_ODDS: Final = math.log(1e9)
_ANSWERS_MIN: Final = 12


class Standstill:
    """Watches the samples of one connection."""

    def __init__(self) -> None:
        self._number, self._figures = _Same(), _Same()
        self._longest_s = 0.0
        #: By the figure that swings, and by the one that should answer.
        self._swings: dict[str, _Swings] = {}
        self._answers: dict[str, _Answers] = {}

    def words(self, sample: Sample) -> str:
        """What to say now: once for each standstill, else empty."""
        return "; ".join(self._found(sample))

    def _found(self, sample: Sample) -> Iterator[str]:
        number, now_s = sample.values.get("sequence"), sample.monotonic_s
        still_s = self._number.still_s(number, now_s)
        self._longest_s = max(self._longest_s, self._number.ended_s)
        limit_s = max(_NUMBER_S, _NUMBER_STEPS * self._longest_s)
        if number is not None and self._longest_s > 0 and self._number.is_new(still_s >= limit_s):
            yield f"the running number, {number:g}, stands {_still(still_s)} while frames go on"
        still_s = self._figures.still_s(
            {name: value for name, value in sample.values.items() if name != "sequence"}, now_s)
        is_used = abs(_number_of(sample.values, "current_a")) > RESTING_A
        if self._figures.is_new(is_used and still_s >= _FIGURES_S):
            yield f"every figure stands {_still(still_s)} while frames go on"
        yield from self._unanswered(sample)

    def _unanswered(self, sample: Sample) -> Iterator[str]:
        for mover, level, swing, names in _movers(sample.values):
            if not self._swings.setdefault(mover, _Swings(level)).has_turned(level, swing):
                continue
            for name in names:
                answers = self._answers.setdefault(name, _Answers())
                still_s = answers.take(_number_of(sample.values, name), sample.monotonic_s)
                if still_s:
                    yield _words(name, still_s)


class _Same:
    """How long one thing has been the same."""

    def __init__(self) -> None:
        self._said: object = None
        self._since_s = 0.0
        self._is_told = False
        #: How long the one before was the same, if it has just ended and was not told of. [s]
        self.ended_s = 0.0

    def still_s(self, said: object, now_s: float) -> float:
        self.ended_s = 0.0
        if said != self._said:
            if self._said is not None and not self._is_told:
                self.ended_s = now_s - self._since_s
            self._said, self._since_s, self._is_told = said, now_s, False
        return now_s - self._since_s

    def is_new(self, is_still: bool) -> bool:
        """Whether it is to be told now: once for each standstill."""
        is_new = is_still and not self._is_told
        self._is_told = self._is_told or is_still
        return is_new


@dataclass(slots=True)
class _Swings:
    """The turns of a figure that goes up and down: what merely drifts moves nothing else."""

    level: float
    is_up: bool | None = None

    def has_turned(self, level: float, swing: float) -> bool:
        """Whether it has gone by a swing the other way than before."""
        if abs(level - self.level) < swing:
            return False
        was_up, self.is_up = self.is_up, level > self.level
        self.level = level
        return self.is_up is not was_up


@dataclass(slots=True)
class _Answers:
    """How often one figure changed where another swung."""

    said: float = math.nan
    since_s: float = 0.0
    changed: int = 0
    stood: int = 0
    #: Swings in a row without a change; they count for what is usual only once it changes again.
    run: int = 0
    is_told: bool = False

    def take(self, value: float, now_s: float) -> float:
        """How long it stands still, where that is to be told now; else 0. [s]"""
        if value != self.said:
            self.changed += 1
            self.stood += self.run
            self.said, self.since_s, self.run, self.is_told = value, now_s, 0, False
            return 0.0
        self.run += 1
        # Laplace's rule of succession: what never happened so far may yet happen.
        chance = (self.stood + 1) / (self.changed + self.stood + 2)
        is_stuck = self.changed >= _ANSWERS_MIN and -self.run * math.log(chance) > _LOG_ODDS
        if self.is_told or not is_stuck:
            return 0.0
        self.is_told = True
        return now_s - self.since_s


def _movers(values: Mapping[str, float | str]) -> Iterator[tuple[str, float, float, list[str]]]:
    """What swings: its name, its level, how far it must go, and the figures it moves."""
    amps, volts = _number_of(values, "current_a"), _number_of(values, "voltage_v")
    if math.isfinite(amps + volts):
        yield "amps", amps, _SWING_A, ["voltage_v"]
        yield "volts", volts, _SWING_PART * abs(volts), ["current_a"]
    cells = _cells_among(tuple(values))
    told = [_number_of(values, name) for name in cells]
    if len(told) > 1 and math.isfinite(mean_v := sum(told) / len(told)):
        # A monitor may tell its cells in several frames: each group is held against itself.
        yield cells[0], mean_v, _SWING_CELL_V, cells


@lru_cache(maxsize=64)
def _cells_among(names: tuple[str, ...]) -> list[str]:
    """Sorting them anew for each sample would be most of the work."""
    return cell_columns(list(names))


def _number_of(values: Mapping[str, float | str], name: str) -> float:
    value = values.get(name)
    return value if isinstance(value, float | int) else math.nan


def _words(name: str, still_s: float) -> str:
    if name == "voltage_v":
        return f"the volts stand {_still(still_s)} while the amps move"
    if name == "current_a":
        return f"the amps stand {_still(still_s)} while the volts move"
    return f"cell {member_of(name)} stands {_still(still_s)} while the other cells move"


def _still(still_s: float) -> str:
    return f"still for {still_s:.0f} s"
