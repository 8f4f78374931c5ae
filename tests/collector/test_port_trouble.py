"""Trouble with ports, drivers and radios on three systems: each cause leads to its own fix.

The errors are made as the libraries make them; their texts are those of pyserial 3.5
(``serialwin32.py``, ``serialposix.py``), bleak 3.1 (``bleak/exc.py`` and its backends) and
Microsoft's "System Error Codes".
"""

from __future__ import annotations

import errno
import os
import sys
from pathlib import Path

import pytest
import serial
from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakDBusError,
    BleakError,
)

from collector.sources import serial_ports, serial_trouble
from collector.sources.ble_trouble import NOT_ALLOWED, unavailable
from collector.sources.serial_trouble import explained, reason, system_number

Reason = BleakBluetoothNotAvailableReason
OPEN = "could not open port 'COM3': {}"
CONFIGURE = "Cannot configure port, something went wrong. Original message: {}"


def windows(text: str, cause: str, *args: object) -> serial.SerialException:
    """As ``serialwin32`` says it: ``ctypes.WinError()`` by its class and arguments."""
    return serial.SerialException(text.format(f"{cause}({', '.join(map(repr, args))})"))


@pytest.mark.parametrize(("error", "found", "remedy"), [
    (windows(OPEN, "FileNotFoundError", 2, "The system cannot find the file specified.", None, 2),
     "no such port", "'packhand ports' lists"),
    (windows(OPEN, "PermissionError", 13, "Access is denied.", None, 5),
     "busy: another program has it open", "close that program first"),
    (windows(OPEN, "PermissionError", 13, "A device attached to the system is not functioning.",
             None, 31), "the adapter does not answer (A device attached", "Device Manager"),
    (windows(CONFIGURE, "OSError", 22, "The parameter is incorrect.", None, 87),
     "it does not take these settings of the line", "check baud, bits, parity"),
    (windows(OPEN, "OSError", 22, "The semaphore timeout period has expired.", None, 121),
     "nothing answers behind it", "Bluetooth device that is away"),
    (windows(OPEN, "OSError", 22, "A device which does not exist was specified.", None, 433),
     "the adapter does not answer", "driver is missing"),
    (windows(OPEN, "OSError", 22, "Der E/A-Vorgang wurde abgebrochen.", None, 995),
     "cannot be opened (Der E/A-Vorgang wurde abgebrochen)", "plug it in again"),
])
def test_windows_own_number_decides(error: Exception, found: str, remedy: str) -> None:
    """Not the class, and not the words, which are in the person's language."""
    said = explained("COM3", error, "win32")

    assert said[0].startswith(found)
    assert remedy in said[1]
    assert not any(word in " ".join(said) for word in ("Error(", "None", "sudo"))


def posix(number: int | None, words: str, behind: BaseException | None = None) -> Exception:
    """As ``serialposix`` says it: with the number, or with the system's error behind it."""
    error = serial.SerialException(*([] if number is None else [number]), words)
    error.__context__ = behind
    return error


@pytest.mark.parametrize(("error", "platform", "found", "remedy"), [
    (posix(errno.ENOENT, "could not open port"), "linux", "no such port", "packhand ports"),
    (posix(errno.EBUSY, "could not open port", OSError(errno.EBUSY, "Resource busy")), "darwin",
     "busy: another program", "close that program first"),
    (posix(None, "Could not configure port", OSError(errno.ENOTTY, "Inappropriate ioctl")),
     "linux", "not a serial port", "packhand ports"),
    (posix(None, "Could not configure port", OSError(errno.EINVAL, "Invalid argument")), "linux",
     "it does not take these settings of the line (Invalid argument)", "check baud"),
    (posix(None, "Could not configure port", OSError(errno.EIO, "Input/output error")), "linux",
     "the adapter does not answer (Input/output error)", "dmesg"),
    (posix(errno.ENXIO, "could not open port", OSError(errno.ENXIO, "Device not configured")),
     "darwin", "the adapter does not answer (Device not configured)", "Privacy & Security"),
])
def test_linux_and_macos_are_told_apart(
        error: Exception, platform: str, found: str, remedy: str) -> None:
    """Each by its number, with the place where that system shows more."""
    said = explained("/dev/ttyNONE", error, platform)

    assert said[0].startswith(found)
    assert remedy in said[1]


def test_a_program_that_tries_new_ports_is_given_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Some Linux systems look for a modem behind each adapter that is plugged in."""
    monkeypatch.setattr(serial_trouble, "port_holder", lambda _: "ModemManager (process 7)")
    found, remedy = explained("/dev/ttyUSB0", posix(errno.EAGAIN, "exclusively lock"), "linux")

    assert found == "busy: ModemManager (process 7) has it open"
    assert remedy.startswith("wait half a minute")


def test_a_port_that_goes_away_on_windows_is_told_in_plain_words() -> None:
    """What ``ReadFile`` and ``ClearCommError`` say, without the frame around it."""
    error = windows("ClearCommError failed ({})", "PermissionError", 13,
                    "The device does not recognize the command.", None, 22)

    assert reason(error) == "The device does not recognize the command"
    assert system_number(error) is not None


@pytest.mark.skipif(sys.platform == "win32", reason="ports belong to no group there")
def test_how_to_join_the_group_of_a_port(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By the system's own command; who has joined already has only to log in anew."""
    device = tmp_path / "port"
    device.touch()
    device.chmod(0o660)
    monkeypatch.setenv("LOGNAME", "kim")
    group = device.group()
    joined = serial_ports._has_joined

    assert f"'sudo usermod -a -G {group} kim'" in serial_ports.permission_remedy(device, "linux")
    assert f"'sudo dseditgroup -o edit -a kim -t user {group}'" in (
        serial_ports.permission_remedy(device, "darwin"))
    monkeypatch.setattr(serial_ports, "_has_joined", lambda *_: True)
    assert "log out and in again" in serial_ports.permission_remedy(device)
    assert "usermod" not in serial_ports.permission_remedy(device)
    assert joined("none-such-person", group) is False


@pytest.mark.parametrize("platform", ["linux", "darwin", "win32"])
@pytest.mark.parametrize("cause", Reason)
def test_every_reason_of_bleak_has_words(cause: Reason, platform: str) -> None:
    """None speaks of the library, nor of another system's commands."""
    error = unavailable("Bluetooth", BleakBluetoothNotAvailableError("no", cause), platform)

    assert "Bluetooth" in error.found
    assert error.remedy
    assert not any(word in str(error) for word in ("Reason", "Bleak", "come nearer"))
    assert platform == "linux" or not any(word in str(error) for word in ("rfkill", "ctl", "sudo"))
    assert (error.found == NOT_ALLOWED) == cause.name.startswith("DENIED")


@pytest.mark.parametrize(("error", "platform", "found", "remedy"), [
    (BleakDBusError("org.freedesktop.DBus.Error.AccessDenied", ["Rejected send message"]), "linux",
     NOT_ALLOWED, "-G bluetooth"),
    (BleakDBusError("org.freedesktop.DBus.Error.ServiceUnknown", ["not provided"]), "linux",
     "no Bluetooth service", "systemctl start bluetooth"),
    (FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT)), "linux", "no Bluetooth service",
     "systemctl start bluetooth"),
    (OSError(22, "The device is not ready for use", None, -2147020577), "win32",
     "no Bluetooth service", "Settings, 'Bluetooth & devices'"),
    (TimeoutError(), "darwin", "no connection in time", "come nearer"),
    (BleakError("device 'dev_AA' not found"), "linux", "no connection", "come nearer"),
])
def test_what_else_the_radio_says(
        error: Exception, platform: str, found: str, remedy: str) -> None:
    """Forbidden, no service, out of reach."""
    said = unavailable("cart", error, platform)

    assert said.found.startswith(found)
    assert remedy in said.remedy
