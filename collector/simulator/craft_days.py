"""The days of a craft: out in the morning and in the afternoon, filled in the evening."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, time
from typing import TypeVar

import numpy as np

from .at_work import PackAtWork, Recording
from .daylog import DayLog, as_log
from .workday import Workday, season_days

Work = TypeVar("Work", bound=PackAtWork)


def logs_by_day(craft: Work, first: date, last: date, record: Callable[
        [Work, Workday, np.random.Generator], Iterator[Recording]]) -> Iterator[list[DayLog]]:
    """The logs of each day in turn; none on a day off.

    Parameters
    ----------
    record
        Lives one day, and yields what the monitor told of it.
    """
    for day in season_days(craft.seed, first, last, events=()):
        rng = np.random.default_rng(
            [craft.seed, day.date.toordinal(), len(craft.state.drawn_ah)])
        yield [as_log([told]) for told in record(craft, day, rng)] if day.trips else []


def stand_until(craft: PackAtWork, day: Workday, hour: int, minute: int) -> None:
    """Stand still until it goes out."""
    craft.stand_until(datetime.combine(day.date, time(hour, minute), UTC), day.morning_c)
