"""Which day a moment belongs to, where the pack was logged."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from analysis.local_days import local, midnight_of, midnight_s, tell_days_in, zone_named
from analysis.phrases import day_text
from collector.logfile import write_log
from packhand import main
from tests.dashboard.demo_logs import META, drive_table

#: 19:00 on 3 May in Los Angeles, 04:00 on 4 May in Oslo.
EVENING_S = datetime(2026, 5, 4, 2, tzinfo=UTC).timestamp()


@pytest.mark.parametrize(("zone", "day"), [
    ("America/Los_Angeles", "3 May 2026"), ("Europe/Oslo", "4 May 2026"), ("UTC", "4 May 2026"),
    ("Nowhere/At_all", "4 May 2026")])
def test_a_moment_is_of_the_day_where_it_was_lived(zone: str, day: str) -> None:
    """An evening's drive is not told as the next day's; an unknown zone counts as UTC."""
    tell_days_in(zone)

    assert day_text(EVENING_S) == day
    assert local(EVENING_S).tzinfo == zone_named(zone)


@pytest.mark.parametrize(("day", "hours"), [
    (date(2026, 3, 29), 23), (date(2026, 5, 3), 24), (date(2026, 10, 25), 25)])
def test_days_of_the_calendar_last_as_long_as_clocks_say(day: date, hours: int) -> None:
    """In Oslo clocks go on in March and back in October (IANA time zone database)."""
    tell_days_in("Europe/Oslo")
    begins = midnight_of(day)

    assert midnight_s(begins, 1) - begins == 3600 * hours
    assert midnight_s(begins + 3600 * hours - 1) == begins


def test_a_command_tells_the_logbooks_days_and_no_others(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A logbook kept in California tells its own evenings; the zone ends with the command."""
    (tmp_path / "logs").mkdir()
    (tmp_path / "logbook.toml").touch()
    for night in (0, 1):
        start = datetime.fromtimestamp(EVENING_S, UTC) + timedelta(days=night)
        write_log(tmp_path / "logs" / f"{start:%Y-%m-%dT%H-%M-%SZ}.parquet",
                  replace(META, time_zone="America/Los_Angeles"), drive_table(600, start=start))

    assert main(["season", str(tmp_path)]) == 0
    assert "3 May 2026 to 4 May 2026" in capsys.readouterr().out
    assert day_text(EVENING_S) == "4 May 2026"
