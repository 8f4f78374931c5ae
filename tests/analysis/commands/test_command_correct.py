"""``packhand correct`` from a meter's readings to corrected figures."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import packhand
from analysis.load import load_telemetry
from collector.journal import JournalWriter
from collector.logbook import Logbook
from collector.logfile import finish_log
from collector.meta import LogMeta
from collector.record import Sample

#: 2026-04-02T08:15:00Z.
START_MS = 1_775_117_700_000
#: The monitor reads 0.8 A too much, and shows 100 for every 110.
TRUE_A = (0.0, -44.0, -88.0)


def shown(truth: float) -> float:
    return truth / 1.1 + 0.8


@pytest.fixture(name="book")
def _book(tmp_path: Path) -> Logbook:
    """A logbook with one log: a minute of each of three steady amps."""
    book = Logbook.create(tmp_path / "book")
    journal = JournalWriter.create(book.log_path("2026-04-02T08-15-00Z", ".csv"),
                                   LogMeta(pack="main"), ["current_a", "voltage_v"])
    for n in range(180):
        values = {"current_a": shown(TRUE_A[n // 60]), "voltage_v": 52.0}
        journal.write(Sample(START_MS + 1000 * n, float(n), values))
    journal.close()
    finish_log(journal.path)
    return book


def call(book: Logbook, *words: str) -> int:
    return packhand.main([*words, "--logbook", str(book.root)])


def document(book: Logbook, capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    capsys.readouterr()
    assert call(book, "correct", *words, "--json") == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def read_meter(book: Logbook) -> None:
    for minute, truth in enumerate(TRUE_A):
        call(book, "note", "clamp-amps", f"{-truth}", "--at", f"2026-04-02T08:{15 + minute}:30Z")


def amps_of(book: Logbook) -> list[float]:
    [entry] = book.logs()
    return [float(a) for a in load_telemetry(entry.path)["current_a"][[30, 90, 150]]]


def test_readings_become_a_correction_that_loading_lays_on(
        book: Logbook, capsys: pytest.CaptureFixture[str]) -> None:
    """From pairs to true amps, the clamp the wrong way round; the log's bytes stay."""
    read_meter(book)
    log_before = book.logs()[0].path.read_bytes()
    tried = document(book, capsys, "amps", "--dry-run")
    untouched = amps_of(book)
    told = document(book, capsys, "amps", "--from", "2026-04-02T08:15:00Z")

    assert tried["schema"] == "packhand.correct/1"
    assert (tried["is_accepted"], told["is_accepted"]) == (False, True)
    assert (told["check"]["pairs"], told["check"]["is_turned"]) == (3, True)
    assert untouched == pytest.approx([shown(a) for a in TRUE_A])
    assert amps_of(book) == pytest.approx(TRUE_A, abs=0.02)
    assert book.logs()[0].path.read_bytes() == log_before


def test_a_correction_is_listed_and_taken_back(
        book: Logbook, capsys: pytest.CaptureFixture[str]) -> None:
    """Then the figures are the monitor's again."""
    call(book, "correct", "amps", "--zero", "0.8", "--from", "2026-04-02T08:16:00Z")
    corrected = amps_of(book)
    standing = document(book, capsys, "--list")["corrections"]
    call(book, "correct", "--undo", "1")

    assert corrected == pytest.approx([shown(0.0), shown(-44.0) - 0.8, shown(-88.0) - 0.8])
    assert [(each["number"], each["zero"], each["reason"]) for each in standing] == [
        (1, 0.8, "typed by hand")]
    assert amps_of(book) == pytest.approx([shown(a) for a in TRUE_A])
    assert document(book, capsys, "--list")["corrections"] == []


def test_a_log_away_from_its_logbook_keeps_its_own_corrections(
        book: Logbook, tmp_path: Path) -> None:
    """A copy that carries layers in its metadata is corrected by them; in a logbook that has a
    table of corrections, that one rules."""
    layer = {"kind": "zero", "column": "current_a", "value": 5.0}
    path = book.log_path("2026-04-03T08-15-00Z", ".csv")
    journal = JournalWriter.create(path, LogMeta(pack="main", corrections=(layer,)), ["current_a"])
    for n in range(3):
        journal.write(Sample(START_MS + 1000 * n, float(n), {"current_a": 1.0}))
    journal.close()
    alone = load_telemetry(path)["current_a"].tolist()
    call(book, "correct", "volts", "--gain", "1.01")
    ruled = load_telemetry(path)["current_a"].tolist()
    copy = book.root / "copies" / path.name
    copy.parent.mkdir()
    copy.write_bytes(path.read_bytes())

    assert (alone, ruled) == ([6.0] * 3, [1.0] * 3)
    assert load_telemetry(copy)["current_a"].tolist() == [6.0] * 3


def test_a_recording_carries_the_corrections_that_stand(
        book: Logbook, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """So that the live view shows corrected figures, too."""
    from collector.logfile import read_meta
    from tests.collector.test_command_record import capture

    call(book, "correct", "amps", "--zero", "0.8")
    call(book, "record", "demo-binary", "--pack", "main", "--port",
         str(capture(tmp_path / "x.raw", 2)))
    layers = read_meta(book.logs()[-1].path).corrections

    assert [(layer["kind"], layer["value"]) for layer in layers] == [("zero", -0.8), ("gain", 1.0)]


@pytest.mark.parametrize(("words", "code", "message"), [
    (["amps"], 1, "cannot tell yet: no reading by meter was noted"),
    (["amps", "--gain", "20"], 1, "--gain: 20 with a zero of 0 is no correction"),
    (["amps", "--zero", "1", "--from", "spring"], 1, "--from: 'spring' is not a time"),
    (["--undo", "7"], 1, "no correction 7 stands"),
])
def test_what_cannot_be_corrected_is_told(
        book: Logbook, capsys: pytest.CaptureFixture[str], words: list[str], code: int,
        message: str) -> None:
    """Nothing is accepted then."""
    assert call(book, "correct", *words) == code
    said = capsys.readouterr()
    assert message in said.err + said.out
    assert not book.corrections_path.exists()


def test_a_monitor_that_agrees_is_left_alone(
        book: Logbook, capsys: pytest.CaptureFixture[str]) -> None:
    """Within what the meter can tell there is nothing to correct."""
    for minute, truth in enumerate(TRUE_A):
        call(book, "note", "clamp-amps", f"{shown(truth)}", "--at",
             f"2026-04-02T08:{15 + minute}:30Z")
    told = document(book, capsys, "amps")

    assert (told["check"]["verdict"], told["correction"]) == ("no", None)
    assert not book.corrections_path.exists()


def test_old_and_stale_readings_are_left_out(
        book: Logbook, capsys: pytest.CaptureFixture[str]) -> None:
    """Those before --since, and those whose sample was heard more than three seconds earlier."""
    read_meter(book)
    since = document(book, capsys, "amps", "--since", "2026-04-02T08:16:00Z", "--dry-run")
    path = book.notes_path
    lines = path.read_text().splitlines()
    lines[2] = lines[2].replace("Z,0,", "Z,8,").replace("-00Z,0,", "-00Z,8,")
    path.write_text("\n".join(lines) + "\n")
    fresh = document(book, capsys, "amps", "--dry-run")

    assert (since["check"]["pairs"], fresh["check"]["pairs"]) == (2, 2)


def test_readings_of_two_packs_are_not_mixed(
        book: Logbook, capsys: pytest.CaptureFixture[str]) -> None:
    """The pack is asked for, and its own readings alone are used."""
    read_meter(book)
    path = book.notes_path
    path.write_text(path.read_text().replace(",main,", ",rear,", 1))

    assert call(book, "correct", "amps") == 1
    assert "readings of several packs: main, rear" in capsys.readouterr().err
    assert document(book, capsys, "amps", "--pack", "main", "--dry-run")["check"]["pairs"] == 2


def test_nothing_asked_is_misuse(book: Logbook) -> None:
    """Exit 2, as for every command."""
    with pytest.raises(SystemExit) as ended:
        call(book, "correct")

    assert ended.value.code == 2


@pytest.mark.scenario(15)
def test_a_log_that_a_wrong_clock_dated_is_moved(
        book: Logbook, capsys: pytest.CaptureFixture[str]) -> None:
    """To when it really began; taken back, it stands where it stood."""
    [entry] = book.logs()
    before = load_telemetry(entry.path).start
    told = document(book, capsys, "clock", "--log", entry.path.name, "--began", "2020-04-01T10:00Z")
    moved = load_telemetry(entry.path).start
    document(book, capsys, "--undo", "1")

    assert told["is_accepted"]
    assert moved.isoformat() == "2020-04-01T10:00:00+00:00"
    assert load_telemetry(entry.path).start == before


@pytest.mark.parametrize(("words", "said"), [
    ((), "nothing says which log — add --log"),
    (("--log", "none"), "no log 'none' in "),
    (("--log", "LOG"), "nothing says when the log really began — add --began"),
    (("--log", "LOG", "--began", "noonish"), "--began: 'noonish' is not a time"),
    (("--log", "LOG", "--began", "2999-01-01"), "2999-01-01 is still to come")])
def test_what_moves_no_log_is_one_line(book: Logbook, words: tuple[str, ...], said: str,
                                       capsys: pytest.CaptureFixture[str]) -> None:
    """Which log, and a time that has been."""
    stem = book.logs()[0].stem
    typed = [stem if word == "LOG" else word for word in words]

    assert packhand.main(["correct", "clock", *typed, "--logbook", str(book.root)]) == 1

    error = capsys.readouterr().err
    assert said in error
    assert error.count("\n") == 1
    assert not book.corrections_path.exists()
