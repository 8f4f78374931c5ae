"""``packhand record`` as a person uses it, on a real pseudo-terminal."""

import json
import os
import pty
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

import packhand
from collector.commands import record as command
from collector.commands import screen
from collector.errors import SourceUnavailable
from collector.frames.encoder import encode
from collector.logbook import Logbook
from collector.logfile import read_log
from collector.monitors import load_description
from collector.rawfile import Chunk, RawWriter
from collector.record import Sample
from collector.recorder import Recording
from collector.simulator.terminal import PseudoTerminal
from collector.sources import serial_ports
from collector.sources.serial_ports import SerialPort

pytestmark = pytest.mark.skipif(os.name == "nt", reason="needs pseudo-terminals")

ROOT = Path(__file__).parents[2]
BINARY = load_description("demo-binary")


@contextmanager
def speaking(link: Path) -> Iterator[None]:
    """A monitor that says a sample every 20 ms."""
    line, stop = PseudoTerminal(link), threading.Event()
    line.plug()

    def speak() -> None:
        number = 0
        while not stop.wait(0.02):
            line.write(encode(BINARY, {"sequence": number, "current_a": -23.1, "voltage_v": 52.31,
                                      "soc_pct": 91}))
            number += 1

    thread = threading.Thread(target=speak)
    thread.start()
    try:
        yield
    finally:
        stop.set()
        thread.join()
        line.unplug()


def packhand_process(*words: str, **options: Any) -> "subprocess.Popen[str]":
    return subprocess.Popen([sys.executable, str(ROOT / "packhand.py"), *words], text=True,
                            stdout=subprocess.PIPE, **options)


def capture(path: Path, frames: int) -> Path:
    with RawWriter(path, "x") as raw:
        for n in range(frames):
            raw.write(Chunk(1_775_117_700_000 + 1000 * n, 0.0, encode(BINARY, {"sequence": n})))
    return path


def test_seconds_end_a_recording_with_where_it_is(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The outcome names the log, the samples and the gaps; the log says how it came to be."""
    with speaking(tmp_path / "port"):
        code = packhand.main(["record", "demo-binary", "--port", str(tmp_path / "port"),
                              "--logbook", str(tmp_path / "book"), "--seconds", "0.6",
                              "--pack", "flatbed main", "--json"])
    outcome = json.loads(capsys.readouterr().out)
    log = read_log(Path(outcome["log"]))

    assert (code, outcome["schema"], outcome["gaps"]) == (0, "packhand.record/1", 0)
    assert log.table.num_rows == outcome["samples"] > 10
    assert (log.meta.pack, log.meta.origin) == ("flatbed main", {"port": str(tmp_path / "port")})
    assert log.meta.sign == {"convention": "negative_is_discharge", "decided_by": "description"}
    assert log.meta.monitor == BINARY.as_tables()
    assert log.meta.software.startswith("packhand")


@pytest.mark.parametrize("kind", [signal.SIGINT, signal.SIGTERM])
def test_an_interrupt_closes_everything_whole(tmp_path: Path, kind: signal.Signals) -> None:
    """Ctrl-C and a request to end both leave a sealed log and no lock, with exit 0."""
    with speaking(tmp_path / "port"), packhand_process(
            "record", "demo-binary", "--port", str(tmp_path / "port"), "--logbook",
            str(tmp_path / "book"), stderr=subprocess.PIPE) as recorder:
        assert recorder.stderr is not None
        first = recorder.stderr.readline()
        time.sleep(0.5)
        recorder.send_signal(kind)
        out, err = recorder.communicate(timeout=20)
    [entry] = Logbook.open(tmp_path / "book").logs()

    assert "recording" in first
    assert (recorder.returncode, entry.path.suffix) == (0, ".parquet")
    assert re.fullmatch(r"\S+ closing .*\.csv\n", err)
    assert out == f"{entry.path}: {read_log(entry.path).table.num_rows} samples, no gaps\n"
    assert not list(tmp_path.rglob("*.lock"))


def test_a_terminal_shows_one_status_line(tmp_path: Path) -> None:
    """On a terminal the line is written over itself, with the way the amps go."""
    ours, theirs = pty.openpty()
    with speaking(tmp_path / "port"), packhand_process(
            "record", "demo-binary", "--port", str(tmp_path / "port"), "--logbook",
            str(tmp_path / "book"), "--seconds", "1", stderr=theirs) as recorder:
        recorder.wait(20)
    shown = os.read(ours, 65536).decode()
    os.close(ours)
    os.close(theirs)

    assert re.search(r"\r\x1b\[K0:00:0\d  23\.1 A out  52\.31 V  91 %  ", shown)
    assert shown.count("\n") == 2
    assert re.search(r"\r\x1b\[K\d\d:\d\d:\d\d closing ", shown)


def test_a_terminal_that_is_closed_does_not_end_a_recording(tmp_path: Path) -> None:
    """A dropped connection to the computer costs the words, not the samples."""
    ours, theirs = pty.openpty()
    with speaking(tmp_path / "port"), packhand_process(
            "record", "demo-binary", "--port", str(tmp_path / "port"), "--logbook",
            str(tmp_path / "book"), "--seconds", "2", stderr=theirs) as recorder:
        os.close(theirs)
        os.read(ours, 1000)
        os.close(ours)
        recorder.wait(20)
    [entry] = Logbook.open(tmp_path / "book").logs()

    assert (recorder.returncode, entry.is_journal) == (0, False)
    assert read_log(entry.path).table.num_rows > 20


def test_a_silent_monitor_is_told_and_fails(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without a sample there is nothing to be content with."""
    line = PseudoTerminal(tmp_path / "port")
    line.plug()
    code = packhand.main(["record", "demo-binary", "--port", line.port, "--logbook",
                          str(tmp_path / "book"), "--seconds", "3.6"])
    line.unplug()
    said = capsys.readouterr()

    assert code == 1
    assert "silent: nothing was heard for 3 s" in said.err
    assert "0 samples, 1 gap" in said.out


def test_bytes_without_a_frame_are_told(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A wrong baud rate or monitor is said at the end, also of a short recording."""
    with RawWriter(tmp_path / "x.raw", "x") as raw:
        raw.write(Chunk(0, 0.0, b"\x00\xf8" * 50))
    code = packhand.main(["record", "demo-binary", "--port", str(tmp_path / "x.raw"),
                          "--logbook", str(tmp_path / "book")])

    assert code == 1
    assert ("100 bytes were heard, none of them a sample: check the monitor description and the "
            "baud rate") in capsys.readouterr().out


def test_a_second_recorder_on_the_same_port_is_told(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The first goes on; the second gets one line that names it, and leaves no file."""
    with speaking(tmp_path / "port"), packhand_process(
            "record", "demo-binary", "--port", str(tmp_path / "port"), "--logbook",
            str(tmp_path / "book"), stderr=subprocess.PIPE) as first:
        assert first.stderr is not None
        first.stderr.readline()
        code = packhand.main(["record", "demo-binary", "--port", str(tmp_path / "port"),
                              "--logbook", str(tmp_path / "other")])
        first.terminate()
        first.communicate(timeout=20)

    assert (code, first.returncode) == (1, 0)
    assert f"(process {first.pid}) has it open — close that program" in capsys.readouterr().err
    assert not (tmp_path / "other").exists()


@pytest.mark.parametrize(("words", "message"), [
    (["none-such"], "none-such: no such monitor description"),
    (["demo-binary", "--port", "/dev/none"], "/dev/none: no such port — 'packhand ports'"),
    (["demo-binary", "--port", "none.raw"], "none.raw: cannot be read (No such file"),
    (["demo-binary", "--port", __file__], "not a serial port — 'packhand ports'"),
])
def test_what_cannot_be_recorded_is_one_line(
        tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch,
        words: list[str], message: str) -> None:
    """Exit 1 and one line that says where, what and what to do."""
    monkeypatch.chdir(tmp_path)
    code = packhand.main(["record", *words])
    said = capsys.readouterr()

    assert (code, said.out, said.err.count("\n")) == (1, "", 1)
    assert said.err.startswith("packhand record: ")
    assert message in said.err


def test_a_file_in_place_of_the_logbook_is_told(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The monitor is let go of again and the file stays."""
    code = packhand.main(["record", "demo-binary", "--port", str(capture(tmp_path / "x.raw", 5)),
                          "--logbook", str(tmp_path / "x.raw")])

    assert code == 1
    assert "x.raw: a file, not a folder — choose another folder" in capsys.readouterr().err


def test_a_capture_in_place_of_the_port_is_read_again(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The log has the capture's samples at the capture's times and is named by its start."""
    code = packhand.main(["record", "demo-binary", "--port", str(capture(tmp_path / "x.raw", 5)),
                          "--logbook", str(tmp_path / "book")])
    [entry] = Logbook.open(tmp_path / "book").logs()

    assert (code, entry.stem) == (0, "2026-04-02T08-15-00Z")
    assert read_log(entry.path).table["sequence"].to_pylist() == [0, 1, 2, 3, 4]
    assert capsys.readouterr().out == f"{entry.path}: 5 samples, no gaps\n"


@pytest.mark.parametrize(("states", "message"), [
    ([], "no free serial port found — say which; 'packhand ports' lists them"),
    (["in use"], "no free serial port"),
    (["free", "free"], "several ports: /dev/p0, /dev/p1 — say which"),
])
def test_without_a_port_a_choice_is_not_guessed(
        monkeypatch: pytest.MonkeyPatch, states: list[Any], message: str) -> None:
    """Only a single free port is taken by itself."""
    ports = [SerialPort(f"/dev/p{n}", "adapter", state) for n, state in enumerate(states)]
    monkeypatch.setattr(serial_ports, "serial_ports", lambda: ports)
    with pytest.raises(SourceUnavailable, match=message):
        command.only_port()


def test_the_only_free_port_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ports in use do not count."""
    ports = [SerialPort("/dev/p0", "adapter", "in use"), SerialPort("/dev/p1", "adapter", "free")]
    monkeypatch.setattr(serial_ports, "serial_ports", lambda: ports)

    assert command.only_port() == "/dev/p1"


@pytest.mark.parametrize(("amps", "convention", "words"), [
    (-23.14, "negative_is_discharge", "23.1 A out"), (5.0, "negative_is_discharge", "5.0 A in"),
    (23.14, "positive_is_discharge", "23.1 A out"), (-5.0, "positive_is_discharge", "5.0 A in"),
    (0.0, "negative_is_discharge", "0.0 A"), (-3.0, "", "-3.0 A as displayed"),
    (3.0, "unsigned", "3.0 A as displayed"),
])
def test_the_way_of_the_amps_is_told_only_where_it_is_known(
        amps: float, convention: str, words: str) -> None:
    """Where the sign is not decided, the figure stands as the display shows it."""
    assert screen.amps_words(amps, convention) == words


def test_status_has_what_the_monitor_has() -> None:
    """What is missing is left out; gaps and unsaved samples are told where there are any."""
    sample = Sample(0, 0.0, {"voltage_v": 52.314})
    recording = Recording(None, None, samples=7512, gaps=2, unsaved=3)

    assert screen.clock_words(4359.9) == "1:12:39"
    assert screen.state_words(sample, recording, "") == (
        "52.31 V  7512 samples  2 gaps  3 not on disk")


def test_names_come_from_a_logbook_with_one_pack(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One vehicle and one pack need no option; of several none is guessed."""
    book = Logbook.create(tmp_path / "book")
    (book.root / "logbook.toml").write_text(
        "[[vehicle]]\nname = 'flatbed'\n[[pack]]\nname = 'a'\n[[pack]]\nname = 'b'\n")
    packhand.main(["record", "demo-binary", "--port", str(capture(tmp_path / "x.raw", 1)),
                   "--logbook", str(book.root)])
    meta = read_log(book.logs()[0].path).meta

    assert (meta.vehicle, meta.pack) == ("flatbed", "")


def test_what_was_not_saved_is_told() -> None:
    """Each loss has its own line, and the reason why the log is not sealed."""
    words = screen.outcome_words({"log": "x.csv", "samples": 9, "gaps": 1, "unsaved": 4,
                                   "rescued": "/home/kim/x-rest.csv", "raw_dropped": 2,
                                   "heard": {}, "problem": "x.csv: cannot be sealed"})

    assert words.splitlines() == [
        "x.csv: 9 samples, 1 gap",
        "/home/kim/x-rest.csv: holds the samples that did not fit; move it into the folder of the "
        "log when there is room",
        "4 samples could not be saved; the .raw file beside the log may hold them",
        "2 pieces of the raw capture could not be saved", "x.csv: cannot be sealed"]


def test_a_log_that_could_not_be_sealed_is_a_failure(
        tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The samples are safe in the journal; the exit code and a line say that it is one."""
    def refuse(_: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("collector.recorder.finish_log", refuse)
    code = packhand.main(["record", "demo-binary", "--port", str(capture(tmp_path / "x.raw", 5)),
                          "--logbook", str(tmp_path / "book")])

    assert code == 1
    assert "cannot be sealed (No space left on device)" in capsys.readouterr().out
