"""The store: logs ready to draw, names checked, summaries worked out once."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

import packhand
from analysis.load import telemetry_from_table
from collector.corrections import Correction, accept
from collector.errors import LogFormatError
from collector.logbook import STEM_FORMAT, Logbook
from collector.logfile import write_log
from dashboard.quantities import Units
from dashboard.recording import Recording, cell_bounds, rated_ah
from dashboard.store import Store
from dashboard.workings import identity
from tests.dashboard.demo_logs import META, START, drive_table, make_logbook, newest_stem


def recording_of(**options: object) -> Recording:
    table = drive_table(800, **options)  # type: ignore[arg-type]
    return Recording.of(telemetry_from_table(table, META.as_json(), "test"), Units())


def test_amps_are_drawn_in_packhands_sign() -> None:
    """A monitor that shows plus for out is turned; the picture is the same."""
    table = drive_table(800)
    place = table.column_names.index("current_a")
    turned = table.set_column(place, "current_a", [(-table["current_a"].to_numpy())])
    one = Recording.of(telemetry_from_table(table, {}, "one"), Units())
    other = Recording.of(telemetry_from_table(turned, {}, "other"), Units())

    assert other.sign.convention == "positive_is_discharge"
    assert np.array_equal(one.channels["amps"].values, other.channels["amps"].values)


def test_the_lowest_cell_is_named() -> None:
    """The cell that is lowest in most samples gets the line of its own."""
    assert recording_of().lowest_cell == 14


def test_curves_break_at_the_gap() -> None:
    """No trace has a point inside the gap, and each is broken there."""
    recording = recording_of(gap_s=200.0)
    curves = recording.curves(0.0, recording.duration_s, 500)

    assert [(gap.start_s, gap.end_s) for gap in recording.gaps] == [(399.0, 600.0)]
    for name in ("out", "volts", "percent", "ribbon", "lowest", "temperature", "speed"):
        inside = (curves[name].x > 399.0) & (curves[name].x < 600.0)
        assert not inside.any()
        assert np.isnan(curves[name].y).any(), name


def test_the_two_sides_of_zero_hold_every_amp() -> None:
    """What flows out and what comes in are drawn apart; together they are the whole line."""
    recording = recording_of()
    curves = recording.curves(0.0, recording.duration_s, 5000)
    amps = recording.channels["amps"].values

    assert np.nanmin(curves["out"].y) == amps.min()
    assert np.nanmax(curves["in"].y) == amps.max()
    assert np.nanmax(curves["out"].y) == np.nanmin(curves["in"].y) == 0
    assert np.array_equal(np.nansum([curves["out"].y, curves["in"].y], axis=0), amps)


def test_cell_bounds_come_from_either_form() -> None:
    """Single cells, or the lowest and highest where the monitor tells no more."""
    raw = telemetry_from_table(drive_table(50), {}, "test")
    lows, highs = cell_bounds(raw)
    alone = raw.having()
    columns = {"cell_min_v": lows, "cell_max_v": highs}

    assert (lows < highs).all()
    assert np.array_equal(cell_bounds(type(alone)(alone.start, alone.elapsed_s, columns))[0], lows)


@pytest.mark.parametrize(("config", "rated"), [
    ({"pack": [{"name": "main", "rated_ah": 105}]}, 105.0),
    ({"pack": [{"name": "a", "rated_ah": 60}, {"name": "main", "rated_ah": 105}]}, 105.0),
    ({"pack": [{"name": "a", "rated_ah": 60}, {"name": "b"}]}, None),
    ({"pack": [{"name": "main", "rated_ah": "lots"}]}, None),
    ({"pack": ["main"]}, None),
    ({"pack": 3}, None),
    ({"pack": {"name": "main", "rated_ah": 105}}, 105.0),
    ({}, None),
])
def test_capacity_is_the_named_packs(config: dict[str, object], rated: float | None) -> None:
    """The pack of the log's name, or the only one; nothing is guessed."""
    assert rated_ah(config, {"pack": "main"}) == rated


def test_one_bound_alone_draws_no_ribbon() -> None:
    """A monitor that tells the lowest cell only leaves the cells' lane out."""
    raw = telemetry_from_table(drive_table(50), {}, "test")
    half = type(raw)(raw.start, raw.elapsed_s, {"cell_min_v": raw["cell_01_v"]})

    assert Recording.of(half, Units()).traces == []


def test_logs_come_newest_first_with_summaries(logbook: Logbook, store: Store) -> None:
    """Each finished log has minutes, amp-hours, consumption and a small line."""
    logs = store.logs()

    assert [entry.stem for entry, _ in logs] == sorted((e.stem for e, _ in logs), reverse=True)
    for _, summary in logs:
        assert summary is not None
        assert summary.kind == "drive"
        assert summary.out_ah is not None
        assert summary.out_ah > 5
        assert summary.wh_per_km is not None
        assert summary.invented
        assert summary.start.endswith("+01:00")


@pytest.mark.parametrize("name", ["..%2f..%2fetc%2fpasswd", "../logbook", "/etc/passwd", "",
                                  "2020-01-01T00-00-00Z", "*"])
def test_only_listed_logs_open(store: Store, name: str) -> None:
    """A name is compared with the logbook's list and never becomes a path."""
    with pytest.raises(LogFormatError, match="no such log"):
        store.recording(name)


def test_only_the_last_logs_are_kept(tmp_path: Path) -> None:
    """Opening one log after the other does not fill the memory."""
    store = Store(make_logbook(tmp_path / "book", drives=3, samples=200))
    stems = [entry.stem for entry, _ in store.logs()]
    first = store.recording(stems[0])

    assert store.recording(stems[0]) is first
    for stem in stems[1:]:
        store.recording(stem)
    assert store.recording(stems[0]) is not first


def test_a_damaged_log_is_listed_with_its_problem(tmp_path: Path) -> None:
    """One bad file costs its own row, not the page."""
    book = make_logbook(tmp_path / "book", drives=1, samples=200)
    book.log_path("2026-05-01T00-00-00Z").write_bytes(b"PAR1 not really")
    store = Store(book)
    store.logs()
    store.settle(30)

    problems = [summary.problem for _, summary in store.logs() if summary is not None]
    assert len(problems) == 2
    assert "not a readable Parquet file" in problems[0]
    assert problems[1] == ""


def test_a_changed_log_and_a_correction_are_seen(tmp_path: Path) -> None:
    """What the list and the drive's page say follows the files, not what was read before."""
    book = make_logbook(tmp_path / "book", drives=1, samples=200)
    store = Store(book)

    def told() -> tuple[float, float]:
        store.logs()
        store.settle(30)
        (entry, summary), = store.logs()
        assert summary is not None
        assert summary.out_ah is not None
        return summary.out_ah, float(store.recording(entry.stem).telemetry["current_a"].mean())

    before = told()
    arguments = ["correct", "amps", "--zero", "0", "--gain", "1.2", "--from", "2026-01-01",
                 "--logbook", str(book.root)]
    assert packhand.main(arguments) == 0
    after = told()

    assert after == pytest.approx([1.2 * figure for figure in before], rel=1e-3)


def test_a_log_without_amps_has_its_row(tmp_path: Path) -> None:
    """Its minutes and no amp-hours; nothing is drawn."""
    book = Logbook.create(tmp_path / "book")
    write_log(book.log_path(book.stem_for(START)), META,
              drive_table(300).drop_columns(["current_a", "speed_m_s"]))
    store = Store(book)
    store.logs()
    store.settle(30)
    (_, summary), = store.logs()

    assert summary is not None
    assert (summary.duration_s, summary.out_ah, summary.amps) == (299.0, None, ())


def test_a_log_that_is_just_gone_has_an_identity(tmp_path: Path) -> None:
    """A journal can become Parquet between listing and looking."""
    assert identity(tmp_path / "gone.csv") == "gone.csv"


def test_a_log_without_amps_is_drawn(tmp_path: Path) -> None:
    """Volts alone are a drive too; nothing is invented for the rest."""
    table = drive_table(300).drop_columns(["current_a", "speed_m_s"])
    book = Logbook.create(tmp_path / "book")
    stem = book.stem_for(START + timedelta(days=9))
    write_log(book.log_path(stem), META, table)

    recording = Store(book).recording(stem)
    assert sorted(recording.traces) == sorted(recording.curves(0, 300, 100))
    assert set(recording.traces) == {"volts", "percent", "ribbon", "lowest",
                                                  "temperature"}


def test_the_newest_log_has_its_marks(logbook: Logbook, store: Store) -> None:
    """Marks keep their words as they were written."""
    words = [mark.words for mark in store.recording(newest_stem(logbook)).marks]

    assert words == ["top of the ramp", "<b>gate</b>"]


def test_a_log_that_was_moved_is_listed_where_it_began(tmp_path: Path) -> None:
    """Newest first, by when each truly began."""
    book = make_logbook(tmp_path / "book")
    oldest, _, newest = (entry.stem for entry in book.logs())
    began_ms = round(datetime.strptime(newest, STEM_FORMAT).replace(tzinfo=UTC).timestamp() * 1000)
    accept(book.corrections_path, Correction(1, 0, "", "time", 9 * 86_400.0, 1.0, began_ms - 1000,
                                             began_ms + 1000))

    stems = [entry.stem for entry, _ in Store(book).logs()]
    assert stems[-2:] == [oldest, newest]
