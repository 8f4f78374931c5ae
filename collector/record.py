"""The one vocabulary: every quantity a log can hold, and the sample that carries them.

``QUANTITIES`` is read by the log header, the monitor descriptions, the importer, the analysis
and the screens, so a quantity has one name, one unit and one meaning everywhere. A name that
holds ``{n}`` stands for a numbered group, such as ``cell_01_v`` to ``cell_16_v``.

**Sign.** Inside packhand, amps are positive *into* the pack (charging) and negative *out of* it.
A log keeps what the monitor said; the decision how to read its sign lies in the log's metadata
and is applied when the log is loaded.

**Missing** is NaN (an absent key in a sample, an empty field in a journal), never 0 and never the
last value again.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final


@dataclass(frozen=True, slots=True)
class Quantity:
    """One thing a monitor can report."""

    #: Column name, with ``{n}`` where a numbered group is meant.
    name: str
    #: Unit symbol; empty for text and counts.
    unit: str
    #: What it is, in one line.
    meaning: str
    #: Lowest and highest value that a monitor of a small vehicle can mean. Readings outside it
    #: are kept and flagged, never dropped.
    plausible: tuple[float, float] = (float("-inf"), float("inf"))
    #: True for words instead of numbers.
    is_text: bool = False
    #: Digits of a group's number in the column name.
    digits: int = 0

    @property
    def is_group(self) -> bool:
        return "{n}" in self.name

    def column(self, n: int | None = None) -> str:
        """The column name, of member ``n`` (from 1) where this is a group."""
        if self.is_group != (n is not None):
            raise ValueError(f"{self.name}: a number is {'needed' if self.is_group else 'extra'}")
        return self.name.replace("{n}", f"{n:0{self.digits}d}") if self.is_group else self.name


_TABLE: Final = (
    Quantity("current_a", "A", "pack amps; positive into the pack, negative out of it",
             (-1000, 1000)),
    Quantity("voltage_v", "V", "volts across the whole pack", (0, 1000)),
    Quantity("power_w", "W", "pack watts as the monitor reports them; same sign as amps"),
    Quantity("soc_pct", "%", "state of charge as displayed", (0, 100)),
    Quantity("charge_left_ah", "Ah", "amp-hours left as displayed", (0, 10000)),
    Quantity("time_left_h", "h", "hours left as displayed", (0, 10000)),
    Quantity("soh_pct", "%", "state of health as displayed", (0, 150)),
    Quantity("cycles", "", "charge cycles as the monitor counts them", (0, 1e6)),
    Quantity("cell_{n}_v", "V", "volts of one cell in the series string", (0, 5), digits=2),
    Quantity("cell_min_v", "V", "volts of the lowest cell, where cells are not told", (0, 5)),
    Quantity("cell_max_v", "V", "volts of the highest cell, where cells are not told", (0, 5)),
    Quantity("temp_{n}_c", "°C", "temperature at one sensor of the pack", (-60, 150), digits=1),
    Quantity("ambient_c", "°C", "temperature of the air outside", (-60, 80)),
    Quantity("speed_m_s", "m/s", "speed over ground", (0, 100)),
    Quantity("distance_m", "m", "distance covered since the counter was set", (0, 1e9)),
    Quantity("latitude_deg", "°", "place, north positive", (-90, 90)),
    Quantity("longitude_deg", "°", "place, east positive", (-180, 180)),
    Quantity("elevation_m", "m", "height above sea level", (-500, 9000)),
    Quantity("sequence", "", "the monitor's own running number of the sample"),
    Quantity("state", "", "what the monitor says it is doing, in its words", is_text=True),
    Quantity("fault", "", "faults the monitor reports, in words", is_text=True),
)

#: Every quantity by name, in the order columns take in a log.
QUANTITIES: Final[Mapping[str, Quantity]] = {q.name: q for q in _TABLE}

_MEMBER = re.compile(r"(cell|temp)_(\d+)_([vc])")
_RANK: Final = {name: rank for rank, name in enumerate(QUANTITIES)}


def quantity_of(column: str) -> Quantity:
    """The quantity a column holds.

    Raises
    ------
    KeyError
        If the column is not in the vocabulary.
    """
    if member := _MEMBER.fullmatch(column):
        return QUANTITIES[f"{member[1]}_{{n}}_{member[3]}"]
    return QUANTITIES[column]


def member_of(column: str) -> int:
    """The number of a group's column (3 for ``cell_03_v``), 0 for a single quantity."""
    member = _MEMBER.fullmatch(column)
    return int(member[2]) if member else 0


def in_log_order(columns: set[str]) -> list[str]:
    """Columns sorted as every log holds them: by quantity, then by number."""
    return sorted(columns, key=lambda c: (_RANK[quantity_of(c).name], member_of(c)))


def cell_columns(columns: list[str]) -> list[str]:
    """The single-cell volts among the columns, lowest number first."""
    return [c for c in in_log_order(set(columns)) if c.startswith("cell_") and member_of(c)]


@dataclass(frozen=True, slots=True)
class Sample:
    """What was known at one moment.

    A sample either carries ``values`` or reports an ``event`` (a gap with its cause, a mark);
    an event has no values, so that nothing integrates across it.
    """

    #: Unix time. [ms, UTC]
    time_ms: int
    #: The recorder's own clock, which no clock setting can move. [s]
    monotonic_s: float
    #: By column name; numbers in the unit of the quantity. Missing is absent.
    values: Mapping[str, float | str] = field(default_factory=dict)
    #: ``kind: words``, one of ``EVENTS``; empty for an ordinary sample.
    event: str = ""


#: Kinds of event a log can hold, and what each means.
EVENTS: Final[Mapping[str, str]] = {
    "link lost": "the link to the monitor went away",
    "link back": "the link to the monitor was opened again",
    "silent": "the link was open but the monitor sent nothing",
    "asleep": "the link was open, the monitor stopped sending with the amps near zero",
    "computer slept": "the computer slept, so that nobody listened",
    "restarted": "the log before was never closed: recorder or computer were cut off",
    "clock step": "the computer's clock was set while recording",
    "changed": "the figures are those of another monitor, pack or unit; a new log began",
    "odd": "another number of cells, or a temperature that no pack has",
    "stale": "frames went on while the figures stood still",
    "not saved": "samples were heard but could not be written",
    "mark": "a moment the person marked",
    "alarm": "a limit of the logbook was crossed, or is kept again",
}
