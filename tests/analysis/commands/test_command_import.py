"""``packhand import`` as a person uses it: into a logbook, twice, with questions, as JSON."""

from __future__ import annotations

import gzip
import io
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analysis.estimate import Answer, Estimate
from analysis.load import load_telemetry
from analysis.one_log.distance import distance_m
from collector.logbook import Logbook
from collector.logfile import read_log, write_log
from collector.meta import LogMeta
from packhand import main

DATA = Path(__file__).resolve().parents[2] / "data"
DRIVE = DATA / "real_drives" / "drive_A13.csv.gz"
STARTED = datetime(2026, 4, 2, 8, 15, tzinfo=UTC)
OPEN_DATE = "date,time,amps\n03/04/2026,08:00:00,1\n03/04/2026,08:00:01,2\n"


def imported(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = main(["import", *words])
    printed = capsys.readouterr()
    return code, printed.out, printed.err


def document(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    code, out, err = imported(capsys, *words, "--json")
    assert (code, err) == (0, "")
    read: dict[str, Any] = json.loads(out)
    return read


def test_a_real_drive_becomes_a_log(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The log holds every row, the sign with its proof, and where it came from."""
    found = document(capsys, str(DRIVE), "--logbook", str(tmp_path), "--start",
                     "2019-06-25T13:21Z", "--pack", "car")
    [entry] = Logbook.open(tmp_path).logs()
    log, told = read_log(entry.path), found["logs"][0]

    assert found["schema"] == "packhand.import/1"
    assert entry.stem == "2019-06-25T13-21-00Z"
    assert told["log"] == str(entry.path)
    assert told["rows"] == log.table.num_rows == 7160
    assert {"file", "log", "rows", "dropped", "mapping", "sign", "words"} <= told.keys()
    assert log.meta.sign["convention"] == "negative_is_discharge"
    assert log.meta.origin["file"] == DRIVE.name
    assert log.meta.origin["sha256"] == told["sha256"]
    assert log.meta.pack == "car"


def test_the_words_show_how_the_file_reads(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A person sees each column, what was left out, what is open and what minus means."""
    code, out, _ = imported(capsys, str(DRIVE), "--logbook", str(tmp_path))

    assert code == 0
    assert "'Velocity [km/h]': 0 km/h reads as 0 m/s" in out
    assert "left out: 'displayed SoC [%]'" in out
    assert "open: The times count from zero, with no date." in out
    assert "Minus means out of the pack. Proof:" in out


def test_the_same_file_is_not_taken_twice_unless_asked(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Found again by its content, not by its name."""
    words = [str(DRIVE), "--logbook", str(tmp_path)]
    copy = tmp_path / "renamed.csv.gz"
    copy.write_bytes(DRIVE.read_bytes())
    first = imported(capsys, *words)[0]
    code, _, err = imported(capsys, str(copy), *words[1:])
    again = imported(capsys, *words, "--again")[0]

    assert (first, code, again) == (0, 1, 0)
    assert "the logbook holds this file as" in err
    assert "--again" in err
    assert len(Logbook.open(tmp_path).logs()) == 2


def test_a_dry_run_writes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Not even the logbook."""
    book = tmp_path / "book"
    code, out, _ = imported(capsys, str(DRIVE), "--logbook", str(book), "--dry-run")

    assert code == 0
    assert "not saved (dry run)" in out
    assert not book.exists()


def test_a_packhand_log_is_not_imported(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It is one already, with its own sign and origin."""
    imported(capsys, str(DRIVE), "--logbook", str(tmp_path))
    code, _, err = imported(capsys, str(Logbook.open(tmp_path).logs()[0].path),
                            "--logbook", str(tmp_path))

    assert code == 1
    assert "a packhand log already" in err


def test_an_open_month_is_refused_where_nobody_can_be_asked(
        tmp_path: Path, capsys: pytest.CaptureFixture[str],
        monkeypatch: pytest.MonkeyPatch) -> None:
    """Never a wrong month in silence: the line says both readings and the option."""
    path = tmp_path / "open.csv"
    path.write_text(OPEN_DATE)
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    code, _, err = imported(capsys, str(path), "--logbook", str(tmp_path / "book"))

    assert code == 1
    assert "3 April 2026 or 4 March 2026" in err
    assert "--dates day-first or month-first" in err
    assert not (tmp_path / "book").exists()


@pytest.mark.parametrize(("answers", "stem"), [
    ("day-first\n", "2026-04-03T08-00-00Z"), ("what?\nmonth-first\n", "2026-03-04T08-00-00Z"),
])
def test_an_open_month_is_asked_on_a_terminal(
        tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch,
        answers: str, stem: str) -> None:
    """One question, repeated until it is answered."""
    path = tmp_path / "open.csv"
    path.write_text(OPEN_DATE)
    terminal = io.StringIO(answers)
    monkeypatch.setattr(terminal, "isatty", lambda: True)
    monkeypatch.setattr("sys.stdin", terminal)
    code, _, err = imported(capsys, str(path), "--logbook", str(tmp_path / "book"))

    assert code == 0
    assert [entry.stem for entry in Logbook.open(tmp_path / "book").logs()] == [stem]
    assert err.count("[day-first / month-first]") == answers.count("\n")


def test_the_option_settles_the_month(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """--dates asks nothing."""
    path = tmp_path / "open.csv"
    path.write_text(OPEN_DATE)
    document(capsys, str(path), "--logbook", str(tmp_path / "book"), "--dates", "month-first")

    assert Logbook.open(tmp_path / "book").logs()[0].stem == "2026-03-04T08-00-00Z"


def test_one_bad_file_does_not_keep_out_the_others(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each file stands alone; the exit tells that one failed."""
    bad = tmp_path / "bad.csv"
    bad.write_text("time,colour\n0,red\n")
    code, _, err = imported(capsys, str(bad), str(tmp_path / "none.csv"), str(DRIVE),
                            "--logbook", str(tmp_path / "book"))

    assert code == 1
    assert err.splitlines()[0].startswith(f"packhand import: {bad}: no amps, volts, percent")
    assert err.splitlines()[1].startswith(
        f"packhand import: {tmp_path / 'none.csv'}: no such file — ")
    assert len(Logbook.open(tmp_path / "book").logs()) == 1


def test_runs_become_logs_and_a_person_may_tell_the_sign(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One log a run, named in its origin; --minus stands where the figures cannot tell."""
    path = tmp_path / "runs.csv"
    path.write_text("cycle,t_s,amps,volts\n" + "".join(
        f"{run},{t},-2,{4 - t / 100}\n" for run in (1, 2) for t in range(30)))
    found = document(capsys, str(path), "--logbook", str(tmp_path / "book"), "--minus", "out")
    logs = [read_log(entry.path) for entry in Logbook.open(tmp_path / "book").logs()]

    assert [log.meta.origin["run"] for log in logs] == ["cycle=1", "cycle=2"]
    assert [one["sign"]["convention"] for one in found["logs"]] == ["negative_is_discharge"] * 2
    assert {one["sign"]["decided_by"] for one in found["logs"]} == {"person"}


def test_a_sign_told_by_the_file_is_stored(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two columns for the two directions leave nothing to find out."""
    path = tmp_path / "two.csv"
    path.write_text("t_s,charge current (A),discharge current (A)\n0,0,12\n1,3,0\n")
    sign = document(capsys, str(path), "--logbook", str(tmp_path / "book"))["logs"][0]["sign"]

    assert sign["convention"] == "negative_is_discharge"
    assert sign["decided_by"] == "file"


@pytest.mark.parametrize(("words", "line"), [
    (["--map", "current_a"], "'current_a' is not NAME=VALUE"),
    (["--zone", "Quillet/Isle"], "'Quillet/Isle' is no time zone"),
    (["--start", "yesterday"], "'yesterday' is not a time such as 2026-04-02T08:15Z"),
])
def test_an_option_that_cannot_be_read_is_misuse(
        capsys: pytest.CaptureFixture[str], words: list[str], line: str) -> None:
    """Exit 2, and the line says what an answer looks like."""
    with pytest.raises(SystemExit) as caught:
        main(["import", str(DRIVE), *words])

    assert caught.value.code == 2
    assert line in capsys.readouterr().err


def test_a_folder_is_brought_in_file_by_file(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Tables of every kind below it by name; hidden ones, marks and pictures are passed over.

    Again, only what is new comes in, and that is no failure."""
    folder = tmp_path / "old"
    (folder / "june").mkdir(parents=True)
    (folder / "june" / "b.csv").write_text("t_s,amps\n0,1\n1,2\n")
    (folder / "a.CSV").write_text("t_s,amps\n0,5\n1,6\n")
    for name in (".hidden.csv", "~$open.xlsx", "photo.jpg"):
        (folder / name).write_bytes(b"x")
    found = document(capsys, str(folder), "--logbook", str(tmp_path / "book"))

    (folder / "c.csv").write_text("t_s,amps\n0,7\n1,8\n")
    code, out, err = imported(capsys, str(folder), "--logbook", str(tmp_path / "book"))

    assert [Path(log["file"]).name for log in found["logs"]] == ["a.CSV", "b.csv"]
    assert len(Logbook.open(tmp_path / "book").logs()) == 3
    assert (code, err.count("the logbook holds this file")) == (0, 2)
    assert out.startswith("c.csv")


def test_a_folder_without_tables_says_so(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It names what it looked for."""
    (tmp_path / "empty").mkdir()
    code, _, err = imported(capsys, str(tmp_path / "empty"), "--logbook", str(tmp_path / "book"))

    assert code == 1
    assert "a folder without tables" in err


def test_what_was_said_is_remembered_by_the_headings(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The next table with the same headings is read alike, and says so; forgotten, it is not."""
    book = ["--logbook", str(tmp_path / "book")]
    for day in (1, 2, 3):
        (tmp_path / f"{day}.csv").write_text(
            f"date,time,channel 7\n0{day}/04/2026,08:00:00,1500\n0{day}/04/2026,08:00:01,2500\n")
    imported(capsys, str(tmp_path / "1.csv"), *book, "--map", "current_a=channel 7:mA",
             "--dates", "day-first", "--zone", "Europe/Lisbon", "--minus", "out")
    code, out, _ = imported(capsys, str(tmp_path / "2.csv"), *book)
    _, listed, _ = imported(capsys, "--remembered", *book)
    fingerprint = listed.split()[0]
    again = imported(capsys, "--forget", fingerprint, *book)[0]
    refused, _, err = imported(capsys, str(tmp_path / "3.csv"), *book)
    logs = [read_log(entry.path) for entry in Logbook.open(tmp_path / "book").logs()]

    assert (code, again, refused) == (0, 0, 1)
    assert "As for 1.csv: --map current_a='channel 7:mA' --dates day-first" in out
    assert fingerprint in out
    assert "no amps, volts" in err
    assert [log.table["current_a"].to_pylist() for log in logs] == [[1.5, 2.5]] * 2
    assert [log.path.stem for log in logs] == ["2026-04-01T07-00-00Z", "2026-04-02T07-00-00Z"]
    assert [log.meta.sign["decided_by"] for log in logs] == ["person"] * 2


def test_forgetting_what_is_not_there_says_so(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One line; an empty list is told in words."""
    book = ["--logbook", str(tmp_path)]

    assert imported(capsys, "--remembered", *book)[1] == "Nothing is remembered about tables.\n"
    assert "nothing remembered under 'all'" in imported(capsys, "--forget", "all", *book)[2]


def test_undo_takes_back_one_import_after_the_other(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Newest first, with what was remembered; recorded logs and the files stay."""
    book = Logbook.create(tmp_path / "book")
    options = ["--logbook", str(book.root)]
    for name, amps in (("a", 1), ("b", 2), ("c", 3)):
        (tmp_path / f"{name}.csv").write_text(f"t_s,amps\n0,{amps}\n1,{amps}\n")
    imported(capsys, str(tmp_path / "a.csv"), *options)
    imported(capsys, str(tmp_path / "b.csv"), str(tmp_path / "c.csv"), *options, "--minus", "out")
    out = imported(capsys, "--undo", *options)[1]
    left = [read_log(entry.path).meta.origin["file"] for entry in book.logs()]
    undone = json.loads(imported(capsys, "--undo", "--json", *options)[1])
    code, _, err = imported(capsys, "--undo", *options)

    assert out.startswith("Taken back: b.csv, c.csv")
    assert "is forgotten, too" in out
    assert left == ["a.csv"]
    assert len(undone["undone"]) == 1
    assert book.logs() == []
    assert (code, "no import to take back" in err) == (1, True)
    assert imported(capsys, "--remembered", *options)[1].startswith("Nothing")
    assert (tmp_path / "b.csv").exists()


def test_undo_keeps_a_log_that_is_another_by_now(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file put in the place of the imported one is not removed."""
    book = Logbook.create(tmp_path / "book")
    options = ["--logbook", str(book.root)]
    imported(capsys, str(DRIVE), *options)
    [entry] = book.logs()
    log = read_log(entry.path)
    entry.path.unlink()
    write_log(entry.path, LogMeta(pack="other"), log.table)
    out = imported(capsys, "--undo", *options)[1]

    assert "it is not what that import wrote" in out
    assert entry.path.exists()


def track(path: Path, offset_s: float) -> Path:
    """The drive's speed as a GPX track to the north, by a clock that is so many seconds slow."""
    drive = load_telemetry(DRIVE)
    speed = drive["speed_m_s"]
    way = np.concatenate(([0.0], np.cumsum(np.diff(drive.elapsed_s) * (
        speed[1:] + speed[:-1]) / 2)))
    points = "".join(
        f'<trkpt lat="{59 + np.degrees(way[k] / 6_371_008.8):.7f}" lon="10"><time>'
        f"{(STARTED + timedelta(seconds=float(drive.elapsed_s[k]) - offset_s)).isoformat()}"
        "</time></trkpt>" for k in range(0, len(way), 10))
    path.write_text(f'<gpx version="1.1"><trk><trkseg>{points}</trkseg></trk></gpx>')
    return path


def test_a_track_is_joined_and_taken_away_again(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The clocks are compared by stops and amps; the log's bytes stay, its places come and go."""
    options = ["--logbook", str(tmp_path / "book")]
    copy = tmp_path / "amps.csv"
    with gzip.open(DRIVE, "rt", encoding="latin-1") as file:
        copy.write_text(file.read().replace("Velocity [km/h]", "x"), encoding="utf-8")
    imported(capsys, str(copy), *options, "--start", STARTED.isoformat())
    [entry] = Logbook.open(tmp_path / "book").logs()
    before = entry.path.read_bytes()
    gpx = track(tmp_path / "track.gpx", 95.0)
    found = document(capsys, str(gpx), "--join", str(entry.path))["joined"]
    refused = imported(capsys, str(gpx), "--join", str(entry.path))[2]
    joined = load_telemetry(entry.path)
    imported(capsys, "--undo", *options)

    assert found["clock_offset_s"]["low"] <= 95 <= found["clock_offset_s"]["high"]
    assert found["distance_m"]["value"] == pytest.approx(4573, rel=0.01)
    assert found["samples_with_place"] > 0.98
    assert "has a track beside it already" in refused
    assert {"latitude_deg", "longitude_deg", "speed_m_s"} <= joined.columns.keys()
    assert value_of(distance_m(joined)) == pytest.approx(4573, rel=0.01)
    assert set(load_telemetry(entry.path, ["current_a"]).columns) == {"current_a"}
    assert "latitude_deg" not in load_telemetry(entry.path)
    assert entry.path.read_bytes() == before


def value_of(answer: Answer) -> float:
    assert isinstance(answer, Estimate)
    return answer.value


@pytest.mark.parametrize(("words", "line"), [
    (["--offset", "86400"], "no moment in common"),
    (["--offset", "95"], ""),
])
def test_a_told_offset_is_taken(tmp_path: Path, capsys: pytest.CaptureFixture[str],
                                words: list[str], line: str) -> None:
    """Without looking for it; one that leaves no moment in common is refused."""
    imported(capsys, str(DRIVE), "--logbook", str(tmp_path), "--start", STARTED.isoformat())
    [entry] = Logbook.open(tmp_path).logs()
    code, _, err = imported(capsys, str(track(tmp_path / "track.gpx", 95.0)), "--join",
                            str(entry.path), *words)

    assert code == int(bool(line))
    assert line in err


def test_what_cannot_be_joined_says_why(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A log outside a logbook, a table without places, and stops that do not fit."""
    imported(capsys, str(DRIVE), "--logbook", str(tmp_path), "--start", STARTED.isoformat())
    [entry] = Logbook.open(tmp_path).logs()
    bare = tmp_path / "bare.csv"
    bare.write_text("t_s,amps\n0,1\n1,2\n")
    open_date = tmp_path / "open.csv"
    open_date.write_text("date,time,speed (m/s)\n03/04/2026,08:00:00,1\n03/04/2026,08:00:01,2\n")
    still = tmp_path / "still.csv"
    still.write_text("t_s,speed (m/s)\n" + "".join(f"{s},0\n" for s in range(300)))

    for file, log, words in [(DRIVE, DRIVE, "not a log of a logbook"),
                             (bare, entry.path, "neither places nor speed"),
                             (open_date, entry.path, "3 April 2026 or 4 March 2026"),
                             (still, entry.path, "its clock cannot be compared")]:
        code, _, err = imported(capsys, str(file), "--join", str(log))
        assert (code, words in err) == (1, True), err


def test_import_without_a_file_is_misuse(capsys: pytest.CaptureFixture[str]) -> None:
    """Exit 2, as for two tracks to join."""
    assert imported(capsys)[0] == 2
    assert imported(capsys, "a.gpx", "b.gpx", "--join", "x.parquet")[0] == 2
