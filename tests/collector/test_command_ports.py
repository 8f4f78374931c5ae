"""``packhand ports``."""

import json

import pytest

import packhand
from collector.sources import serial_ports
from collector.sources.serial_ports import SerialPort

REFUSED = SerialPort("/dev/ttyUSB0", "USB adapter", "no permission", "join the group")


def test_ports_are_listed_in_words(
        monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """A port with its state and what to do, then what else may be typed."""
    monkeypatch.setattr(serial_ports, "serial_ports", lambda: [REFUSED])
    code = packhand.main(["ports", "--seconds", "0"])
    lines = capsys.readouterr().out.splitlines()

    assert (code, lines[0]) == (0, "/dev/ttyUSB0: USB adapter, no permission — join the group")
    assert "socket://" in lines[1]


def test_no_port_is_no_failure(
        monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """It is told, with what to try."""
    monkeypatch.setattr(serial_ports, "serial_ports", list)

    assert packhand.main(["ports", "--seconds", "0"]) == 0
    assert capsys.readouterr().out.startswith("No serial port found.")


def test_ports_as_json(
        monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """The same for programs."""
    monkeypatch.setattr(serial_ports, "serial_ports", lambda: [REFUSED])
    packhand.main(["ports", "--seconds", "0", "--json"])

    assert json.loads(capsys.readouterr().out) == {"schema": "packhand.ports/1", "ports": [
        {"port": "/dev/ttyUSB0", "title": "USB adapter", "state": "no permission",
         "remedy": "join the group"}], "bluetooth": [], "bluetooth_problem": ""}
