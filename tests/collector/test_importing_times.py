"""The moment of each row: forms of time, order of day and month, zones, impossible dates."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from collector.errors import ForeignFileError
from collector.importing import Foreign, ImportOptions, read_foreign, read_runs


def read(folder: Path, times: list[str], heading: str = "time", **options: Any) -> Foreign:
    path = folder / "table.csv"
    rows = (f"{time},{n}\n" for n, time in enumerate(times))
    path.write_text(f"{heading},amps\n" + "".join(rows))
    return read_foreign(path, ImportOptions(**options))


def first(foreign: Foreign) -> datetime:
    moment: datetime = foreign.table["time"][0].as_py()
    return moment


def kinds(foreign: Foreign) -> list[str]:
    return [doubt.kind for doubt in foreign.doubts]


@pytest.mark.parametrize("text", [
    "2026-04-03T08:15:30", "2026-04-03 08:15:30", "2026/04/03 08:15:30", "2026-4-3 8:15:30",
    "2026-04-03 08:15:30.000", "20260403T081530", "3 Apr 2026 08:15:30", "03-Apr-2026 08:15:30",
    "April 3 2026 08:15:30", "3. Avril 2026 08:15:30", "2026-04-03T08:15:30.000000",
    "3. April 2026 8:15:30 AM", "2026-04-03T10:15:30+02:00",
    "2026-04-03T08:15:30Z", "2026-04-03 03:15:30 -0500", "2026-04-03 08:15:30 UTC",
    "1775204130", "1775204130000", "1775204130000000",
])
def test_one_moment_in_every_form(tmp_path: Path, text: str) -> None:
    """The same moment whichever way it is written; the order of these dates is never in doubt."""
    foreign = read(tmp_path, [text, text, text])

    assert first(foreign) == datetime(2026, 4, 3, 8, 15, 30, tzinfo=UTC)
    assert "date order" not in kinds(foreign)


@pytest.mark.parametrize(("dates", "moment", "words"), [
    (["13/04/2026", "14/04/2026"], (2026, 4, 13), "13/04/2026 exists only day-first"),
    (["04/13/2026", "04/14/2026"], (2026, 4, 13), "04/13/2026 exists only month-first"),
    (["30.11.2025", "02.12.2025"], (2025, 11, 30), "exists only day-first"),
    (["02.03.2026", "01.04.2026"], (2026, 3, 2), "month-first, time would run backwards"),
    (["04/12/26", "04/13/26"], (2026, 4, 12), "exists only month-first"),
])
def test_the_order_of_day_and_month_comes_from_the_column(
        tmp_path: Path, dates: list[str], moment: tuple[int, int, int], words: str) -> None:
    """One date that exists in one order only, or time running backwards, decides for all."""
    foreign = read(tmp_path, [f"{date} 08:00:00" for date in dates])

    assert first(foreign) == datetime(*moment, 8, tzinfo=UTC)
    assert "date order" not in kinds(foreign)
    assert any(words in line for line in foreign.words)


@pytest.mark.parametrize(("after", "month"), [("04/04/2026", 4), ("03/05/2026", 3)])
def test_a_midnight_within_seconds_decides_the_order(
        tmp_path: Path, after: str, month: int) -> None:
    """A log that runs over midnight goes on with the next day, not with the next month."""
    foreign = read(tmp_path, ["03/04/2026 23:59:58", "03/04/2026 23:59:59",
                              f"{after} 00:00:00"])

    assert first(foreign).month == month
    assert any("midnight" in line for line in foreign.words)


def test_a_single_day_leaves_the_order_open(tmp_path: Path) -> None:
    """Nothing tells 3 April from 4 March: the doubt says both and must be settled."""
    doubt = read(tmp_path, ["03/04/2026 08:00:00", "03/04/2026 08:00:01"]).doubts[0]

    assert doubt.must_ask
    assert doubt.option == "--dates"
    assert "Is 3/4/2026 3 April 2026 or 4 March 2026?" in doubt.question
    assert set(doubt.choices) == {"day-first", "month-first"}


@pytest.mark.parametrize(("order", "month"), [("day-first", 4), ("month-first", 3)])
def test_the_person_settles_the_order(tmp_path: Path, order: str, month: int) -> None:
    """--dates decides, and no doubt is left."""
    foreign = read(tmp_path, ["03/04/2026 08:00:00", "03/04/2026 08:00:01"], date_order=order)

    assert first(foreign).month == month
    assert "date order" not in kinds(foreign)


def test_files_with_both_orders_are_doubtful(tmp_path: Path) -> None:
    """Half the dates exist one way only, half the other: no order is right."""
    foreign = read(tmp_path, ["13/04/2026 08:00:00", "04/14/2026 08:00:00"])

    assert kinds(foreign)[0] == "date order"


def test_a_two_digit_year_between_dashes_is_asked_for(tmp_path: Path) -> None:
    """26-04-13 may be 2026 or 2013; day, month or year first."""
    times = ["26-04-13 08:00:00", "26-04-13 08:00:01"]
    doubt = read(tmp_path, times).doubts[0]

    assert doubt.must_ask
    assert "26 April 2013 or 13 April 2026" in doubt.question
    assert first(read(tmp_path, times, date_order="year-first")).year == 2026


@pytest.mark.parametrize("bad", ["90/02/2032 11:00:00", "02/00/2090 11:00:00",
                                 "02/30/2026 11:00:00", "04/03/2026 25:00:00", "0/0/0 0:00:00"])
def test_dates_that_do_not_exist_are_left_out_and_counted(tmp_path: Path, bad: str) -> None:
    """Faults of a real logger (see tests/data/small_ev): impossible dates between good ones."""
    foreign = read(tmp_path, ["04/13/2026 08:00:00", bad, "04/13/2026 08:00:01"])

    assert foreign.table["current_a"].to_pylist() == [0.0, 2.0]
    assert foreign.dropped.rows == {"no time, or a date that does not exist": 1}


def test_a_clock_not_set_yet_is_left_out(tmp_path: Path) -> None:
    """Rows of 1970 among rows of 2026 tell no time."""
    foreign = read(tmp_path, ["1970-01-01 00:00:07", "2026-04-13 08:00:00", "2026-04-13 08:00:01"])

    assert foreign.table["current_a"].to_pylist() == [1.0, 2.0]


def test_a_zone_moves_local_times_to_utc(tmp_path: Path) -> None:
    """08:15 in Lisbon in April is 07:15 UTC; without a zone UTC is taken and said."""
    times = ["2026-04-03 08:15:00", "2026-04-03 08:15:01"]

    assert first(read(tmp_path, times, zone="Europe/Lisbon")).hour == 7
    assert kinds(read(tmp_path, times, zone="Europe/Lisbon")) == []
    assert first(read(tmp_path, times)).hour == 8
    assert kinds(read(tmp_path, times)) == ["time zone"]
    assert kinds(read(tmp_path, times, heading="time (UTC)")) == []
    assert kinds(read(tmp_path, times, heading="Timestamp UTC")) == []


def test_date_and_time_in_two_columns_are_joined(tmp_path: Path) -> None:
    """Either column alone is no moment."""
    foreign = read(tmp_path, ["13.04.2026,08:00:00", "13.04.2026,08:00:01"], heading="Datum,Zeit")

    assert first(foreign) == datetime(2026, 4, 13, 8, tzinfo=UTC)
    assert foreign.mapping["time"].source == "Datum + Zeit"
    assert foreign.dropped.columns == {}


def test_times_of_day_run_over_midnight(tmp_path: Path) -> None:
    """Without a date the start's day counts, and a midnight adds one."""
    start = datetime(2026, 4, 3, tzinfo=UTC)
    table = read(tmp_path, ["23:59:59", "00:00:00", "00:00:01"], start=start).table

    assert table["time"].to_pylist()[1:] == [datetime(2026, 4, 4, 0, 0, s, tzinfo=UTC)
                                             for s in (0, 1)]


@pytest.mark.parametrize(("heading", "scale"), [("time (ms)", 1e-3), ("t [min]", 60.0),
                                                ("elapsed_h", 3600.0), ("time", 1.0)])
def test_elapsed_times_count_in_their_unit(tmp_path: Path, heading: str, scale: float) -> None:
    """The unit of the heading; seconds without one."""
    table = read(tmp_path, ["0", "3", "7"], heading=heading).table

    assert table["monotonic_s"].to_pylist() == pytest.approx([0.0, 3 * scale, 7 * scale])


def test_steps_of_a_thousand_are_milliseconds_and_said(tmp_path: Path) -> None:
    """A logger that counts 0, 1000, 2000 without a unit counts milliseconds, probably."""
    foreign = read(tmp_path, ["0", "1000", "2000"])

    assert foreign.table["monotonic_s"].to_pylist() == [0.0, 1.0, 2.0]
    assert "unit" in kinds(foreign)


def test_a_wall_clock_is_no_steady_clock(tmp_path: Path) -> None:
    """Times of a clock that can be set leave the steady seconds missing, in the file's order."""
    foreign = read(tmp_path, ["2026-04-13 08:00:02", "2026-04-13 08:00:00", "2026-04-13 08:00:01"])

    assert foreign.table["monotonic_s"].null_count == 3
    assert foreign.table["current_a"].to_pylist() == [0.0, 1.0, 2.0]


def test_dates_without_a_time_of_day_are_no_time(tmp_path: Path) -> None:
    """A daily summary is no log."""
    with pytest.raises(ForeignFileError, match="no column that tells the time"):
        read(tmp_path, ["2026-04-13", "2026-04-14"], heading="date")


def test_elapsed_times_that_start_over_are_runs(tmp_path: Path) -> None:
    """Without a column to name them they are counted; a clock that jitters starts nothing."""
    path = tmp_path / "runs.csv"
    path.write_text("t_s,amps\n" + "".join(f"{t},1\n" for t in (0, 1, 3, 2, 4, 0, 1, 2, 3)))
    runs = read_runs(path, ImportOptions())

    assert [(foreign.run, len(foreign.table)) for foreign in runs] == [("run 1", 5), ("run 2", 4)]


def test_trips_in_any_order_are_runs_of_their_own(tmp_path: Path) -> None:
    """Where clock times go back and a column called after trips changes, a trip begins."""
    path = tmp_path / "trips.csv"
    path.write_text("trip,time,amps\n" + "".join(
        f"{trip},2026-04-{day:02d}T08:00:0{s},{s}\n"
        for trip, day in (("a", 13), ("b", 14), ("c", 2)) for s in range(3)))
    runs = read_runs(path, ImportOptions())

    assert [foreign.run for foreign in runs] == ["trip=a", "trip=b", "trip=c"]
    assert [first(foreign).day for foreign in runs] == [13, 14, 2]


def test_days_of_a_spreadsheet_are_dates(tmp_path: Path) -> None:
    """46114.34375 is 2 April 2026, 8:15 (2026-01-01 is 46023, as any spreadsheet shows)."""
    path = tmp_path / "serial.csv"
    rows = "".join(f"{46_114.34375 + s / 86_400:.9f},{s}\n" for s in range(5))
    path.write_text(f"Date Time,amps\n{rows}")
    foreign = read_foreign(path, ImportOptions(zone="Europe/Lisbon"))

    assert [t.isoformat() for t in foreign.table["time"].to_pylist()] == [
        f"2026-04-02T07:15:0{s}+00:00" for s in range(5)]
    assert "as spreadsheets do" in foreign.words[-1]


@pytest.mark.parametrize(("heading", "first", "step"), [
    ("t (s)", 46_114.0, 0.001), ("t", 46_114.0, 1.0), ("t", 0.0, 0.001), ("t", 90_000.0, 0.001),
])
def test_seconds_are_not_taken_for_days(
        tmp_path: Path, heading: str, first: float, step: float) -> None:
    """With a unit, with whole steps, or outside the years 2000 to 2099 they count from zero."""
    path = tmp_path / "seconds.csv"
    path.write_text(f"{heading},amps\n" + "".join(
        f"{first + step * k:.3f},{k}\n" for k in range(5)))

    assert read_foreign(path, ImportOptions()).table["monotonic_s"][4].as_py() == pytest.approx(
        4 * step)
