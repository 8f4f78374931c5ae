"""Which serial ports there are, and whether this person may open them."""

from __future__ import annotations

import getpass
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from serial.tools import list_ports

PortState = Literal["free", "in use", "no permission"]


@dataclass(frozen=True, slots=True)
class SerialPort:
    """A serial port of this computer."""

    #: What to type behind ``--port``.
    port: str
    #: What the adapter says it is.
    title: str
    state: PortState
    #: What to do about the state; empty where nothing is.
    remedy: str = ""

    @property
    def words(self) -> str:
        """The port in one line."""
        line = f"{self.port}: {self.title}, {self.state}"
        return f"{line} — {self.remedy}" if self.remedy else line


def serial_ports() -> list[SerialPort]:
    """Every serial port with hardware behind it, sorted by name.

    Ports are looked at, never opened: opening moves the control lines, which restarts some
    monitors. Whether one is in use is known on Linux only; elsewhere opening it tells.
    """
    return [_described(Path(found.device), found.description)
            for found in sorted(list_ports.comports())]


def _described(device: Path, title: str) -> SerialPort:
    title = title if title not in ("", "n/a") else "serial port"
    if not os.access(device, os.R_OK | os.W_OK) and os.name != "nt":
        return SerialPort(str(device), title, "no permission", permission_remedy(device))
    if holder := port_holder(device):
        return SerialPort(str(device), title, "in use", f"close {holder} first")
    return SerialPort(str(device), title, "free")


def permission_remedy(device: Path) -> str:
    """How to get permission: which group owns the device, and the command that joins it."""
    try:
        status, group = device.stat(), device.group()
    except (OSError, KeyError, NotImplementedError):
        return "ask who runs this computer for permission"
    if status.st_mode & 0o060 != 0o060:
        return f"its group {group!r} may not use it either; ask who runs this computer"
    return (f"it belongs to the group {group!r}: run "
            f"'sudo usermod -a -G {group} {getpass.getuser()}', then log out and in again")


def port_holder(device: Path) -> str:
    """A program that has the device open, as ``name (process 123)``; empty if none is seen.

    Reads Linux's ``/proc``; programs of other people are seen by root only.
    """
    target = os.path.realpath(device)
    for process in Path("/proc").glob("[0-9]*"):
        try:
            if any(os.path.realpath(handle) == target for handle in (process / "fd").iterdir()):
                name = (process / "comm").read_text(encoding="utf-8").strip()
                return f"{name} (process {process.name})"
        except OSError:  # it ended meanwhile, or is another person's
            continue
    return ""
