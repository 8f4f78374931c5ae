"""What can be listened to: the serial ports of this computer, and Bluetooth LE in reach.

A port may also be typed that is not listed: a pseudo-terminal (/dev/pts/3), a link to one, a
monitor behind a serial server on the network (socket://192.168.1.20:4000), or a Modbus unit on
the network (tcp://192.168.1.20:502).

example:
  packhand ports --seconds 10
"""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ..sources.ble_peripheral import BleDevice

NOTHING = """\
No serial port found.
  Plug the adapter in and try again. A charging cable without data lines shows nothing.
  If it is plugged in: {where_seen}."""
HINT = "Also possible behind --port: /dev/pts/3, socket://192.168.1.20:4000, tcp://host:502."
NO_BLUETOOTH = "No Bluetooth LE device heard. Switch the monitor on and come nearer."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of ``packhand ports``."""
    parser.add_argument("--seconds", type=float, default=4.0, metavar="N",
                        help="how long to listen for Bluetooth, 0 for not at all (default: 4)")
    parser.add_argument("--json", action="store_true", help="print JSON instead of words")


def run(arguments: argparse.Namespace) -> int:
    """List the ports; 0 also when there are none."""
    from ..sources.serial_ports import serial_ports
    from ..sources.serial_trouble import where_seen

    ports = serial_ports()
    devices, problem = bluetooth(arguments.seconds)
    if arguments.json:
        print(json.dumps({"schema": "packhand.ports/1", "ports": [asdict(p) for p in ports],
                          "bluetooth": [asdict(d) for d in devices],
                          "bluetooth_problem": problem}, indent=2))
        return 0
    print("\n".join(port.words for port in ports) or NOTHING.format(where_seen=where_seen()))
    if arguments.seconds > 0:
        print(problem or "\n".join(device.words for device in devices) or NO_BLUETOOTH)
    print(HINT)
    return 0


def bluetooth(seconds: float) -> tuple[list[BleDevice], str]:
    """Bluetooth LE devices heard, or why none can be."""
    from ..errors import SourceUnavailable

    if seconds <= 0:
        return [], ""
    from ..sources.ble_peripheral import scan_ble

    try:
        return scan_ble(seconds), ""
    except SourceUnavailable as error:
        return [], str(error)
