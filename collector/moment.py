"""What the logs of a logbook said at one moment, as it stands beside a note."""

from __future__ import annotations

import math
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import islice
from typing import Final, NamedTuple

import pyarrow as pa
import pyarrow.compute as pc

from .corrections import Correction, active, read_corrections, true_ms
from .errors import LogbookError, LogFormatError
from .logbook import STEM_FORMAT, Logbook, LogEntry
from .logfile import read_log
from .record import Sample

#: A sample older than this does not stand for the moment. [s] Chosen here: three periods of a
#: slow monitor; amps of a vehicle that drives are worth nothing after more.
STALE_S: Final = 10.0
#: Logs looked into, newest first: those of packs that are recorded together.
_LOGS_MAX: Final = 4
_COLUMNS: Final = ("current_a", "voltage_v", "soc_pct")
_NAN: Final = float("nan")


@dataclass(frozen=True, slots=True)
class Moment:
    """Figures of one log at one moment, in the monitor's own sign; NaN where it had none."""

    #: Stem of the log, empty if no log covers the moment.
    log: str = ""
    #: How long before the moment the newest of the figures was heard. [s]
    age_s: float = _NAN
    current_a: float = _NAN
    voltage_v: float = _NAN
    soc_pct: float = _NAN

    @property
    def words(self) -> str:
        """The figures in plain words, empty if there are none."""
        parts = [f"{value:.{digits}f} {unit}" for value, digits, unit in (
            (self.current_a, 1, "A"), (self.voltage_v, 2, "V"), (self.soc_pct, 0, "%"))
            if not math.isnan(value)]
        return f"{', '.join(parts)}, {self.age_s:.1f} s before" if parts else ""


class LastFigures:
    """The newest figures of a recording that is running."""

    def __init__(self) -> None:
        self._figures: dict[str, tuple[float, float]] = {}

    def take(self, sample: Sample) -> None:
        """Remember what a sample says."""
        for column in _COLUMNS:
            if isinstance(value := sample.values.get(column), float | int):
                self._figures[column] = (sample.monotonic_s, float(value))

    def at(self, monotonic_s: float, log: str) -> Moment:
        """The figures at a moment of the steady clock; those too old are missing."""
        ages = {name: monotonic_s - at_s for name, (at_s, _) in self._figures.items()}
        return _moment(log, ages, {name: value for name, (_, value) in self._figures.items()})


def moments_at(logbook: Logbook, time_ms: int) -> dict[str, Moment]:
    """What each pack's log said at a moment, by the pack's name.

    Logs that cannot be read are passed over. Empty if no log has a figure within ``STALE_S``
    before the moment.
    """
    began = (dated for dated in dated_logs(logbook) if dated.began_ms <= time_ms)
    found: dict[str, Moment] = {}
    for _, ahead_ms, entry in islice(began, _LOGS_MAX):
        try:
            log = read_log(entry.path, _COLUMNS)
        except (LogFormatError, OSError):
            continue
        moment = _in_table(log.table, entry.stem, time_ms + ahead_ms)
        if moment.log:
            found.setdefault(log.meta.pack, moment)
    return found


class DatedLog(NamedTuple):
    """A log, and when it truly began; 0 for one that is named otherwise: at any time. [ms]"""

    began_ms: int
    #: How far the computer's clock was ahead while it was recorded.
    ahead_ms: int
    entry: LogEntry


def dated_logs(logbook: Logbook) -> list[DatedLog]:
    """The logs by when they truly began, the newest first."""
    moved: list[Correction] = []
    with suppress(LogbookError):  # who reads the corrections for their own sake is told
        moved = active(read_corrections(logbook.corrections_path).rows)
    found = []
    for entry in logbook.logs():
        told_ms = _told_ms(entry.stem)
        began_ms = true_ms(moved, told_ms)
        found.append(DatedLog(began_ms, told_ms - began_ms, entry))
    return sorted(found, key=lambda dated: dated.began_ms)[::-1]


def _told_ms(stem: str) -> int:
    """When a log began by the computer's clock, as its name says."""
    try:
        start = datetime.strptime(stem[:20], STEM_FORMAT).replace(tzinfo=UTC)
    except ValueError:
        return 0
    return round(start.timestamp() * 1000)


def _in_table(table: pa.Table, stem: str, time_ms: int) -> Moment:
    at = pc.cast(table["time"], pa.int64())
    near = pc.and_(pc.less_equal(at, time_ms), pc.greater(at, time_ms - STALE_S * 1000))
    table = table.filter(near)
    ages: dict[str, float] = {}
    values: dict[str, float] = {}
    for name in set(_COLUMNS) & set(table.column_names):
        told = table.filter(pc.is_valid(table[name]))
        if told.num_rows:
            values[name] = told[name][-1].as_py()
            ages[name] = (time_ms - told["time"][-1].cast(pa.int64()).as_py()) / 1000
    return _moment(stem, ages, values)


def _moment(log: str, ages: Mapping[str, float], values: Mapping[str, float]) -> Moment:
    fresh = {name: value for name, value in values.items() if 0 <= ages[name] <= STALE_S}
    if not fresh:
        return Moment()
    return Moment(log, round(min(ages[name] for name in fresh), 3), **fresh)
