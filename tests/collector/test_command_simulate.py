"""``packhand simulate`` as a person uses it, heard by ``packhand record``."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

import packhand
from collector.frames.decoder import Decoder
from collector.logbook import Logbook
from collector.logfile import read_log
from collector.monitors import load_description
from collector.simulator.faults import KINDS

pytestmark = pytest.mark.skipif(os.name == "nt", reason="needs pseudo-terminals")

ROOT = Path(__file__).parents[2]


def test_it_says_what_to_listen_to(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The port and the record command are printed, and it ends after its seconds."""
    link = tmp_path / "cart"
    status = packhand.main(["simulate", "demo-binary", "--link", str(link), "--seconds", "0.3"])
    said = capsys.readouterr().out

    assert status == 0
    assert f"packhand record demo-binary --port {link}" in said
    assert "invented data" in said
    assert not link.exists()


def test_help_names_every_fault(capsys: pytest.CaptureFixture[str]) -> None:
    """Whoever asks for help learns what can go wrong, without a heavy import."""
    with pytest.raises(SystemExit):
        packhand.main(["simulate", "--help"])
    said = capsys.readouterr().out

    assert all(kind in said for kind in KINDS)
    code = "import sys, packhand\ntry: packhand.main(['simulate', '--help'])\n" \
           "except SystemExit: sys.exit(int('numpy' in sys.modules))"
    assert subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False,
                          capture_output=True).returncode == 0


@pytest.mark.parametrize(("words", "found"), [
    (["--fault", "melt"], "no kind 'melt'"), (["--link", "/no/such/folder/x"], "cannot be made"),
    (["--truth", "/no/such/folder/x"], "/no/such/folder/x: cannot be written")])
def test_bad_wishes_are_one_line(words: list[str], found: str,
                                 capsys: pytest.CaptureFixture[str]) -> None:
    """One line on stderr and exit 1."""
    assert packhand.main(["simulate", "demo-text", *words, "--seconds", "0.1"]) == 1
    error = capsys.readouterr().err
    assert found in error
    assert error.count("\n") == 1


@pytest.mark.parametrize("monitor", ["demo-text", "demo-modbus"])
@pytest.mark.parametrize(("text", "found"), [
    ("", "the file is empty"), ("time,current_a\n", "not a packhand journal"),
    ('# format: 1\ntime,monotonic_s,current_a,event,crc32\n', "no samples"),
    (None, "no such file")])
def test_a_log_without_figures_is_one_line(
        monitor: str, text: str | None, found: str, tmp_path: Path,
        capsys: pytest.CaptureFixture[str]) -> None:
    """It is told before anybody is asked to listen."""
    log = tmp_path / "log.csv"
    if text is not None:
        log.write_text(text)

    assert packhand.main(["simulate", monitor, "--log", str(log), "--seconds", "0.2"]) == 1

    printed = capsys.readouterr()
    assert printed.out == ""
    assert f"{log}: {found}" in printed.err
    assert printed.err.count("\n") == 1


def test_rates_are_above_zero(capsys: pytest.CaptureFixture[str]) -> None:
    """A rate of nothing is misuse."""
    with pytest.raises(SystemExit) as ended:
        packhand.main(["simulate", "demo-text", "--rate", "0"])
    assert ended.value.code == 2
    assert "not a number above 0" in capsys.readouterr().err


def test_ctrl_c_pulls_the_plug(tmp_path: Path) -> None:
    """It ends with 0 and leaves no name behind."""
    link = tmp_path / "cart"
    running = subprocess.Popen([sys.executable, "packhand.py", "simulate", "--link", str(link)],
                               cwd=ROOT, stdout=subprocess.PIPE, text=True)
    deadline = time.monotonic() + 30
    while not link.exists() and time.monotonic() < deadline:
        time.sleep(0.05)
    running.send_signal(signal.SIGINT)
    said, _ = running.communicate(timeout=30)

    assert running.returncode == 0
    assert "frames sent whole" in said
    assert not link.is_symlink()


@pytest.mark.parametrize("monitor", ["demo-binary", "demo-text"])
def test_a_recording_holds_all_that_was_sent_whole(tmp_path: Path, monitor: str) -> None:
    """Garbage, a torn frame, a turned bit and an unplug: no whole frame lost, none invented.

    Frames that went out between the plug and the recorder's opening of the port are not counted:
    opening a port throws away what lay in it.
    """
    link, truth = tmp_path / "cart", tmp_path / "truth"
    wishes = ["garbage@0.9", "torn@1.2", "wrong-check@1.5", "unplug@1.8+0.4"]
    running = subprocess.Popen(
        [sys.executable, "packhand.py", "simulate", monitor, "--link", str(link), "--rate", "20",
         "--seconds", "6", "--seed", "3", "--truth", str(truth),
         *(word for wish in wishes for word in ("--fault", wish))],
        cwd=ROOT, stdout=subprocess.DEVNULL)
    deadline = time.monotonic() + 30
    while not link.exists() and time.monotonic() < deadline:
        time.sleep(0.02)
    assert packhand.main(["record", monitor, "--port", str(link), "--logbook",
                          str(tmp_path / "book"), "--seconds", "4.5"]) == 0
    running.wait(30)

    rows = read_log(Logbook.open(tmp_path / "book").logs()[0].path).table.to_pylist()
    deeds = [json.loads(line) for line in truth.read_text().splitlines()]
    recorded = [values_of(row) for row in rows if row["event"] is None]
    decode = Decoder(load_description(monitor)).feed
    sent = [(deed["monotonic_s"], values) for deed in deeds if deed["kind"] == "whole"
            for values in decode(bytes.fromhex(deed["hex"]))]
    due = [values for at_s, values in sent if any(a < at_s < b for a, b in stretches(rows))]

    assert {deed["kind"] for deed in deeds} >= {"garbage", "torn", "wrong-check", "unplug", "plug"}
    assert [row["event"].split(":")[0] for row in rows if row["event"]] == [
        "link lost", "link back"]
    assert len(due) > 40
    assert is_in_order(due, recorded)
    assert is_in_order(recorded, [values for _, values in sent])


def values_of(row: dict[str, Any]) -> dict[str, Any]:
    """The monitor's figures of a log row, missing ones absent."""
    return {name: value for name, value in row.items()
            if value is not None and name not in ("time", "monotonic_s")}


def stretches(rows: list[dict[str, Any]]) -> list[tuple[float, float]]:
    """Begin and end of each stretch of samples between two events. [s]"""
    parts: list[list[float]] = [[]]
    for row in rows:
        if row["event"] is None:
            parts[-1].append(row["monotonic_s"])
        else:
            parts.append([])
    return [(part[0], part[-1]) for part in parts if part]


def is_in_order(few: list[dict[str, Any]], many: list[dict[str, Any]]) -> bool:
    """Whether ``many`` holds all of ``few``, in their order, with others in between."""
    rest = iter(many)
    return all(any(one == other for other in rest) for one in few)


def test_a_log_is_said_again_through_the_wire(tmp_path: Path) -> None:
    """A finished log played on a terminal and recorded again holds the same figures."""
    day = ROOT / "sample_logs" / "flatbed" / "logs" / "2026-04-16T07-39-00Z.parquet"
    link, book = tmp_path / "cart", tmp_path / "book"
    with subprocess.Popen([sys.executable, "-m", "packhand", "simulate", "demo-binary", "--log",
                           str(day), "--link", str(link), "--rate", "50"],
                          cwd=ROOT, stdout=subprocess.PIPE, text=True) as player:
        assert player.stdout is not None
        assert "saying again" in player.stdout.readline()
        assert packhand.main(["record", "demo-binary", "--port", str(link), "--logbook",
                              str(book), "--seconds", "2"]) == 0
        player.terminate()
    again = read_log(Logbook.open(book).logs()[0].path, ["voltage_v", "sequence"]).table
    once = read_log(day, ["voltage_v", "sequence"]).table
    volts = dict(zip(once["sequence"].to_pylist(), once["voltage_v"].to_pylist(), strict=True))

    assert again.num_rows > 20
    assert all(volts[n] == v for n, v in zip(again["sequence"].to_pylist(),
                                             again["voltage_v"].to_pylist(), strict=True))


def test_a_line_on_the_network_is_heard_like_a_cable(tmp_path: Path) -> None:
    """Where no pseudo-terminals exist the monitor speaks behind a socket."""
    with subprocess.Popen([sys.executable, "-m", "packhand", "simulate", "demo-text", "--tcp", "0",
                           "--rate", "20"], cwd=ROOT, stdout=subprocess.PIPE, text=True) as player:
        assert player.stdout is not None
        port = player.stdout.readline().rpartition(" on ")[2].strip()
        assert packhand.main(["record", "demo-text", "--port", port, "--logbook", str(tmp_path),
                              "--seconds", "2"]) == 0
        player.terminate()

    assert port.startswith("socket://127.0.0.1:")
    assert read_log(Logbook.open(tmp_path).logs()[0].path, []).table.num_rows > 15
