"""The two clocks a recording needs: wall time, and one that no clock setting can move."""

from __future__ import annotations

import time
import zoneinfo
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from datetime import time as datetime_time
from typing import Final

#: Wall and steady clock drifting apart by more than this in one sample is a clock step. [s]
#: Chosen here: far above scheduling jitter, below any step a person or a time server makes
#: that would matter to amp-hours.
STEP_S: Final = 0.5


#: A clock that nobody sets and that counts on while a laptop sleeps. ``time.monotonic`` stands
#: still in sleep on Linux and macOS: an hour with the lid closed would look like no time at all,
#: and amps on both sides would be joined. [1]_
#:
#: .. [1] Python documentation, ``time.CLOCK_BOOTTIME``; Linux manual page clock_gettime(2).
_STEADY_ID: Final = getattr(time, "CLOCK_BOOTTIME", getattr(time, "CLOCK_MONOTONIC", None))


def steady_s() -> float:
    """Seconds on the steady clock, from an arbitrary start. [s]"""
    return time.monotonic() if _STEADY_ID is None else time.clock_gettime(_STEADY_ID)


def slept_s() -> float:
    """Seconds that this computer slept, from an arbitrary start; always 0 on Windows, where both
    clocks count sleep. [s]"""
    return steady_s() - time.monotonic()


@dataclass(frozen=True, slots=True)
class Clock:
    """Reads both clocks at once; tests put their own in."""

    wall: Callable[[], float] = time.time
    steady: Callable[[], float] = steady_s
    slept: Callable[[], float] = slept_s

    def now(self) -> tuple[int, float]:
        """Unix time in whole milliseconds, and steady seconds rounded to the microsecond."""
        return round(self.wall() * 1000), round(self.steady(), 6)


def clock_step_s(before: tuple[int, float], after: tuple[int, float]) -> float:
    """How far the wall clock was moved between two readings, 0 if it was not. [s]"""
    step = (after[0] - before[0]) / 1000 - (after[1] - before[1])
    return step if abs(step) > STEP_S else 0.0


def iso_utc(time_ms: int) -> str:
    """ISO 8601 with milliseconds and a final Z."""
    moment = datetime.fromtimestamp(time_ms / 1000, UTC)
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def from_iso_utc(text: str) -> int:
    """Unix milliseconds of an ISO 8601 time; one without a zone is UTC.

    Raises
    ------
    ValueError
        If the text is not a time.
    """
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=UTC)
    return round(moment.timestamp() * 1000)


def from_person(text: str, now: datetime | None = None) -> int:
    """Unix milliseconds of a time as a person types it.

    ``14:05`` and ``14:05:30`` are today, ``2026-05-03`` is the beginning of that day, and whatever
    names no zone is meant in this computer's.

    Raises
    ------
    ValueError
        If the text is not a time.
    """
    now = now or datetime.now(UTC).astimezone()
    try:
        moment = datetime.combine(now.date(), datetime_time.fromisoformat(text), now.tzinfo)
    except ValueError:
        moment = datetime.fromisoformat(text)
    return round(moment.astimezone().timestamp() * 1000)


def local_zone() -> str:
    """IANA name of this computer's time zone, on Windows too; ``UTC`` where the system tells none
    that this machine knows."""
    from tzlocal import get_localzone_name

    try:
        name = get_localzone_name()
    except zoneinfo.ZoneInfoNotFoundError:
        return "UTC"
    return name if name in zoneinfo.available_timezones() else "UTC"
