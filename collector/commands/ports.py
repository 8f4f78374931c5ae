"""What can be listened to: the serial ports of this computer.

A port may also be typed that is not listed: a pseudo-terminal (/dev/pts/3), a link to one, or a
monitor behind a serial server on the network (socket://192.168.1.20:4000).

example:
  packhand ports
"""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict

NOTHING = """\
No serial port found.
  Plug the adapter in and try again. A charging cable without data lines shows nothing."""
HINT = "Also possible behind --port: /dev/pts/3, socket://192.168.1.20:4000."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of ``packhand ports``."""
    parser.add_argument("--json", action="store_true", help="print JSON instead of words")


def run(arguments: argparse.Namespace) -> int:
    """List the ports; 0 also when there are none."""
    from ..sources.serial_ports import serial_ports

    ports = serial_ports()
    if arguments.json:
        print(json.dumps({"schema": "packhand.ports/1", "ports": [asdict(p) for p in ports]},
                         indent=2))
        return 0
    print("\n".join(port.words for port in ports) or NOTHING)
    print(HINT)
    return 0
