"""Wall time, steady time and the difference that a set clock makes."""

import os
import subprocess
import sys
import time
import zoneinfo
from collections.abc import Iterator

import pytest

from collector.clock import Clock, clock_step_s, from_iso_utc, iso_utc, steady_s


def test_a_forward_step_is_told_with_its_size() -> None:
    """Wall time that ran ahead of the steady clock was set."""
    assert clock_step_s((1_000, 5.0), (61_000, 6.0)) == pytest.approx(59.0)


def test_a_step_back_three_days_is_negative() -> None:
    """A clock set back gives a negative step, however large."""
    assert clock_step_s((300_000_000, 5.0), (300_001_000 - 259_200_000, 6.0)) == -259_200.0


def test_a_long_gap_is_no_step() -> None:
    """Both clocks advancing together is a gap, not a step."""
    assert clock_step_s((0, 0.0), (36_000_000, 36_000.2)) == 0.0


def test_time_text_keeps_milliseconds_both_ways() -> None:
    """Writing and reading a time changes nothing."""
    assert iso_utc(from_iso_utc("2026-04-02T08:15:00.007Z")) == "2026-04-02T08:15:00.007Z"


@pytest.fixture
def _far_zone(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A computer on the other side of the world."""
    monkeypatch.setenv("TZ", "Pacific/Auckland")
    getattr(time, "tzset", lambda: None)()
    yield
    monkeypatch.undo()
    getattr(time, "tzset", lambda: None)()


@pytest.mark.usefixtures("_far_zone")
def test_a_time_without_zone_is_utc() -> None:
    """A naive time is UTC wherever the computer stands; an offset is applied."""
    assert from_iso_utc("2026-04-02T08:15:00") == from_iso_utc("2026-04-02T10:15:00+02:00")


def test_steady_clock_counts_sleep() -> None:
    """The steady clock is the one that counts on while the computer sleeps, where there is one."""
    number = getattr(time, "CLOCK_BOOTTIME", None)
    if number is None:
        pytest.skip("this system has no clock of that kind")

    assert abs(steady_s() - time.clock_gettime(number)) < 1


def test_now_rounds_to_what_a_log_holds() -> None:
    """Whole milliseconds of wall time and microseconds of steady time."""
    assert Clock(lambda: 1.23456, lambda: 7.12345678).now() == (1235, 7.123457)


@pytest.mark.parametrize(("told", "zone"), [
    ("Pacific/Auckland", "Pacific/Auckland"), (":Europe/Oslo", "Europe/Oslo"),
    ("Nonsense/Zone", None), ("NZST-12", None)])
def test_local_zone_takes_a_named_zone(told: str, zone: str | None) -> None:
    """A zone from the environment counts if it is an IANA name, and nothing else does.

    In a process of its own: the zone of a process is kept once it was asked for.
    """
    heard = subprocess.run([sys.executable, "-W", "error", "-c",
                            "from collector.clock import local_zone; print(local_zone())"],
                           env=os.environ | {"TZ": told}, capture_output=True, text=True,
                           check=True).stdout.strip()

    assert heard == zone if zone else heard in zoneinfo.available_timezones() - {told}
