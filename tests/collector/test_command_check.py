"""``packhand check``."""

import json
from pathlib import Path

import pytest

import packhand
from collector.commands import check
from collector.sources import serial_ports
from collector.sources.serial_ports import SerialPort


def test_this_machine_works(tmp_path: Path, capsys: pytest.CaptureFixture[str],
                            monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the tests run, everything that packhand needs is there."""
    monkeypatch.setattr(serial_ports, "serial_ports", list)
    code = packhand.main(["check", "--logbook", str(tmp_path), "--json"])
    findings = json.loads(capsys.readouterr().out)["findings"]

    assert code == 0
    assert {"Python", "numpy", "pyserial", "serial", "disk", "clock"} <= {
        f["name"] for f in findings}
    assert all(f["works"] for f in findings)


def test_what_no_wire_needs_can_wait() -> None:
    """A radio that is missing neither works nor stops anything."""
    line = check.Finding("Bluetooth", True, "not needed for wires; no service", "start it").words

    assert line == "Bluetooth    can wait  not needed for wires; no service — start it"


def test_a_refused_port_fails_with_what_to_do(
        capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """One line does not work, and so the whole does not."""
    refused = SerialPort("/dev/ttyUSB0", "USB adapter", "no permission", "join the group")
    monkeypatch.setattr(serial_ports, "serial_ports", lambda: [refused])

    assert packhand.main(["check"]) == 1
    assert ("serial       does not  /dev/ttyUSB0: USB adapter, no permission — join the group"
            in capsys.readouterr().out)


@pytest.mark.parametrize(("requirement", "works", "found"), [
    ("pytest>=1.0", True, ", needed >=1.0"),
    ("pytest>=1.0,<999", True, ", needed >=1.0,<999"),
    ("pytest>=999", False, ", needed >=999"),
    ("pytest>=1.0,<2", False, ", needed >=1.0,<2"),
    ("none-such-thing>=1", False, "missing"),
])
def test_packages_are_held_against_what_is_needed(
        requirement: str, works: bool, found: str) -> None:
    """Both limits count, and what is missing is told with the command that brings it."""
    finding = check.package_finding(requirement)

    assert finding.works == works
    assert finding.found.endswith(found)
    assert bool(finding.remedy) == (not works)


def test_ten_is_newer_than_nine() -> None:
    """Versions are compared as numbers, not as text."""
    assert check._meets("3.10.2", ">=3.9")
    assert not check._meets("3.9", ">=3.10")


@pytest.mark.parametrize(("now_s", "works"), [(0.0, False), (1_775_117_700.0, True),
                                              (5e9, False)])
def test_a_clock_that_was_never_set_is_told(now_s: float, works: bool) -> None:
    """A computer that forgot the date would date every log wrong."""
    finding = check.clock_finding(now_s)

    assert (finding.works, bool(finding.remedy)) == (works, not works)


def test_a_full_disk_is_told_before_recording(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Less room than a day of recording needs is a finding; a folder still to be made is not."""
    roomy = check.disk_finding(tmp_path / "not" / "yet")
    monkeypatch.setattr(check, "DAY_BYTES", 1 << 62)

    assert (roomy.works, check.disk_finding(tmp_path).works) == (True, False)
