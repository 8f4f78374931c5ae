"""Dates and times of day written as text, by whole columns.

A date is three numbers, or two around the name of a month. With the year first the order is
settled (ISO 8601). Otherwise ``find_date_order`` looks for evidence in the column itself, and
where there is none says so: a wrong month must never pass in silence.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from .foreign import DateOrder

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: Marks a moment that is missing; NumPy's own "not a time" as a number.
NOT_A_TIME: Final = np.iinfo(np.int64).min

_MONTHS: Final = {name: number for number, names in enumerate((
    "jan january januar janvier", "feb february februar février", "mar march märz mrz mars",
    "apr april avril", "may mai mei", "jun june juni juin", "jul july juli juillet",
    "aug august août", "sep sept september septembre", "oct october okt oktober octobre",
    "nov november novembre", "dec december dez dezember décembre"), start=1)
    for name in names.split()}
_DATE: Final = (r"^(?P<a>\d{1,4}|\p{L}{3,9})[-/. ]+(?P<b>\d{1,2}|\p{L}{3,9})\.?,?"
                r"[-/. ]+(?P<c>\d{4}|\d{1,2})")
_CLOCK: Final = (r"(?P<h>\d{1,2}):(?P<m>\d{2})(?::(?P<s>\d{2}(?:[.,]\d+)?))?"
                 r"\s*(?P<half>[AaPp]\.?[Mm]\.?)?\s*(?P<zone>Z|z|UTC|GMT|[+-]\d{2}:?\d{2})?$")
_COMPACT: Final = (r"^(?P<a>\d{4})(?P<b>\d{2})(?P<c>\d{2})[T _-]?(?P<h>\d{2}):?(?P<m>\d{2}):?"
                   r"(?P<s>\d{2}(?:[.,]\d+)?)(?P<half>)(?P<zone>Z)?$")


@dataclass(frozen=True, slots=True)
class DateParts:
    """The three numbers of each date as they stand; 0 where there is none."""

    first: Ints
    second: Ints
    third: Ints
    #: Two digits for the year and dashes between: any of the three may be the year.
    is_short_dashed: bool = False

    @property
    def year_first(self) -> bool:
        return bool(np.median(self.first[self.first > 0], axis=0) > 31) \
            if (self.first > 0).any() else False


@dataclass(frozen=True, slots=True)
class ClockTimes:
    """Times of day."""

    #: Since midnight; ``NOT_A_TIME`` where there is none. [us]
    of_day_us: Ints
    #: East of UTC; 0 where none is written. [us]
    offset_us: Ints
    has_zone: bool


@dataclass(frozen=True, slots=True)
class OrderFinding:
    """How dates read, and what in the column says so."""

    order: DateOrder
    #: False where both orders read equally well.
    is_certain: bool
    evidence: str


def iso_moments(text: pa.Array) -> tuple[Ints, bool] | None:
    """ISO 8601 moments, and whether they carry a zone, by Arrow's own quick parser. [us]

    ``None`` if one field is not of that form; ``take_dates_apart`` then says which are.
    """
    if (pc.min(pc.utf8_length(text)).as_py() or 0) < len("2026-04-02T08:15"):
        return None
    for zone in (None, "UTC"):
        with suppress(pa.ArrowInvalid):
            moments = pc.cast(text, pa.timestamp("us", zone)).cast(pa.int64())
            return (moments.fill_null(NOT_A_TIME).to_numpy(zero_copy_only=False),
                    zone is not None)
    return None


def take_dates_apart(text: pa.Array) -> tuple[DateParts, ClockTimes | None] | None:
    """Dates, with a time of day where one follows; ``None`` if most fields are no dates."""
    for pattern in (_COMPACT, _DATE + r"(?:[T ,]+" + _CLOCK.removesuffix("$") + r")?$"):
        groups = pc.extract_regex(text, pattern)
        if groups.null_count <= len(text) / 2:
            first, second, third = (_numbers(pc.struct_field(groups, name)) for name in "abc")
            parts = DateParts(first, second, third)
            parts = _month_names_out(parts, groups, text)
            has_clock = bool(pc.any(pc.not_equal(pc.struct_field(groups, "h"), "")).as_py())
            return parts, _clock(groups) if has_clock else None
    return None


def take_clock_apart(text: pa.Array) -> ClockTimes | None:
    """Times of day without a date; ``None`` if most fields are none."""
    groups = pc.extract_regex(text, "^" + _CLOCK)
    return _clock(groups) if groups.null_count <= len(text) / 2 else None


def _numbers(column: pa.Array) -> Ints:
    """Whole numbers of a text column; months by name too; 0 where there is neither."""
    words = column.dictionary_encode()
    values = [_number(word) for word in words.dictionary.to_pylist()]
    codes = words.indices.fill_null(len(values)).to_numpy(zero_copy_only=False)
    return _looked_up(values, codes)


def _looked_up(values: list[int], codes: Ints) -> Ints:
    """Each code's value; the code behind the last value means none and gives 0."""
    table: Ints = np.array([*values, 0], dtype=np.int64)
    return table[codes]


def _number(word: str | None) -> int:
    if word is None or not word:
        return 0
    return int(word) if word.isdecimal() else _MONTHS.get(word.lower(), 0)


def _month_names_out(parts: DateParts, groups: pa.Array, text: pa.Array) -> DateParts:
    """Put a month in words where it settles the order: year, month, day."""
    for name, day in (("a", parts.second), ("b", parts.first)):
        texts = pc.struct_field(groups, name)
        if pc.any(pc.match_substring_regex(texts, r"^\p{L}")).as_py():
            month = parts.first if name == "a" else parts.second
            return DateParts(_whole_year(parts.third), month, day)
    dashed = pc.any(pc.match_substring_regex(text, r"^\d{1,2}-\d{1,2}-\d{1,2}\b")).as_py()
    return replace(parts, is_short_dashed=bool(dashed) and not parts.year_first)


def _clock(groups: pa.Array) -> ClockTimes:
    texts = {name: pc.struct_field(groups, name) for name in ("h", "m", "s", "half", "zone")}
    hours, minutes = _numbers(texts["h"]), _numbers(texts["m"])
    seconds = pc.replace_substring(texts["s"], ",", ".")
    seconds = pc.cast(pc.if_else(pc.equal(seconds, ""), "0", seconds), pa.float64())
    micros = np.rint(seconds.fill_null(0).to_numpy(zero_copy_only=False) * 1e6).astype(np.int64)
    half = pc.utf8_lower(pc.utf8_slice_codeunits(texts["half"], 0, 1)).fill_null("")
    halves = half.to_numpy(zero_copy_only=False)
    hours = np.where(halves == "", hours, hours % 12 + 12 * (halves == "p"))
    of_day = (hours * 3600 + minutes * 60) * 1_000_000 + micros
    there = pc.not_equal(texts["h"], "").fill_null(False).to_numpy(zero_copy_only=False)
    sound = there & (hours < 24) & (minutes < 60) & (micros < 61_000_000)
    offsets, has_zone = _offsets(texts["zone"])
    return ClockTimes(np.where(sound, of_day, NOT_A_TIME), offsets, has_zone)


def _offsets(zones: pa.Array) -> tuple[Ints, bool]:
    words = zones.dictionary_encode()
    texts = words.dictionary.to_pylist()
    values = [_offset_us(text or "") for text in texts]
    codes = words.indices.fill_null(len(values)).to_numpy(zero_copy_only=False)
    return _looked_up(values, codes), any(texts)


def _offset_us(text: str) -> int:
    digits = text.lstrip("+-").replace(":", "")
    if not digits.isdecimal():
        return 0
    minutes = int(digits[:2]) * 60 + int(digits[2:])
    return (-1 if text.startswith("-") else 1) * minutes * 60_000_000


def days_of(parts: DateParts, order: DateOrder) -> tuple[Ints, Bools]:
    """Days since 1970-01-01, and where the date exists in the calendar."""
    if parts.year_first or order == "year-first":
        year, month, day = parts.first, parts.second, parts.third
    else:
        year = parts.third
        day, month = ((parts.first, parts.second) if order == "day-first"
                      else (parts.second, parts.first))
    year = _whole_year(year)
    sound = (month >= 1) & (month <= 12) & (day >= 1) & (day <= 31) & (year > 0) & (year < 3000)
    months = (np.where(sound, year, 1970) - 1970) * 12 + np.where(sound, month, 1) - 1
    first = months.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
    length = (months + 1).astype("datetime64[M]").astype("datetime64[D]").astype(np.int64) - first
    return first + np.where(sound, day, 1) - 1, sound & (day <= length)


def _whole_year(year: Ints) -> Ints:
    """Years of two digits belong to this century: no logger is older."""
    return np.where((year > 0) & (year < 100), year + 2000, year)


def find_date_order(parts: DateParts, of_day_us: Ints, given: DateOrder | None) -> OrderFinding:
    """Whether the day or the month stands first.

    Decided by dates that exist in one order only; else by time running backwards in one of
    them; else by a midnight that takes minutes in one and weeks in the other.
    """
    if parts.year_first:
        return OrderFinding("day-first", True, "")
    if given:
        return OrderFinding(given, True, "as you said")
    if parts.is_short_dashed and days_of(parts, "year-first")[1].any():
        return OrderFinding("year-first", False, "the year has two digits")
    readings = {order: days_of(parts, order) for order in _ORDERS}
    return (_by_calendar(readings, parts) or _by_course(readings, of_day_us)
            or OrderFinding("day-first", False, "every date exists in both orders"))


_ORDERS: Final[tuple[DateOrder, DateOrder]] = ("day-first", "month-first")
_Readings = Mapping[DateOrder, tuple[Ints, Bools]]


def _by_calendar(readings: _Readings, parts: DateParts) -> OrderFinding | None:
    alone = {order: readings[order][1] & ~readings[other][1]
             for order, other in zip(_ORDERS, reversed(_ORDERS), strict=True)}
    most, least = sorted(_ORDERS, key=lambda order: -int(alone[order].sum()))
    if not alone[most].any():
        return None
    row = int(np.flatnonzero(alone[most])[0])
    shown = f"{parts.first[row]:02d}/{parts.second[row]:02d}/{parts.third[row]}"
    certain = int(alone[least].sum()) * 20 < int(alone[most].sum())
    return OrderFinding(most, certain, f"{shown} exists only {most}")


def _by_course(readings: _Readings, of_day_us: Ints) -> OrderFinding | None:
    back, widest = {}, {}
    for order, (days, sound) in readings.items():
        use = sound & (of_day_us != NOT_A_TIME)
        steps = np.diff(days[use] * 86_400_000_000 + of_day_us[use])
        back[order] = int((steps < 0).sum())
        widest[order] = int(steps.max(initial=0))
    for order, other in zip(_ORDERS, reversed(_ORDERS), strict=True):
        if back[order] == 0 < back[other]:
            return OrderFinding(order, True, f"{other}, time would run backwards")
        if not back[order] and widest[order] < _MIDNIGHT_US and widest[other] > _WEEKS_US:
            return OrderFinding(order, True, f"{other}, one midnight would take weeks")
    return None


#: Ten minutes, and twenty days: chosen here, far below and far above one night between drives.
_MIDNIGHT_US: Final = 600_000_000
_WEEKS_US: Final = 20 * 86_400_000_000
