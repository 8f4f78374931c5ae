"""Shared copies: nothing of place, name, serial or typed words leaves; figures stay as they were.

Scenario: somebody shares a log with a forum, gets a preview of exactly what leaves, home trimmed,
one text block and one file; nothing is sent.
"""

from __future__ import annotations

import csv
import io
import json
import random
import socket
import zipfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import packhand
from collector.corrections import Correction, accept
from collector.errors import LogbookError
from collector.journal import log_schema
from collector.logbook import Logbook
from collector.logfile import read_log, write_log
from collector.meta import LogMeta
from collector.moment import Moment
from collector.notes import Note, add_note
from dashboard.sharing.cleaning import Choice
from dashboard.sharing.copy import Shared, make_copy
from dashboard.sharing.places import circles, distance_m
from dashboard.sharing.spreadsheet import as_csv, neutral
from tests.dashboard.papers_book import CUT_OUT_LOG

#: Words of which none may leave.
SECRETS = ("anna", "quillet", "4711", "flatbed", "/dev/", "aa:bb:cc", "serial-99", "hyperlink",
           "lisbon", "secret")
STEM = "2026-05-01T08-00-00Z"
HOME = (54.5, -3.2)


@pytest.fixture
def book(tmp_path: Path) -> Logbook:
    """A log whose every corner holds a secret; it begins and ends at home."""
    book = Logbook.create(tmp_path / "book")
    (book.root / "logbook.toml").write_text(
        '[[pack]]\nname = "Anna\'s"\nserial = "serial-99"\ncells = 4\nrated_ah = 50\n')
    rows = 1200
    way = np.concatenate([np.zeros(400), np.arange(400), np.full(400, 400.0)])  # then far away
    way[-200:] = np.linspace(400, 0, 200)
    columns = {
        "current_a": np.where(np.arange(rows) % 60 < 30, -20.0, 0.0),
        "voltage_v": np.where(np.arange(rows) % 60 < 30, 12.9, 13.3),
        "distance_m": 1_234_567.0 + np.abs(np.diff(way, prepend=0)).cumsum() * 10,
        "latitude_deg": HOME[0] + way * 1e-4, "longitude_deg": np.full(rows, HOME[1]),
        "elevation_m": np.full(rows, 31.0), "sequence": np.arange(rows) + 4711.0}
    names = [*columns, "state", "fault"]
    schema = log_schema(names)
    start_ms = 1_777_622_400_000
    events: list[str | None] = [None] * rows
    events[10], events[11], events[12] = "mark: at Anna's gate", "link lost: /dev/ttyUSB0", "secret"
    data = {"time": pa.array(start_ms + np.arange(rows) * 1000).cast(schema.field("time").type),
            "monotonic_s": 99_000.0 + np.arange(rows), **columns,
            "state": pa.array(["=serial-99"] * rows), "fault": pa.array([None] * rows, pa.string()),
            "event": pa.array(events, pa.string())}
    meta = LogMeta(pack="Anna's", vehicle="flatbed", kind="drive", time_zone="Europe/Lisbon",
                   monitor={"name": "serial-99"},
                   origin={"port": "/dev/ttyUSB0", "mac": "AA:BB:CC"},
                   sign={"convention": "negative_is_discharge", "decided_by": "volts",
                         "evidence": [{"words": "secret"}]}, extra={"later": "secret"})
    write_log(book.log_path(STEM), meta, pa.table(
        {name: data[name] for name in schema.names}, schema=schema))
    add_note(book.notes_path, Note(
        start_ms + 60_000, "joint-millivolts", 119.0, "mV", "119mV", "Anna's lug",
        instrument="clamp 4711", text='=HYPERLINK("secret")', photo="/home/anna.jpg",
        moment=Moment(STEM, 0.3, -20.0, 12.9)))
    add_note(book.notes_path, Note(start_ms + 61_000, "text", text="secret"))
    accept(book.corrections_path, Correction(1, start_ms, "Anna's", "current_a", 0.35, 1.0,
                                             start_ms, reason="secret"))
    return book


def everything(shared: Shared) -> str:
    """All that leaves, as text: file bytes, Parquet metadata, the words."""
    told = [shared.text, *shared.leaves, *shared.files]
    for name, data in shared.files.items():
        if name.endswith(".parquet"):
            table = pq.read_table(io.BytesIO(data))
            told += [json.dumps({k.decode(): v.decode() for k, v in
                                 (table.schema.metadata or {}).items()}), str(table.to_pydict())]
        told.append(data.decode("latin-1"))
    return " ".join(told).lower()


@pytest.mark.parametrize("form", [".parquet", ".csv"])
@pytest.mark.parametrize("choice", [Choice(), Choice("trim"), Choice("area"), Choice("shape"),
                                    Choice(is_clock_shifted=True)])
def test_no_secret_leaves(book: Logbook, choice: Choice, form: str) -> None:
    """Neither in data nor in metadata, nor in the text or the preview."""
    chance = random.Random(5)  # of 2400 positions one may hold a serial's digits by chance
    told = everything(make_copy(book, [STEM], choice, form, chance))

    assert [secret for secret in SECRETS if secret in told] == []


def test_the_source_does_hold_the_secrets(book: Logbook) -> None:
    """Else the test before could not fail."""
    told = everything(Shared({"a.parquet": book.log_path(STEM).read_bytes()}, "", (), ()))

    assert {"anna", "serial-99", "/dev/", "lisbon", "secret", "flatbed"} <= {
        secret for secret in SECRETS if secret in told}


def test_figures_are_the_same(book: Logbook, tmp_path: Path) -> None:
    """What is kept is kept exactly, with the sign and the corrections, without their words."""
    shared = make_copy(book, [STEM], Choice())
    path = tmp_path / "copy.parquet"
    path.write_bytes(shared.files["log-1.parquet"])
    copy, own = read_log(path), read_log(book.log_path(STEM))

    assert set(copy.columns) == {"current_a", "voltage_v", "distance_m"}
    assert copy.table["current_a"].equals(own.table["current_a"])
    assert copy.table["time"].equals(own.table["time"])
    assert copy.table["monotonic_s"][0].as_py() == 0
    assert copy.table["distance_m"][0].as_py() == 0
    assert dict(copy.meta.sign) == {"convention": "negative_is_discharge", "decided_by": "volts"}
    assert [layer["value"] for layer in copy.meta.corrections] == [-0.35, 1.0]
    assert [e for e in copy.table["event"].to_pylist() if e] == ["mark", "link lost", "mark"]


def test_a_shifted_clock_keeps_the_distances_in_time(book: Logbook, tmp_path: Path) -> None:
    """Everything moves by the same amount, corrections and hand readings too."""
    shared = make_copy(book, [STEM], Choice(is_clock_shifted=True))
    path = tmp_path / "copy.parquet"
    path.write_bytes(shared.files["log-1.parquet"])
    copy = read_log(path)
    times = copy.table["time"].cast(pa.int64()).to_numpy()

    assert str(copy.table["time"][0].as_py()) == "2000-01-01 00:00:00+00:00"
    assert (np.diff(times) == 1000).all()
    assert copy.meta.corrections[0]["from"] == "2000-01-01T00:00:00.000Z"
    assert b"2000-01-01T00:01:00.000Z,joint-millivolts,119,mV,place 1" in shared.files[
        "readings.csv"]
    assert "2026" not in everything(shared)


@pytest.mark.parametrize("seed", range(8))
def test_home_is_trimmed_whatever_chance_does(book: Logbook, tmp_path: Path, seed: int) -> None:
    """No position within the radius of where the log begins and stays leaves; some far off do."""
    shared = make_copy(book, [STEM], Choice("trim", 500.0), chance=random.Random(seed))
    path = tmp_path / "copy.parquet"
    path.write_bytes(shared.files["log-1.parquet"])
    away = distance_m(*HOME, *track_of(path))

    assert np.nanmin(away) > 500
    assert np.isfinite(away).sum() > 50


@pytest.mark.parametrize("seed", range(4))
def test_a_shape_lies_nowhere_and_keeps_its_lengths(book: Logbook, tmp_path: Path,
                                                    seed: int) -> None:
    """It begins at 0, 0, is turned by chance, and is as long as the way that was driven."""
    shared = make_copy(book, [STEM], Choice("shape"), chance=random.Random(seed))
    path = tmp_path / "copy.parquet"
    path.write_bytes(shared.files["log-1.parquet"])
    latitude, longitude = track_of(path)
    true = track_of(book.log_path(STEM))

    assert (latitude[0], longitude[0]) == (0, 0)
    assert abs(latitude).max() + abs(longitude).max() < 0.1
    assert distance_m(0.0, 0.0, latitude, longitude) == pytest.approx(
        distance_m(*HOME, *true), abs=0.5, rel=1e-3)
    assert abs(longitude).max() > 1e-3  # the true one runs north
    assert any("positions: 1200 of 1200 rows, latitude" in line for line in shared.leaves)


def test_the_area_is_one_rounded_position_in_the_text(book: Logbook) -> None:
    """No column of positions leaves; a hundredth of a degree of latitude is about a kilometre."""
    shared = make_copy(book, [STEM], Choice("area"), ".csv")

    assert "Area: about 54.51° N, 3.20° W, to a kilometre." in shared.text
    assert b"latitude_deg" not in shared.files["log-1.csv"]
    assert any("54.51° N" in line for line in shared.leaves)


def track_of(path: Path) -> list[np.ndarray]:
    table = read_log(path).table
    return [table[name].to_numpy().astype(float) for name in ("latitude_deg", "longitude_deg")]


def test_circles_do_not_show_their_middle() -> None:
    """Two shares of one track have different circles."""
    still = np.arange(600.0), np.full(600, HOME[0]), np.full(600, HOME[1])
    one, other = (circles([still], 500, random.Random(seed))[0] for seed in (1, 2))

    assert one != other
    assert (one.latitude_deg, one.longitude_deg) != HOME


def test_distance_on_the_plane_vs_the_sphere() -> None:
    """One minute of latitude is about a nautical mile of 1852 m (its historical meaning); a
    degree of longitude at 60 degrees is half of one at the equator."""
    north = distance_m(54.0, 0.0, np.array([54.0 + 1 / 60]), np.array([0.0]))[0]
    east = [distance_m(lat, 0.0, np.array([lat]), np.array([0.01]))[0] for lat in (0.0, 60.0)]

    assert north == pytest.approx(1852, rel=0.002)
    assert east[1] == pytest.approx(east[0] / 2, rel=1e-9)


@pytest.mark.parametrize("stem", ["../../etc/passwd", "2020-01-01T00-00-00Z", "../logbook.toml",
                                  "/etc/passwd", ""])
def test_only_listed_logs_are_copied(book: Logbook, stem: str) -> None:
    """A name is compared with the names that the logbook lists."""
    with pytest.raises(LogbookError, match="no log"):
        make_copy(book, [stem], Choice())


@pytest.mark.parametrize(("cell", "told"), [
    ("=1+1", "'=1+1"), ("+cmd|' /C calc'!A0", "'+cmd|' /C calc'!A0"), ("@SUM(A1)", "'@SUM(A1)"),
    ("-2+3", "'-2+3"), ("\tx", "'\tx"), ("\r=x", "'\r=x"), (" =x", "' =x"), ("＝1", "'＝1"),
    ("-85.2", "-85.2"), ("+3", "+3"), ("-1e-05", "-1e-05"), ("plain", "plain"), ("", ""),
    ("-1_000", "'-1_000"),
])
def test_formulas_are_neutralised(cell: str, told: str) -> None:
    """The starts that OWASP, "CSV Injection", lists; numbers are excepted."""
    assert neutral(cell) == told


@settings(derandomize=True)
@given(st.lists(st.text(max_size=30), min_size=2, max_size=2))
def test_no_cell_begins_as_a_formula(row: list[str]) -> None:
    """Whatever is written, a spreadsheet finds numbers or words."""
    cells = next(list(csv.reader(io.StringIO(as_csv(["a", "b"], [row]).decode(), newline="")))[1:]
                 .__iter__())

    for cell in cells:
        assert not cell.startswith(("=", "@", "\t", "\r")), cell


def test_monitor_words_leave_only_when_asked_and_are_shown(book: Logbook) -> None:
    """The preview shows the very words; in a table they are no formula."""
    shared = make_copy(book, [STEM], Choice(has_monitor_words=True), ".csv")

    assert any("'=serial-99'" in line for line in shared.leaves)
    assert b",'=serial-99," in shared.files["log-1.csv"]


@pytest.mark.scenario(14)
@pytest.mark.parametrize("end", ["parquet", "csv", "zip"])
def test_sharing_with_a_forum(papers_book: Logbook, tmp_path: Path, end: str,
                              monkeypatch: pytest.MonkeyPatch,
                              capsys: pytest.CaptureFixture[str]) -> None:
    """A preview, one text, one file; nothing is sent; 'packhand drive' reads it again."""
    def refuse(*_: object) -> None:
        raise AssertionError("something was sent")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    out = tmp_path / f"shared.{end}"
    words = ["share", str(papers_book.root), "--logs", CUT_OUT_LOG, "--shift-clock"]
    assert packhand.main(words) == 0
    assert "Nothing was written" in capsys.readouterr().out
    assert packhand.main([*words, "-o", str(out)]) == 0
    told = capsys.readouterr().out

    assert "212 A out for 11 s" in told
    assert "flatbed main" not in told
    assert "Invented data" in told
    if end == "csv":
        assert out.read_bytes().startswith(b'"Invented data: ')
    if end == "zip":
        with zipfile.ZipFile(out) as archive:
            assert {"about.txt", "log-1.parquet"} <= set(archive.namelist())
            archive.extract("log-1.parquet", tmp_path)
        out = tmp_path / "log-1.parquet"
    assert packhand.main(["drive", str(out), "--json"]) == 0
    drive = json.loads(capsys.readouterr().out)
    assert drive["peak"]["current_a"] == pytest.approx(-212, abs=1)
    assert drive["start"].startswith("2000-01-01T00:00:00")


def test_a_log_that_is_recorded_is_not_shared(book: Logbook) -> None:
    """Half a log would be shared as a whole one."""
    live = "2026-05-02T08-00-00Z"
    book.log_path(live, ".csv").write_text("# format: 1\n")
    with book.hold(live), pytest.raises(LogbookError, match="being recorded"):
        make_copy(book, [live], Choice())


def test_two_logs_move_together(papers_book: Logbook) -> None:
    """The clock is shifted by one amount: the second log stays a day behind the first."""
    stems = [entry.stem for entry in papers_book.logs()]
    shared = make_copy(papers_book, [stems[-1], stems[0]], replace(Choice(), is_clock_shifted=True))

    assert list(shared.files)[:2] == ["log-1.parquet", "log-2.parquet"]
    assert any("log-2.parquet" in line and "2000-01-02" in line for line in shared.leaves)


def test_a_file_outside_a_logbook_is_told_by_its_own_name(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Not by the name of some folder above it."""
    (tmp_path / "drive.csv").write_text("time,amps\n")

    assert packhand.main(["share", str(tmp_path / "drive.csv"), "-o", str(tmp_path / "a.zip")]) == 1

    error = capsys.readouterr().err
    assert f"{tmp_path / 'drive.csv'}: lies in no logbook's folder logs/ — " in error
    assert error.count("\n") == 1
