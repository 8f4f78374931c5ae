"""Whether neighbours add up to the pack's volts in every frame, as cells do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Protocol, TypeVar

import numpy as np

from .codings import Figures

#: Cells in a series string of a small vehicle.
COUNTS: Final = (4, 32)
#: The sum may miss the pack's volts by the meters' errors, as a share of the volts ...
_MISS: Final = 0.006
#: ... and stray by so much of how far the volts themselves move.
_STRAY: Final = 0.2
#: Leads, breaker and contactor together have no more. [ohm]
_LEADS_OHM: Final = 0.02
#: Rows that follow each other are not all news: one in so many counts ...
_NEWS: Final = 3
#: ... and so many standard errors apart is no accident.
_SURE: Final = 3.0


@dataclass(frozen=True, slots=True)
class Miss:
    """What pack volts less a sum of cells come to, without what leads take."""

    #: On average. [V]
    level_v: float
    #: Standard deviation. [V]
    stray_v: float
    rows: int

    @property
    def rms_v(self) -> float:
        """Root mean square. [V]"""
        return float(np.hypot(self.level_v, self.stray_v))

    @property
    def doubt_v(self) -> float:
        """How far off the level may be by rounding. [V]"""
        return _SURE * self.stray_v / float(np.sqrt(max(self.rows / _NEWS, 1.0)))


class Pack:
    """Pack volts, and amps where they are known, of some frames.

    Between the cells and the place where the pack's volts are measured lie leads: they take volts
    as the amps do, whatever the sign of the amps.
    """

    def __init__(self, voltage_v: Figures, current_a: Figures | None = None) -> None:
        self.voltage_v = voltage_v
        amps = np.zeros_like(voltage_v) if current_a is None else np.nan_to_num(current_a)
        self._amps_mean = float(amps.mean())
        self._amps = amps - self._amps_mean
        self._power = float(self._amps @ self._amps)

    def miss(self, total_v: Figures) -> Miss | None:
        """How far a sum is from the pack's volts; ``None`` where it is another thing.

        Parameters
        ----------
        total_v
            The sum in each frame. [V]
        """
        off = self.voltage_v - total_v
        if not abs(np.median(off)) <= 2 * _MISS * np.median(self.voltage_v):
            return None
        leads_ohm = float(np.clip(self._amps @ off / self._power, -_LEADS_OHM, _LEADS_OHM)) \
            if self._power else 0.0
        off = off - leads_ohm * (self._amps + self._amps_mean)
        level_v, stray_v = float(np.mean(off)), float(np.std(off))
        if (abs(level_v) > _MISS * np.median(self.voltage_v)
                or stray_v > _STRAY * np.std(self.voltage_v) + 0.02):
            return None
        return Miss(level_v, stray_v, len(off))

    def sums(self, cells_v: Figures) -> Iterator[tuple[int, int, Miss]]:
        """Neighbours that add up to the pack: the first one, how many, and what they miss."""
        total = np.concatenate([np.zeros((len(cells_v), 1)), np.cumsum(cells_v, axis=1)], axis=1)
        for n in range(cells_v.shape[1]):
            for count in range(COUNTS[0], min(COUNTS[1], cells_v.shape[1] - n) + 1):
                miss = self.miss(total[:, n + count] - total[:, n])
                if miss is not None:
                    yield n, count, miss


class _Group(Protocol):
    @property
    def miss(self) -> Miss:
        ...


Group = TypeVar("Group", bound=_Group)


def likeliest(found: Sequence[Group]) -> list[Group]:
    """The group that adds up best, and its rivals: all that may do so as well, the best first.

    Neighbours of nearly a cell's volts, such as the lowest cell once more, add up nearly as well.
    """
    if not found:
        return []
    best = min(found, key=lambda group: group.miss.rms_v).miss
    limit_v = 2 * abs(best.level_v) + best.doubt_v
    return sorted((group for group in found
                   if abs(group.miss.level_v) <= limit_v + group.miss.doubt_v
                   and group.miss.stray_v <= 2 * best.stray_v + 0.003),
                  key=lambda group: group.miss.rms_v)
