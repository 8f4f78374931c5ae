"""Building a logbook of the season: files, metadata, determinism."""

from datetime import date
from pathlib import Path

import numpy as np
import pytest

from collector.alarm_limits import limits_of
from collector.clock import from_iso_utc
from collector.logbook import Logbook
from collector.logfile import read_log
from collector.simulator import season, workday
from collector.simulator.daylog import log_table
from collector.simulator.flatbed import Flatbed


@pytest.fixture(scope="module")
def first_days(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[Path]]:
    root = tmp_path_factory.mktemp("book")
    return root, season.build_season(root, days=slice(0, 3))


def test_a_log_for_each_boat_and_each_charge(first_days: tuple[Path, list[Path]]) -> None:
    """Two drives and a charge a day, named by their start; on 3 April the drives are one log."""
    root, paths = first_days
    logs = [read_log(path) for path in paths]

    assert [entry.path for entry in Logbook.open(root).logs()] == paths
    assert [log.meta.kind for log in logs] == [
        "drive", "drive", "charge", "drive", "charge", "drive", "drive", "charge"]
    for log in logs:
        first_ms = log.table["time"][0].as_py().timestamp() * 1000
        stem = log.path.stem
        assert first_ms == from_iso_utc(f"{stem[:10]}T{stem[11:13]}:{stem[14:16]}:{stem[17:19]}Z")


def test_metadata_says_what_it_is(first_days: tuple[Path, list[Path]]) -> None:
    """Invented, the flatbed's pack, the whole description, no sign decided."""
    meta = read_log(first_days[1][0]).meta

    assert meta.invented
    assert (meta.pack, meta.vehicle) == ("flatbed main", "flatbed")
    assert meta.monitor["name"] == "demo-binary"
    assert meta.sign == {}
    assert meta.software.startswith("packhand")


def test_logbook_holds_pack_limits_and_claims(first_days: tuple[Path, list[Path]]) -> None:
    """The four claims of day one, the pack and its limits are typed in."""
    config = Logbook.open(first_days[0]).config()

    assert config["invented"] is True
    assert [claim["text"] for claim in config["claim"]] == [
        "40 miles on a charge", "105 Ah", "200 A peak", "full in 5 h"]
    assert (config["pack"][0]["cells"], config["pack"][0]["rated_ah"]) == (16, 105)
    assert config["pack"][0]["limits"]["continuous_a"] == 100
    assert {limit.key for limit in limits_of(config, "flatbed main", "x")} == {
        "out_a", "in_a", "cell_high_v", "cell_low_v", "temp_high_c", "cold_charging_c",
        "soc_low_pct"}


def test_columns_are_the_monitors_and_the_phones(first_days: tuple[Path, list[Path]]) -> None:
    """A drive with a phone along has every column of the monitor, speed and distance."""
    log = read_log(first_days[1][0])

    assert set(log.columns) == {
        "current_a", "voltage_v", "soc_pct", "time_left_h", "temp_1_c", "temp_2_c", "speed_m_s",
        "distance_m", "sequence", "state", "fault", *(f"cell_{n:02d}_v" for n in range(1, 17))}


def test_rows_come_once_a_second(first_days: tuple[Path, list[Path]]) -> None:
    """A drive and a charge have no gap."""
    for path in first_days[1][:3]:
        table = read_log(path).table
        assert set(np.diff(table["monotonic_s"].to_numpy()).round(3)) == {1.0}
        assert table["event"].null_count == table.num_rows


def test_a_recorder_left_on_has_a_gap_at_noon(first_days: tuple[Path, list[Path]]) -> None:
    """Hours switched off are a gap that an event tells, not rows."""
    table = read_log(first_days[1][3]).table
    step_s = np.diff(table["monotonic_s"].to_numpy())
    events = [event for event in table["event"].to_pylist() if event]

    assert np.sort(np.unique(step_s.round(3)))[:2].tolist() == [1.0, 3.0]
    assert (step_s > 600).sum() == 1
    assert events == ["silent: no frame for 3 s"]


def test_distance_goes_on_counting_after_noon(first_days: tuple[Path, list[Path]]) -> None:
    """Five round trips of 1.9 km."""
    way_m = read_log(first_days[1][3]).table["distance_m"].drop_null().to_numpy()

    assert (np.diff(way_m) >= 0).all()
    assert way_m[-1] == pytest.approx(5 * 1900, abs=5)


def test_the_same_seed_gives_the_same_logs(
        first_days: tuple[Path, list[Path]], tmp_path: Path) -> None:
    """Byte for byte the same tables, also where only one day is written."""
    again = season.build_season(tmp_path / "again", days=slice(2, 3))
    other = season.build_season(tmp_path / "other", days=slice(0, 1), seed=2)

    assert [path.name for path in again] == [path.name for path in first_days[1][5:]]
    for path, known in zip(again, first_days[1][5:], strict=True):
        assert read_log(path).table.equals(read_log(known).table)
    assert not read_log(other[0]).table.equals(read_log(first_days[1][0]).table)


def test_progress_counts_days(tmp_path: Path) -> None:
    """The bar reaches its end."""
    told: list[tuple[int, int]] = []
    season.build_season(tmp_path, days=slice(0, 2), progress=lambda *days: told.append(days))

    assert told == [(1, 2), (2, 2)]


def test_what_is_there_is_not_overwritten(tmp_path: Path) -> None:
    """A person's own logbook.toml is kept, and a log is never replaced."""
    (tmp_path / "logbook.toml").write_text("# mine\n")
    season.build_season(tmp_path, days=slice(0, 1))

    assert (tmp_path / "logbook.toml").read_text() == "# mine\n"
    with pytest.raises(FileExistsError):
        season.build_season(tmp_path, days=slice(0, 1))


def test_charge_taken_out_is_charge_missing() -> None:
    """A day's shown amp-hours are what every cell has lost, to the display's resolution."""
    day = workday.season_days(1)[0]
    cart = Flatbed.delivered(day, 1)
    before = cart.state.drawn_ah
    recording = cart.drive(range(1, 3), np.random.default_rng(1), 10.0)
    shown = np.asarray(recording.columns["current_a"], dtype=float).sum() / 3600

    assert cart.state.drawn_ah - before == pytest.approx(-shown, abs=0.05)
    assert log_table([recording]).num_rows == len(recording.elapsed_s)
    assert day.date == date(2026, 4, 2)
