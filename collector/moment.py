"""What the logs of a logbook said at one moment, as it stands beside a note."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import islice
from typing import Final

import pyarrow as pa
import pyarrow.compute as pc

from .errors import LogFormatError
from .logbook import STEM_FORMAT, Logbook
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
    began = [entry for entry in reversed(logbook.logs()) if start_ms_of(entry.stem) <= time_ms]
    found: dict[str, Moment] = {}
    for entry in islice(began, _LOGS_MAX):
        try:
            log = read_log(entry.path, _COLUMNS)
        except (LogFormatError, OSError):
            continue
        moment = _in_table(log.table, entry.stem, time_ms)
        if moment.log:
            found.setdefault(log.meta.pack, moment)
    return found


def start_ms_of(stem: str) -> float:
    """When a log began, by its name; one named otherwise may have begun at any time."""
    try:
        start = datetime.strptime(stem[:20], STEM_FORMAT).replace(tzinfo=UTC)
    except ValueError:
        return 0.0
    return start.timestamp() * 1000


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
