"""What every analysis takes: aligned arrays of one log, amps in packhand's sign."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from collector.record import cell_columns

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Event:
    """Something the log reports at a moment: a gap's cause, a mark."""

    elapsed_s: float
    kind: str
    words: str = ""


@dataclass(frozen=True, slots=True)
class Telemetry:
    """Samples of one log as aligned float arrays.

    ``elapsed_s`` counts from ``start`` by the steady clock where the log has one; it increases
    strictly (``analysis.timebase`` sees to that). Every array has its length; missing is NaN.
    """

    #: Time of the first sample, UTC.
    start: datetime
    #: Seconds since ``start``, strictly increasing. [s]
    elapsed_s: Floats
    #: Quantity columns by name (see ``collector.record.QUANTITIES``).
    columns: Mapping[str, Floats]
    events: tuple[Event, ...] = ()
    #: The log's metadata as plain JSON.
    meta: Mapping[str, Any] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.elapsed_s)

    def __contains__(self, column: str) -> bool:
        """Whether the column is there and holds at least one figure."""
        values = self.columns.get(column)
        if values is None:
            return False
        # Most columns hold one in their first rows; the others are looked through.
        return any(np.isfinite(some).any() for some in (values[:8], values[:1000], values))

    def __getitem__(self, column: str) -> Floats:
        """The column; all NaN where the log lacks it."""
        values = self.columns.get(column)
        return np.full(len(self), np.nan) if values is None else values

    @property
    def cells(self) -> list[str]:
        """The single-cell columns, lowest number first."""
        return cell_columns(list(self.columns))

    def at(self, elapsed_s: float) -> datetime:
        """Wall time of a moment, UTC."""
        return (self.start + timedelta(seconds=float(elapsed_s))).astimezone(UTC)

    def between(self, first_s: float, last_s: float = float("inf")) -> Telemetry:
        """The rows from one moment to another, both included; times stay as they are."""
        rows = slice(int(np.searchsorted(self.elapsed_s, first_s)),
                     int(np.searchsorted(self.elapsed_s, last_s, side="right")))
        events = tuple(e for e in self.events if first_s <= e.elapsed_s <= last_s)
        return replace(self, elapsed_s=self.elapsed_s[rows], events=events,
                       columns={name: values[rows] for name, values in self.columns.items()})

    def having(self, **columns: Floats) -> Telemetry:
        """The same with columns replaced or added."""
        return replace(self, columns={**self.columns, **columns})
