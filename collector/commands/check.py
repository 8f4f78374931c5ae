"""What works on this machine, and what to do about what does not.

Looks at Python, the packages packhand needs, the serial ports and who may open them, Bluetooth,
the disk of the logbook, and the clock. Nothing is changed.

example:
  packhand check --logbook ~/flatbed
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import sys
import time
import tomllib
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from importlib import metadata
from pathlib import Path

#: Least room that lets a day at 10 Hz with 16 cells be recorded and sealed: 130 bytes a row in
#: the journal, a tenth of it sealed, as much again for the raw bytes. Worked out here. [bytes]
DAY_BYTES = 300_000_000
#: How long Bluetooth is listened for. [s]
BLUETOOTH_S = 2.0


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at."""

    name: str
    works: bool
    found: str
    remedy: str = ""

    @property
    def words(self) -> str:
        """The finding in one line."""
        verdict = ("can wait" if self.remedy else "works") if self.works else "does not"
        line = f"{self.name:<12} {verdict:<9} {self.found}"
        return f"{line} — {self.remedy}" if self.remedy else line


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of ``packhand check``."""
    parser.add_argument("--logbook", type=Path, default=Path("logbook"), metavar="DIR",
                        help="the logbook whose disk is looked at (default: ./logbook)")
    parser.add_argument("--json", action="store_true", help="print JSON instead of words")


def run(arguments: argparse.Namespace) -> int:
    """Print a line for each thing looked at; 1 if one of them does not work."""
    findings = [python_finding(), *package_findings(), *port_findings(),
                bluetooth_finding(), disk_finding(arguments.logbook), clock_finding(time.time())]
    if arguments.json:
        print(json.dumps({"schema": "packhand.check/1",
                          "findings": [asdict(f) for f in findings]}, indent=2))
    else:
        print("\n".join(finding.words for finding in findings))
    return 0 if all(finding.works for finding in findings) else 1


def python_finding() -> Finding:
    """Whether this Python is new enough."""
    version = ".".join(map(str, sys.version_info[:3]))
    works = sys.version_info >= (3, 11)
    return Finding("Python", works, version, "" if works else "install Python 3.11 or newer")


def package_findings() -> Iterator[Finding]:
    """Whether each package that packhand needs is there and new enough."""
    for line in requirements():
        requirement, _, marker = line.partition(";")
        if "win32" not in marker or os.name == "nt":
            yield package_finding(requirement.strip())


def requirements() -> list[str]:
    """The packages packhand needs, as it was installed or as its folder says."""
    try:
        needed = metadata.requires("packhand") or []
    except metadata.PackageNotFoundError:
        project = Path(__file__).parents[2] / "pyproject.toml"
        needed = list(tomllib.loads(project.read_text(encoding="utf-8"))["project"]["dependencies"])
    return needed


def package_finding(requirement: str) -> Finding:
    """One package against what is needed, such as ``numpy>=2.2``."""
    place = next((i for i, mark in enumerate(requirement) if mark in "<>=!~"), len(requirement))
    name, limits = requirement[:place], requirement[place:]
    try:
        version = metadata.version(name)
    except metadata.PackageNotFoundError:
        return Finding(name, False, "missing", f"pip install '{requirement}'")
    works = all(_meets(version, limit) for limit in limits.split(",") if limit)
    return Finding(name, works, f"{version}, needed {limits}",
                   "" if works else f"pip install '{requirement}'")


def _meets(version: str, limit: str) -> bool:
    if limit.startswith(">="):
        return _numbers(version) >= _numbers(limit[2:])
    return _numbers(version) < _numbers(limit[1:])


def _numbers(version: str) -> list[int]:
    return [int(part) for part in version.split(".") if part.isdigit()]


def port_findings() -> Iterator[Finding]:
    """Whether the serial ports may be opened; having none is no fault."""
    from ..sources.serial_ports import serial_ports

    ports = serial_ports()
    if not ports:
        yield Finding("serial", True, "no serial port plugged in")
    for port in ports:
        yield Finding("serial", port.state != "no permission",
                      f"{port.port}: {port.title}, {port.state}", port.remedy)


def bluetooth_finding() -> Finding:
    """Whether Bluetooth can be heard; a computer without it is no fault, one that forbids it is."""
    from ..errors import SourceUnavailable
    from ..sources.ble_peripheral import scan_ble
    from ..sources.ble_trouble import NOT_ALLOWED

    try:
        count = len(scan_ble(BLUETOOTH_S))
    except SourceUnavailable as error:
        return Finding("Bluetooth", error.found != NOT_ALLOWED,
                       f"not needed for wires; {error.found}", error.remedy)
    return Finding("Bluetooth", True, f"{count} devices heard in {BLUETOOTH_S:g} s")


def disk_finding(logbook: Path) -> Finding:
    """Whether the logbook's disk can take a day of recording."""
    whole = logbook.resolve()
    folder = next(f for f in (whole, *whole.parents)
                  if os.path.isdir(f))  # noqa: PTH112 - never raises, unlike Path.is_dir
    free = shutil.disk_usage(folder).free
    found = f"{free / 1e9:.1f} GB free in {folder}"
    if not os.access(folder, os.W_OK):
        return Finding("disk", False, f"{folder} cannot be written",
                       "choose another folder with --logbook")
    if free < DAY_BYTES:
        return Finding("disk", False, found, "make room: a day at 10 Hz can need 0.3 GB")
    return Finding("disk", True, found)


def clock_finding(now_s: float) -> Finding:
    """Whether the computer's clock was ever set; small computers without a battery forget it."""
    from ..clock_doubt import YEARS

    moment = time.strftime("%Y-%m-%d %H:%M:%S UTC", time.gmtime(now_s))
    works = time.gmtime(now_s).tm_year in YEARS
    return Finding("clock", works, moment, "" if works else "set the date and time")
