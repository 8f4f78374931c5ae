"""The days that are told: those of the place where the pack was logged.

A moment is one number; the day it belongs to hangs on where one stood. Sentences are made far from
the log they tell of, so the zone is set once, for the thread that asks, as ``decimal`` does with
its precision. Moments in documents for machines stay in UTC.
"""

from __future__ import annotations

from contextvars import ContextVar
from datetime import date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

_ZONE: Final = ContextVar("zone", default="UTC")


def zone_named(name: str) -> ZoneInfo:
    """A time zone by its name in a log; UTC where this machine does not know it."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError):
        return ZoneInfo("UTC")


def tell_days_in(zone: str) -> None:
    """From here on, in this thread, days are told as in a zone; before that they are of UTC."""
    _ZONE.set(zone)


def local(unix_s: float) -> datetime:
    """A moment by the clock on the wall."""
    return datetime.fromtimestamp(unix_s, zone_named(_ZONE.get()))


def midnight_of(day: date) -> float:
    """The moment a calendar day begins with. [s, Unix time]"""
    return datetime.combine(day, time(), zone_named(_ZONE.get())).timestamp()


def midnight_s(unix_s: float, days: int = 0) -> float:
    """The midnight that a moment's day began with, or that of so many days later. [s, Unix time]

    Days are those of the calendar: some last 23 or 25 hours.
    """
    return midnight_of(local(unix_s).date() + timedelta(days=days))
