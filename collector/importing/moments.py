"""The time column: what kind of time it holds, and the moment of each row in UTC."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from .dates import (
    NOT_A_TIME,
    Bools,
    DateParts,
    Ints,
    OrderFinding,
    days_of,
    find_date_order,
    iso_moments,
    take_clock_apart,
    take_dates_apart,
)
from .figures import to_figures
from .foreign import DateOrder, Doubt, ImportOptions, Mapped
from .headings import Heading
from .source_table import SourceTable

#: Unix time of 2000-01-01 and 2100-01-01; figures between them, times a power of 1000, are Unix
#: times. Elapsed seconds of any log stay far below.
_EPOCH_S: Final = (946_684_800, 4_102_444_800)
_EPOCH_UNITS: Final = {"s": 1_000_000, "ms": 1_000, "us": 1, "ns": 1e-3}
_DAY_US: Final = 86_400_000_000
#: Steps that a logger counting milliseconds makes and one counting seconds hardly does.
_MS_STEPS: Final = (100, 200, 250, 500, 1000, 2000, 5000)
#: Serial days of 1970-01-01, and of the years 2000 to 2099.
_SERIAL_EPOCH: Final = 25_569
_SERIAL_DAYS: Final = (36_526, 73_051)
#: A sample every ten minutes. [d]
_SERIAL_STEP_MAX: Final = 0.007
_NO_DOUBTS: Final[tuple[Doubt, ...]] = ()
_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Moments:
    """When each row was."""

    #: Unix time, ``NOT_A_TIME`` where the row has none. [us, UTC]
    at_us: Ints
    mapped: Mapped
    doubts: tuple[Doubt, ...] = ()
    words: tuple[str, ...] = ()
    #: True where the file counts from zero and the start was put in.
    is_elapsed: bool = False
    #: Reason why rows have no time.
    no_time_reason: str = "no time, or a date that does not exist"


def find_moments(source: SourceTable, time: int, heading: Heading, date: int | None,
                 options: ImportOptions, fallback_start: datetime) -> Moments | None:
    """Read the time column, joined with a date column where there is one.

    ``time`` and ``date`` are places of columns; ``heading`` is the time's, with the unit that
    counts. ``fallback_start`` (the file's own modification time) is the start of times that
    count from zero, where nobody gave one. Returns ``None`` if the column holds no times.
    """
    moments = _by_form(source, time, heading, date, options, fallback_start)
    if moments is None or moments.is_elapsed:
        return moments
    return replace(moments, at_us=_without_unset_clock(moments.at_us))


def _without_unset_clock(at_us: Ints) -> Ints:
    """Times before 2000 left out where most are later: the clock was not set yet."""
    there = at_us != NOT_A_TIME
    early = there & (at_us < _EPOCH_S[0] * 1_000_000)
    if early.sum() * 2 >= there.sum():
        return at_us
    return np.where(early, NOT_A_TIME, at_us)


def _by_form(source: SourceTable, time: int, heading: Heading, date: int | None,
             options: ImportOptions, fallback_start: datetime) -> Moments | None:
    """The moments by what the column holds: Arrow times, words, or figures."""
    column = source.columns[time]
    if pa.types.is_timestamp(column.type):
        return _timestamps(column, heading, options)
    if pa.types.is_string(column.type):
        text = pc.utf8_trim_whitespace(column)
        written = _written(source, text, heading, date, options, fallback_start)
        if written is not None:
            return written
    if pa.types.is_temporal(column.type):
        return None
    values = to_figures(column, source.decimal)[0].to_numpy(zero_copy_only=False)
    if not np.isfinite(values).any():
        return None
    moments = _epoch(values, heading) or _serial_days(values, heading, options) or _elapsed(
        values, heading, options, fallback_start)
    return moments if _mostly_rises(moments.at_us) else None


def _mostly_rises(at_us: Ints) -> bool:
    """Whether a column of figures can be a time at all."""
    steps = np.diff(at_us[at_us != NOT_A_TIME])
    return not len(steps) or float((steps >= 0).mean()) > 0.5


def _timestamps(column: pa.Array, heading: Heading, options: ImportOptions) -> Moments:
    local = pc.cast(column, pa.timestamp("us", column.type.tz), safe=False)
    at_us = local.cast(pa.int64()).fill_null(NOT_A_TIME).to_numpy(zero_copy_only=False)
    if column.type.tz is not None:
        return Moments(at_us, Mapped(heading.text, "UTC"))
    return _in_zone(at_us, heading.text, heading, options)


def _in_zone(local_us: Ints, source: str, heading: Heading, options: ImportOptions,
             doubts: tuple[Doubt, ...] = (), words: tuple[str, ...] = ()) -> Moments:
    """Local times to UTC by the zone given; UTC, and said, where none is."""
    if {"utc", "gmt"} & {*heading.words, heading.symbol.lower()} and options.zone is None:
        return Moments(local_us, Mapped(source, "UTC"), doubts, words)
    zone = options.zone or "UTC"
    if options.zone is None:
        doubts = (*doubts, Doubt("time zone", "The times name no zone.", "UTC", "--zone"))
    if zone == "UTC":
        return Moments(local_us, Mapped(source, zone), doubts, words)
    there = local_us != NOT_A_TIME
    naive = pa.array(np.where(there, local_us, 0), pa.timestamp("us"))
    aware = pc.assume_timezone(naive, str(ZoneInfo(zone)), ambiguous="earliest",
                               nonexistent="latest")
    at_us = aware.cast(pa.int64()).to_numpy(zero_copy_only=False)
    return Moments(np.where(there, at_us, NOT_A_TIME), Mapped(source, zone), doubts, words)


def _written(source: SourceTable, text: pa.Array, heading: Heading, date: int | None,
             options: ImportOptions, fallback_start: datetime) -> Moments | None:
    """Times written as text: dates with times of day, or times of day beside a date column."""
    if (iso := iso_moments(text)) is not None:
        at_us, has_zone = iso
        return Moments(at_us, Mapped(heading.text, "UTC")) if has_zone \
            else _in_zone(at_us, heading.text, heading, options)
    if (whole := take_dates_apart(text)) is not None:
        parts, clock = whole
        if clock is None:
            return None
        return _dated(parts, clock.of_day_us, clock.offset_us, clock.has_zone, heading.text,
                      heading, options)
    clock = take_clock_apart(text)
    if clock is None:
        return None
    if date is not None:
        dates = source.columns[date]
        joined = f"{source.headings[date].text} + {heading.text}"
        if pa.types.is_temporal(dates.type):
            dates = pc.strftime(dates, "%Y-%m-%d")
        if pa.types.is_string(dates.type) and (
                found := take_dates_apart(pc.utf8_trim_whitespace(dates))) is not None:
            return _dated(found[0], clock.of_day_us, clock.offset_us, clock.has_zone, joined,
                          heading, options)
    return _undated(clock.of_day_us, heading, options, fallback_start)


def _dated(parts: DateParts, of_day_us: Ints, offset_us: Ints, has_zone: bool, source: str,
           heading: Heading, options: ImportOptions) -> Moments:
    finding = find_date_order(parts, of_day_us, options.date_order)
    days, exists = days_of(parts, finding.order)
    at_us = _joined(days, exists, of_day_us) - np.where(exists, offset_us, 0)
    at_us = np.where(exists & (of_day_us != NOT_A_TIME), at_us, NOT_A_TIME)
    doubts = () if finding.is_certain else (_order_doubt(finding, parts, at_us),)
    words = (f"Dates read {finding.order}: {finding.evidence}.",) \
        if finding.is_certain and finding.evidence else ()
    if has_zone:
        return Moments(at_us, Mapped(source, "UTC"), doubts, words)
    return _in_zone(at_us, source, heading, options, doubts, words)


def _joined(days: Ints, exists: Bools, of_day_us: Ints) -> Ints:
    there = exists & (of_day_us != NOT_A_TIME)
    joined: Ints = np.where(there, days, 0) * _DAY_US + np.where(there, of_day_us, 0)
    return joined


def _order_doubt(finding: OrderFinding, parts: DateParts, at_us: Ints) -> Doubt:
    row = int(np.flatnonzero(at_us != NOT_A_TIME)[0]) if (at_us != NOT_A_TIME).any() else 0
    shown = f"{parts.first[row]}/{parts.second[row]}/{parts.third[row]}"
    choices: tuple[DateOrder, ...] = ("day-first", "month-first")
    if finding.order == "year-first":
        choices = (*choices, "year-first")
    readings = " or ".join(_date_words(int(days_of(parts, order)[0][row])) for order in choices
                           if days_of(parts, order)[1][row])
    return Doubt("date order", f"Is {shown} {readings}? ({finding.evidence.capitalize()}.)",
                 finding.order, "--dates", choices, must_ask=True)


def _date_words(day: int) -> str:
    date = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(days=day)
    return f"{date.day} {date:%B} {date.year}"


def _undated(of_day_us: Ints, heading: Heading, options: ImportOptions,
             fallback_start: datetime) -> Moments:
    """Times of day alone: they start on the day of the start, and a midnight adds a day."""
    there = of_day_us != NOT_A_TIME
    days = np.zeros(len(of_day_us), np.int64)
    days[np.flatnonzero(there)[1:]] = np.diff(of_day_us[there]) < -_DAY_US // 2
    start = options.start or fallback_start
    midnight = start.astimezone(UTC).replace(hour=0, minute=0, second=0, microsecond=0)
    local = np.cumsum(days) * _DAY_US + np.where(there, of_day_us, 0) + _to_us(midnight)
    doubts = () if options.start else (_start_doubt(start, "The times name no date."),)
    return _in_zone(np.where(there, local, NOT_A_TIME), heading.text, heading, options, doubts)


def _to_us(moment: datetime) -> int:
    return (moment.astimezone(UTC) - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1)


def _start_doubt(start: datetime, question: str) -> Doubt:
    taken = start.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    return Doubt("start", question, f"{taken}, when the file was last changed", "--start")


def _epoch(values: _Floats, heading: Heading) -> Moments | None:
    """Unix times in seconds, or a thousandth, millionth, billionth of it."""
    middle = float(np.nanmedian(values))
    for unit, to_us in _EPOCH_UNITS.items():
        if _EPOCH_S[0] <= middle * to_us / 1e6 <= _EPOCH_S[1]:
            with np.errstate(invalid="ignore"):
                scaled = np.rint(values * to_us)
            sound = np.isfinite(scaled) & (np.abs(scaled) < 4.2e15)
            at_us = np.where(sound, scaled, 0).astype(np.int64)
            return Moments(np.where(sound, at_us, NOT_A_TIME),
                           Mapped(heading.text, unit, words="Unix time"))
    return None


def _serial_days(values: _Floats, heading: Heading, options: ImportOptions) -> Moments | None:
    """Dates as spreadsheets count them: days since 30 December 1899 (ECMA-376, from memory).

    Only without a unit, within the years 2000 to 2099, and in steps that no count of seconds makes.
    """
    there = np.isfinite(values)
    steps = np.diff(values[there])
    if heading.unit is not None or not (steps > 0).any() or float(
            np.median(steps[steps > 0])) > _SERIAL_STEP_MAX:
        return None
    if not _SERIAL_DAYS[0] <= values[there].min() <= values[there].max() < _SERIAL_DAYS[1]:
        return None
    days = np.where(there, values, _SERIAL_EPOCH) - _SERIAL_EPOCH
    local_us = np.rint(days * 86_400_000).astype(np.int64) * 1000
    return _in_zone(np.where(there, local_us, NOT_A_TIME), heading.text, heading, options,
                    words=("Dates are counted in days, as spreadsheets do.",))


def _elapsed(values: _Floats, heading: Heading, options: ImportOptions,
             fallback_start: datetime) -> Moments:
    """Time that counts from zero."""
    if heading.unit is not None:
        unit, factor, doubts = heading.symbol, heading.unit.factor, _NO_DOUBTS
    else:
        unit, factor, doubts = _unit_by_steps(values)
    start = options.start or fallback_start
    if options.start is None:
        doubts = (*doubts, _start_doubt(start, "The times count from zero, with no date."))
    sound = np.isfinite(values) & (np.abs(values) * factor < 1e9)
    at_us = np.rint(np.where(sound, values, 0) * factor * 1e6).astype(np.int64) + _to_us(start)
    return Moments(np.where(sound, at_us, NOT_A_TIME), Mapped(heading.text, unit, factor),
                   doubts, is_elapsed=True)


def _unit_by_steps(values: _Floats) -> tuple[str, float, tuple[Doubt, ...]]:
    steps = np.diff(values[np.isfinite(values)])
    step = float(np.median(steps[steps > 0])) if (steps > 0).any() else 1.0
    if any(abs(step - usual) <= usual * 0.05 for usual in _MS_STEPS):
        return "ms", 1e-3, (Doubt(
            "unit", f"The time column names no unit; it steps by {step:g}.", "milliseconds",
            "--map time=HEADING:s"),)
    return "s", 1.0, _NO_DOUBTS
