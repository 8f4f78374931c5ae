"""Which serial ports there are, and whether this person may open them."""

from __future__ import annotations

import getpass
import os
import sys
from collections.abc import Iterator
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


def adapter_at(port: str) -> str:
    """What tells the adapter at a port from others, for this program alone; empty if nothing does.

    A number that its maker gave it is as good as a name, so it is not to be written down.
    """
    device = os.path.realpath(port)
    return next((f"{found.vid:04x}:{found.pid:04x} {found.serial_number or ''}"
                 for found in list_ports.comports()
                 if found.vid is not None and os.path.realpath(found.device) == device), "")


def _described(device: Path, title: str) -> SerialPort:
    title = title if title not in ("", "n/a") else "serial port"
    if not os.access(device, os.R_OK | os.W_OK) and os.name != "nt":
        return SerialPort(str(device), title, "no permission", permission_remedy(device))
    if holder := port_holder(device):
        return SerialPort(str(device), title, "in use", f"close {holder} first")
    return SerialPort(str(device), title, "free")


def permission_remedy(device: Path, platform: str = sys.platform) -> str:
    """How to get permission: which group owns the device, and the command that joins it."""
    try:
        status, group = device.stat(), device.group()
    except (OSError, KeyError, NotImplementedError):
        return "ask who runs this computer for permission"
    if status.st_mode & 0o060 != 0o060:
        return f"its group {group!r} may not use it either; ask who runs this computer"
    person = getpass.getuser()
    if _has_joined(person, group):
        return (f"you have joined its group {group!r}, but not since you logged in: log out and in "
                "again, or restart the computer")
    join = (f"sudo dseditgroup -o edit -a {person} -t user {group}" if platform == "darwin"
            else f"sudo usermod -a -G {group} {person}")
    return f"it belongs to the group {group!r}: run '{join}', then log out and in again"


def _has_joined(person: str, group: str) -> bool:
    """Whether the group's list names the person, who may have logged in before that."""
    import grp

    return person in grp.getgrnam(group).gr_mem


def port_holder(device: Path) -> str:
    """The program that has the device, as ``name (process 123)``; empty if none is seen.

    Of several that have it open, the one that locked it. Reads Linux's ``/proc``; open files of
    other people are seen by root only.
    """
    target = Path(os.path.realpath(device))
    for process in (*_lockers(target), *_openers(target)):
        try:
            name = Path(f"/proc/{process}/comm").read_text(encoding="utf-8").strip()
        except OSError:  # it ended meanwhile
            continue
        return f"{name} (process {process})"
    return ""


def _lockers(device: Path) -> Iterator[str]:
    """Processes with a lock on the file; ``/proc/locks`` names it by disk and inode."""
    try:
        status = device.stat()
        name = f"{os.major(status.st_dev):02x}:{os.minor(status.st_dev):02x}:{status.st_ino}"
        lines = Path("/proc/locks").read_text(encoding="utf-8").splitlines()
    except OSError:
        return
    for fields in map(str.split, lines):
        if fields[1] == "FLOCK" and fields[5] == name:
            yield fields[4]


def _openers(device: Path) -> Iterator[str]:
    """Processes that have the file open."""
    for process in Path("/proc").glob("[0-9]*"):
        try:
            if any(os.path.realpath(handle) == str(device)
                   for handle in (process / "fd").iterdir()):
                yield process.name
        except OSError:  # it ended meanwhile, or is another person's
            continue
