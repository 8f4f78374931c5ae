"""The three vehicles' logbooks: what each is, and what the carrier and the punt stage."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
import pytest

from collector.day_figures import DAY
from collector.frames.decoder import Decoder
from collector.frames.encoder import encode
from collector.logbook import Logbook
from collector.logfile import read_log
from collector.monitors.reading import description_from_tables
from collector.notes import read_notes
from collector.simulator import carrier, punt
from collector.simulator.board import LIMITS
from collector.simulator.driving import Ride, standing
from collector.simulator.isle_books import ISLE_BOOKS
from collector.simulator.pack import State


def built(root: Path, vehicle: str, days: int) -> Logbook:
    told: list[tuple[int, int]] = []
    ISLE_BOOKS[vehicle].build(root, 1, days, lambda *done: told.append(done))
    assert told[-1] == (days, days)
    return Logbook.open(root)


@pytest.mark.parametrize(("vehicle", "cells", "has_way"), [
    ("flatbed", 16, True), ("carrier", 12, True), ("punt", 8, False)])
def test_each_vehicle_has_a_logbook_of_its_own(
        tmp_path: Path, vehicle: str, cells: int, *, has_way: bool) -> None:
    """Its own number of cells; the boat tells neither speed nor distance."""
    book = built(tmp_path / vehicle, vehicle, 2)
    logs = [read_log(entry.path) for entry in book.logs()]
    names = set(logs[0].table.column_names)

    assert {log.meta.vehicle for log in logs} == {vehicle}
    assert all(log.meta.invented for log in logs)
    assert book.config()["pack"][0]["cells"] == cells
    assert sum(name.startswith("cell_") for name in names) == cells
    assert ({"speed_m_s", "distance_m"} <= names) is has_way
    assert book.config()["vehicle"][0].get("kind") == ("boat" if vehicle == "punt" else None)


@pytest.mark.parametrize(("vehicle", "cells"), [("flatbed", 16), ("carrier", 12), ("punt", 8)])
def test_each_log_holds_a_whole_description_of_its_monitor(
        tmp_path: Path, vehicle: str, cells: int) -> None:
    """Whoever opens it later can read such frames again: what is encoded comes back."""
    [entry, *_] = built(tmp_path / vehicle, vehicle, 1).logs()
    log = read_log(entry.path)
    monitor = description_from_tables(log.meta.monitor, entry.path.name)
    row = {name: figure for name in monitor.columns
           if (figure := log.table[name][5].as_py()) is not None}
    [heard] = Decoder(monitor).feed(encode(monitor, row))

    assert [name for name in monitor.columns if name.startswith("cell_")] == [
        f"cell_{n:02d}_v" for n in range(1, cells + 1)]
    assert {name: heard[name] for name in row} == {
        name: pytest.approx(told) if isinstance(told, float) else told
        for name, told in row.items()}


def test_what_the_board_bleeds_is_typed(tmp_path: Path) -> None:
    """60 mA a cell: the hours of bleeding that a cell needs rest on it."""
    for vehicle in ("flatbed", "carrier", "punt"):
        limits = built(tmp_path / vehicle, vehicle, 1).config()["pack"][0]["limits"]
        assert limits["bleed_a"] == LIMITS.bleed_a


def test_the_veteran_has_lived_two_seasons_more(tmp_path: Path) -> None:
    """Spring fills, tests and typed evenings follow the flatbed's own season."""
    book = built(tmp_path / "veteran", "veteran", 1)
    years = [entry.stem[:4] for entry in book.logs()]
    typed = [note for note in read_notes(book.notes_path).rows if note.kind == DAY]

    assert {"2026", "2027", "2028"} == set(years)
    assert len(typed) > 300


def test_a_day_is_the_same_alone_or_among_others(tmp_path: Path) -> None:
    """From one seed the same logs."""
    short, long = built(tmp_path / "a", "punt", 1), built(tmp_path / "b", "punt", 2)

    for entry in short.logs():
        assert read_log(entry.path).table.equals(read_log(long.log_path(entry.stem)).table)


def test_propeller_law() -> None:
    """Half the shaft speed takes an eighth of the power (cube law; common practice, no source)."""
    assert float(punt.shaft_watts(0.5)) == pytest.approx(punt.FULL_W / 8)
    assert float(punt.shaft_watts(1.0, punt.TOW)) == pytest.approx(1.3 * punt.FULL_W)


def rolling(force_n: float, speed_m_s: float, seconds: int = 30) -> Ride:
    still = standing(seconds, 1.0)
    covered_m = np.arange(float(seconds)) * speed_m_s
    return Ride(np.full(seconds, speed_m_s), covered_m, still.elevation_m,
                np.full(seconds, force_n), still.forced_a, still.dither)


def test_downhill_gives_amps_back() -> None:
    """800 N that hold it back at 2.5 m/s are 2 kW, of which 60 % come back: 30 A at 40 V; as much
    uphill draws 62.5 A. Worked out by hand."""
    assert carrier.drive_amps(rolling(-800, 2.5), 40.0)[0] == pytest.approx(30.0)
    assert carrier.drive_amps(rolling(800, 2.5), 40.0)[0] == pytest.approx(-62.5)
    assert carrier.drive_amps(rolling(-5000, 2.5), 40.0)[0] == carrier.BACK_MAX_A
    assert carrier.drive_amps(rolling(-800, 0.5), 40.0)[0] == 0.0


def test_the_board_takes_nothing_into_a_full_pack() -> None:
    """Once a cell is too high no amps go in until some went out; a pack with room takes all."""
    cart = carrier.cart_on(date(2026, 9, 10), 1)
    ride = Ride.joined([rolling(-800, 2.5, 300), rolling(800, 2.5, 60), rolling(-800, 2.5, 5)])
    roomy = cart.drive(ride, np.random.default_rng(1), 15.0)
    cart.state = State(np.zeros(carrier.CELLS), 15.0)
    full = cart.drive(ride, np.random.default_rng(1), 15.0)
    amps = np.asarray(full.columns["current_a"], dtype=float)
    is_open = np.asarray(full.columns["state"]) == "charge path open"

    assert (np.asarray(roomy.columns["current_a"], dtype=float)[1:300] > 25).all()
    assert is_open[299]
    assert (amps[is_open] <= 0).all()
    assert (amps[300:360] < -40).all()
    assert amps[362] > 15


@pytest.mark.parametrize("seed", [1, 2, 3, 4, 5])
def test_only_the_full_morning_opens_the_charge_path(seed: int) -> None:
    """On 10 September the carrier leaves full, straight downhill; no other drive does so."""
    opened = {log.start.date() for logs in carrier.live_days(seed) for log in logs
              if log.kind == "drive" and "charge path open" in log.table["state"].to_pylist()}

    assert opened == {carrier.FULL_DAY}
