"""``packhand record`` with keys, alarms and several monitors, on real pseudo-terminals."""

from __future__ import annotations

import json
import os
import select
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import pytest

import packhand
from analysis.drive.summary import summarise
from analysis.estimate import Estimate
from analysis.load import load_telemetry
from collector.commands import record as command
from collector.frames.encoder import encode
from collector.logbook import Logbook
from collector.logfile import read_log
from collector.monitors import load_description
from collector.notes import read_notes
from collector.simulator.terminal import PseudoTerminal

pytestmark = pytest.mark.skipif(os.name == "nt", reason="needs pseudo-terminals")

ROOT = Path(__file__).parents[2]
BINARY = load_description("demo-binary")
RECEIVER = """
name = "place-text"
title = "An invented receiver of speed"
[transport]
kind = "serial"
period_s = 0.1
[framing]
kind = "line"
[text]
form = "key=value"
separator = " "
[[field]]
name = "speed_m_s"
key = "v"
"""


@contextmanager
def repeating(link: Path, data: bytes, every_s: float = 0.05) -> Iterator[PseudoTerminal]:
    """A monitor that says the same again and again, plugged in or not."""
    line, stop = PseudoTerminal(link), threading.Event()
    line.plug()

    def speak() -> None:
        while not stop.wait(every_s):
            line.write(data)

    thread = threading.Thread(target=speak)
    thread.start()
    try:
        yield line
    finally:
        stop.set()
        thread.join()
        line.unplug()


def pack_frame(amps: float, volts: float = 52.0) -> bytes:
    return encode(BINARY, {"sequence": 1, "current_a": amps, "voltage_v": volts, "soc_pct": 91})


def test_a_receiver_shares_the_log_and_the_analysis_has_both(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Amps and volts of one, speed of the other, each whole: charge, distance, no gaps."""
    (tmp_path / "receiver.toml").write_text(RECEIVER)
    with (repeating(tmp_path / "pack", pack_frame(-36.0), 0.1),
          repeating(tmp_path / "place", b"v=2.5\n", 0.13)):
        code = packhand.main([
            "record", f"demo-binary@{tmp_path}/pack", f"{tmp_path}/receiver.toml@{tmp_path}/place",
            "--logbook", str(tmp_path / "book"), "--seconds", "4", "--json"])
    outcome = json.loads(capsys.readouterr().out)
    log = read_log(Path(outcome["log"]))
    summary = summarise(load_telemetry(Path(outcome["log"])))
    out, covered = summary.flow.charge_out_ah, summary.distance_m
    both = log.table.filter(log.table["speed_m_s"].is_valid())

    assert (code, outcome["gaps"], summary.gaps) == (0, 0, ())
    assert log.meta.origin["port"] == f"{tmp_path}/pack"
    assert log.meta.origin["beside"][0]["monitor"]["name"] == "place-text"
    assert both.num_rows > 20
    assert both["current_a"].null_count == both.num_rows
    assert isinstance(out, Estimate)
    assert isinstance(covered, Estimate)
    assert out.value == pytest.approx(0.01 * summary.observed_s, rel=0.02)
    assert covered.value == pytest.approx(2.5 * summary.duration_s, rel=0.1)
    assert len(list((tmp_path / "book" / "logs").glob("*.raw"))) == 2


def test_two_packs_get_a_log_each(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same quantities cannot share a log; each pack has its name, its amps, its raw bytes."""
    with (repeating(tmp_path / "a", pack_frame(-10.0)), repeating(tmp_path / "b", pack_frame(-20))):
        code = packhand.main([
            "record", f"demo-binary@{tmp_path}/a", f"demo-binary@{tmp_path}/b", "--pack", "front",
            "--pack", "rear", "--logbook", str(tmp_path / "book"), "--seconds", "2", "--json"])
    outcome = json.loads(capsys.readouterr().out)
    logs = [read_log(entry.path) for entry in Logbook.open(tmp_path / "book").logs()]
    amps = {log.meta.pack: set(log.table["current_a"].drop_null().to_pylist()) for log in logs}

    assert code == 0
    assert amps == {"front": {-10.0}, "rear": {-20.0}}
    assert outcome["log"] != outcome["beside"][0]["log"]
    assert not list(tmp_path.rglob("*.lock"))


def test_one_of_two_packs_that_is_not_there_ends_both(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One line; what the other said so far is sealed."""
    with repeating(tmp_path / "a", pack_frame(-10.0)):
        code = packhand.main([
            "record", f"demo-binary@{tmp_path}/a", f"demo-binary@{tmp_path}/b",
            "--logbook", str(tmp_path / "book"), "--seconds", "20"])

    assert code == 1
    assert f"{tmp_path}/b: no such port" in capsys.readouterr().err
    assert all(not entry.is_journal for entry in Logbook.open(tmp_path / "book").logs())


@pytest.mark.parametrize(("words", "message"), [
    (["demo-binary", "demo-text"], "demo-binary: several monitors, and no port for this one"),
    (["demo-binary@x.raw", "demo-text@y"], "x.raw: a capture cannot be read beside another"),
    (["demo-binary", "demo-text", "--port", "x"], "write demo-binary@PORT"),
])
def test_what_cannot_be_recorded_together_is_one_line(
        tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch,
        words: list[str], message: str) -> None:
    """Exit 1, and no folder is made."""
    monkeypatch.chdir(tmp_path)

    assert packhand.main(["record", *words]) == 1
    assert message in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_a_port_stands_behind_the_last_at(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file's own name may hold one, too."""
    monkeypatch.chdir(tmp_path)
    Path("my@monitor.toml").touch()

    assert command.split_port("demo-binary@/dev/ttyUSB0") == ("demo-binary", "/dev/ttyUSB0")
    assert command.split_port("demo-binary") == ("demo-binary", "")
    assert command.split_port("my@monitor.toml") == ("my@monitor.toml", "")
    assert command.split_port("my@monitor.toml@COM3") == ("my@monitor.toml", "COM3")


@pytest.mark.parametrize(("typed", "known", "logs", "names"), [
    ([], ["main"], 1, ["main"]), ([], ["main"], 2, ["", ""]), ([], ["a", "b"], 1, [""]),
    (["x"], ["main"], 1, ["x"]), (["x"], ["main"], 2, ["x", ""]), (["x", "y"], [], 2, ["x", "y"]),
])
def test_of_several_packs_none_is_guessed(
        typed: list[str], known: list[str], logs: int, names: list[str]) -> None:
    """The logbook's only pack gives its name to a single log, never to two."""
    config = {"pack": [{"name": name} for name in known]}

    assert command.pack_names(typed, config, logs) == names


def read_until(terminal: int, words: str, timeout_s: float = 20.0) -> str:
    """What a terminal shows, up to some words."""
    shown, end_s = "", time.monotonic() + timeout_s
    while words not in shown and time.monotonic() < end_s:
        if select.select([terminal], [], [], 0.1)[0]:
            shown += os.read(terminal, 65536).decode()
    assert words in shown, shown
    return shown


OWN_TERMINAL = ("import fcntl, runpy, sys, termios; fcntl.ioctl(0, termios.TIOCSCTTY, 0);"
                "sys.argv = sys.argv[1:]; runpy.run_path(sys.argv[0], run_name='__main__')")


def test_a_key_marks_the_moment_in_the_log_and_in_the_notes(tmp_path: Path) -> None:
    """On a real terminal: space and Enter mark, the alarm rings, Ctrl-C ends it whole."""
    import pty

    book = Logbook.create(tmp_path / "book")
    (book.root / "logbook.toml").write_text(
        "[[pack]]\nname = 'main'\n[pack.alarms]\nout_a = {limit = 30, for_s = 0.5}\n")
    with ExitStack() as stack:
        stack.enter_context(repeating(tmp_path / "port", pack_frame(-42.0)))
        ours, theirs = pty.openpty()
        stack.callback(os.close, ours)
        process = stack.enter_context(subprocess.Popen(
            [sys.executable, "-c", OWN_TERMINAL, str(ROOT / "packhand.py"), "record",
             f"demo-binary@{tmp_path}/port", "--logbook", str(book.root)],
            stdin=theirs, stdout=theirs, stderr=theirs, start_new_session=True))
        os.close(theirs)
        shown = read_until(ours, "42.0 A out")
        os.write(ours, b" ")
        shown += read_until(ours, "mark: 1")
        os.write(ours, b"\n")
        shown += read_until(ours, "mark: 2")
        if "\a" not in shown:
            shown += read_until(ours, "\a")
        os.write(ours, b"s")
        read_until(ours, "keep quiet for 10 minutes")
        os.write(ours, b"\x03")
        end = read_until(ours, "no gaps")
        process.wait(20)
    [entry] = book.logs()
    events = [event for event in read_log(entry.path).table["event"].to_pylist() if event]
    notes = read_notes(book.notes_path).rows

    assert process.returncode == 0
    assert "space or Enter marks a moment" in shown
    assert f"{entry.path.name}" in end
    assert [note.text for note in notes] == ["1", "2"]
    assert {(note.moment.log, note.moment.current_a) for note in notes} == {(entry.stem, -42.0)}
    assert [event for event in events if event.startswith("mark")] == ["mark: 1", "mark: 2"]
    assert sum(event.startswith("alarm: amps out 42 A, above 30 A") for event in events) == 1


def test_a_monitor_that_stops_at_rest_sleeps_and_one_that_stops_at_work_is_silent(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The cause stands in the log, and the analysis gives the gap that cause."""
    causes = []
    for amps in (-0.1, -42.0):
        book = tmp_path / f"{amps}"
        with repeating(tmp_path / "port", pack_frame(amps)) as line:
            stop = threading.Timer(0.8, lambda: setattr(line, "write", lambda _: None))
            again = threading.Timer(4.5, lambda: delattr(line, "write"))
            stop.start()
            again.start()
            packhand.main(["record", f"demo-binary@{tmp_path}/port", "--logbook", str(book),
                           "--seconds", "5.5", "--json"])
        outcome = json.loads(capsys.readouterr().out)
        [gap] = summarise(load_telemetry(Path(outcome["log"]))).gaps
        causes.append((outcome["gaps"], gap.cause))

    assert causes == [
        (1, "asleep: nothing was heard for 3 s; the link is open, the last amps were -0.1 A"),
        (1, "silent: nothing was heard for 3 s")]


def test_a_recorder_that_was_killed_is_told_by_the_next(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The log that was cut off is brought back, and the new one names it."""
    words = ["record", f"demo-binary@{tmp_path}/port", "--logbook", str(tmp_path / "book")]
    with repeating(tmp_path / "port", pack_frame(-5.0)):
        with subprocess.Popen([sys.executable, str(ROOT / "packhand.py"), *words],
                              stderr=subprocess.PIPE, text=True) as recorder:
            assert recorder.stderr is not None
            recorder.stderr.readline()
            time.sleep(1.0)
            recorder.kill()
        packhand.main([*words, "--seconds", "1"])
    first, second = Logbook.open(tmp_path / "book").logs()
    events = [event for event in read_log(second.path).table["event"].to_pylist() if event]

    assert read_log(first.path).meta.recovered["rows"] > 5
    assert len(events) == 1
    assert events[0].startswith(
        f"restarted: the recorder stopped without closing {first.stem}; ")


def test_alarms_can_be_tried_without_a_monitor(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each limit of the logbook is sounded once with what to do, and the caution is said."""
    book = Logbook.create(tmp_path)
    (book.root / "logbook.toml").write_text(
        "[[pack]]\nname = 'a'\n[pack.alarms]\ncell_low_v = 2.9\n"
        "[[pack]]\nname = 'b'\n[pack.alarms]\nsoc_low_pct = 15\n")
    code = packhand.main(["record", "--test-alarms", "--logbook", str(tmp_path)])
    said = capsys.readouterr()

    assert code == 0
    assert "test: lowest cell 2.90 V, below 2.9 V for 5 s — ease off" in said.err
    assert "test: percent 15 %, below 15 %" in said.err
    assert said.out.startswith("2 alarms tried; an alarm protects nothing")
    assert book.logs() == []


def test_a_logbook_without_limits_has_no_alarm_to_try(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It says what to write; so does a wrong limit, before anything is recorded."""
    Logbook.create(tmp_path)
    assert packhand.main(["record", "--test-alarms", "--logbook", str(tmp_path)]) == 1
    told = capsys.readouterr().err
    assert "no limits to watch — type one under Pack & limits, or write [pack.alarms]" in told
    (tmp_path / "logbook.toml").write_text("[[pack]]\nname='a'\n[pack.alarms]\namps = 5\n")
    with repeating(tmp_path / "port", pack_frame(-1.0)):
        assert packhand.main(["record", f"demo-binary@{tmp_path}/port",
                              "--logbook", str(tmp_path)]) == 1
    assert "alarms.amps: no such alarm — known: out_a" in capsys.readouterr().err


def test_an_alarm_that_the_monitor_cannot_give_is_told(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """At the start, before anyone relies on it."""
    (tmp_path / "receiver.toml").write_text(RECEIVER)
    book = Logbook.create(tmp_path / "book")
    (book.root / "logbook.toml").write_text("[[pack]]\n[pack.alarms]\ncell_low_v = 2.9\n")
    with repeating(tmp_path / "place", b"v=2.5\n"):
        packhand.main(["record", f"{tmp_path}/receiver.toml@{tmp_path}/place", "--logbook",
                       str(book.root), "--seconds", "0.5"])

    assert ("no alarm for lowest cell below 2.9 V for 5 s: the monitor does not tell it"
            in capsys.readouterr().err)


def test_recording_nothing_is_misuse() -> None:
    """Exit 2, as for every command."""
    with pytest.raises(SystemExit) as ended:
        packhand.main(["record"])

    assert ended.value.code == 2
