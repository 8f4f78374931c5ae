"""``packhand learn`` as a person uses it: from files, and live on a real pseudo-terminal."""

import io
import json
import os
import select
import threading
import time
import tty
from collections.abc import Iterator
from pathlib import Path

import pytest

from collector.clock import iso_utc
from collector.commands.learn import Listener, ask, read_again, read_line
from collector.logbook import Logbook
from collector.logfile import read_log
from collector.monitors import load_description
from collector.monitors.schema import Transport
from collector.sources.serial_line import SerialLink
from packhand import main
from tests.benchmarks.invented_protocols import Invented, invent

#: A binary monitor of the benchmark's generator whose three figures are all found.
SEED = 12


def as_files(invented: Invented, folder: Path) -> list[str]:
    """The capture and the typed readings as files, as arguments."""
    raw, readings = folder / "drive.raw", folder / "display.csv"
    raw.write_text("".join(f"{iso_utc(chunk.time_ms)} {chunk.data.hex()}\n"
                           for chunk in invented.chunks), encoding="ascii")
    columns = sorted(invented.truth)
    rows = [",".join([iso_utc(reading.time_ms)] + [
        f"{reading.values[c]:.{0 if reading.steps[c] == 1 else 1}f}" for c in columns])
        for reading in invented.readings]
    readings.write_text("\n".join([",".join(["time", *columns]), *rows]) + "\n", encoding="utf-8")
    return ["learn", "--raw", str(raw), "--readings", str(readings)]


@pytest.mark.scenario(4)
def test_a_capture_and_readings_become_a_description(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The written file is a description that gives the three figures."""
    out = tmp_path / "my-monitor.toml"
    code = main([*as_files(invent(SEED), tmp_path), "-o", str(out)])

    assert code == 0
    assert {"voltage_v", "current_a", "soc_pct"} <= set(load_description(str(out)).columns)
    said = capsys.readouterr().out
    assert "volts: yes, byte" in said
    assert "exam passed" in said


def test_json_has_the_agreed_keys(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Description, fields with their odds, and what is undecided."""
    main([*as_files(invent(SEED), tmp_path), "--json"])
    result = json.loads(capsys.readouterr().out)

    assert result["schema"] == "packhand.learn/1"
    assert {"description", "fields", "undecided"} <= set(result)
    volts = next(field for field in result["fields"] if field["name"] == "voltage_v")
    assert {"name", "place", "type", "scale", "offset", "chance_match"} <= set(volts)
    assert volts["chance_match"] < 0.05


def test_bytes_already_heard_become_a_log(tmp_path: Path) -> None:
    """With a logbook the capture is read again through what was learned."""
    invented = invent(SEED)
    main([*as_files(invented, tmp_path), "--logbook", str(tmp_path / "book")])
    (entry,) = Logbook(tmp_path / "book").logs()
    log = read_log(entry.path)

    assert len(invented.times_s) - log.table.num_rows in range(3)
    assert {"voltage_v", "current_a", "soc_pct"} <= set(log.table.column_names)


#: One figure a line, as a description learned it.
LEARNED = """name = "learned"
transport = { kind = "serial" }
framing = { kind = "line" }
text = { form = "comma" }
field = [{ name = "voltage_v", at = 0 }]
"""


def test_every_log_of_the_bytes_already_heard_is_named(tmp_path: Path) -> None:
    """A capture that goes on at another pack becomes two logs, and both are told."""
    raw, book = tmp_path / "two-packs.raw", tmp_path / "book"
    lines = [b"52.1\r\n"] * 90 + [b"520.7\r\n"] * 90
    raw.write_text("".join(f"{iso_utc(1_775_116_800_000 + 1000 * n)} {line.hex()}\n"
                           for n, line in enumerate(lines)), encoding="ascii")
    words = read_again(LEARNED, raw, book)
    first, second = Logbook(book).logs()

    assert f"{first.path}: 90 samples" in words
    assert f"{second.path}: 90 samples" in words


@pytest.mark.scenario(4)
def test_what_cannot_be_told_is_said_and_asked_for(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One reading settles nothing: exit 1, no description, what to do next."""
    arguments = as_files(invent(SEED), tmp_path)
    rows = Path(arguments[-1]).read_text(encoding="utf-8").splitlines()
    Path(arguments[-1]).write_text("\n".join(rows[:2]) + "\n", encoding="utf-8")

    assert main(arguments) == 1
    said = capsys.readouterr().out
    assert "amps: cannot tell yet" in said
    assert "then type a reading" in said


def test_readings_are_needed_with_a_capture(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without them there is one line that says what is missing."""
    arguments = as_files(invent(SEED), tmp_path)

    assert main(arguments[:3]) == 1
    assert "--readings: is missing" in capsys.readouterr().err


@pytest.mark.parametrize(("line", "values"), [
    ("52.1 -23.4 87", {"voltage_v": 52.1, "current_a": -23.4, "soc_pct": 87}),
    ("52.1 - 87 21", {"voltage_v": 52.1, "soc_pct": 87, "temp_1_c": 21}),
    ("52.1 - 87 temp_1_c=21", {"voltage_v": 52.1, "soc_pct": 87, "temp_1_c": 21}),
    ("soc_pct=87", {"soc_pct": 87}),
])
def test_a_typed_line(line: str, values: dict[str, float]) -> None:
    """Figures in the usual order, or by name; a dash is a figure that is not shown."""
    assert read_line(line, 0).values == values


@pytest.mark.parametrize(("line", "words"), [
    ("52.1 -23 87 21 3.3", "one figure too many"), ("fifty", "not a number"), ("-", "no figure"),
    ("speed_m_s=3", "not one of"),
])
def test_a_line_that_cannot_be_read(line: str, words: str) -> None:
    """What is wrong is said; nothing is guessed."""
    with pytest.raises(ValueError, match=words):
        read_line(line, 0)


@pytest.fixture
def terminal() -> Iterator[tuple[int, str]]:
    """A real pseudo-terminal: the monitor's end, and the name of the other."""
    monitor, other = os.openpty()
    tty.setraw(other)
    yield monitor, os.ttyname(other)
    os.close(monitor)
    os.close(other)


def test_live_listening_never_writes(terminal: tuple[int, str]) -> None:
    """Bytes are heard while the person types; the monitor hears nothing from us."""
    monitor, name = terminal
    kept: list[object] = []
    link = SerialLink(name, Transport())
    link.open()
    listener = Listener(link, kept.append)
    sender = threading.Thread(target=lambda: [
        (os.write(monitor, bytes([0x9E, n, 7, 7])), time.sleep(0.02)) for n in range(40)])
    sender.start()
    screen = io.StringIO()
    readings = list(ask(listener, io.StringIO("52.1 -3 87\nwhat\n\n"), screen))
    sender.join()
    time.sleep(0.3)
    listener.stop()

    assert len(readings) == 1
    assert b"".join(chunk.data for chunk in listener.chunks()) == b"".join(
        bytes([0x9E, n, 7, 7]) for n in range(40))
    assert kept == listener.chunks()
    assert "cannot tell yet" in screen.getvalue()
    assert "'what' is not a number" in screen.getvalue()
    assert not select.select([monitor], [], [], 0)[0]
