"""``packhand import`` as a person uses it: into a logbook, twice, with questions, as JSON."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest

from collector.logbook import Logbook
from collector.logfile import read_log
from packhand import main

DATA = Path(__file__).resolve().parents[1] / "data"
DRIVE = DATA / "real_drives" / "drive_A13.csv.gz"
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
    assert err.splitlines()[1] == f"packhand import: {tmp_path / 'none.csv'}: no such file"
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
