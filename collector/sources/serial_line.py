"""A byte stream over a serial port, or over a network address such as ``socket://host:port``.

The only module that opens serial ports.
"""

from __future__ import annotations

import os
import socket
import sys
import time
from contextlib import suppress
from typing import TYPE_CHECKING, Final

import serial

from ..errors import LinkLost, SourceUnavailable
from .serial_trouble import explained, reason, system_number

if TYPE_CHECKING:
    from ..monitors.schema import Transport

#: What pyserial lets through when a device goes away; ``SerialException`` is an ``OSError``.
if sys.platform == "win32":
    _FAILURES: Final = (OSError,)
else:
    import termios

    _FAILURES: Final = (OSError, termios.error)

#: Pause after the first bytes, so that a frame comes in one piece and not byte by byte. [s]
#: Chosen here: ten times what a line of 9600 baud needs for a byte, far below any frame period.
GATHER_S: Final = 0.01
#: The most that one read takes. [bytes]
READ_MAX: Final = 65_536
_PARITY: Final = {
    "none": serial.PARITY_NONE, "even": serial.PARITY_EVEN, "odd": serial.PARITY_ODD,
    "mark": serial.PARITY_MARK, "space": serial.PARITY_SPACE,
}
_WRITE_TIMEOUT_S: Final = 2.0


class SerialLink:
    """One serial port, opened for this program alone."""

    def __init__(self, port: str, transport: Transport) -> None:
        self.name = port
        self._transport = transport
        self._port: serial.Serial | None = None

    def open(self) -> None:
        """Connect; an open port is closed first.

        Raises
        ------
        SourceUnavailable
            No such port, busy, no permission, not a serial port, no answer from the address.
        """
        self.close()
        line = self._transport
        try:
            self._port = serial.serial_for_url(
                self.name, baudrate=line.baud, bytesize=line.bytesize, parity=_PARITY[line.parity],
                stopbits=line.stopbits, timeout=0, write_timeout=_WRITE_TIMEOUT_S, exclusive=True)
            if self.name.startswith("socket://"):
                _keep_alive(self._port)
        except ValueError as error:
            raise SourceUnavailable(self.name, f"not an address ({error})",
                                    "a port such as /dev/ttyUSB0 or COM3, or "
                                    "socket://host:port") from error
        except _FAILURES as error:
            raise SourceUnavailable(self.name, *explained(self.name, error)) from error

    def read(self, timeout_s: float) -> bytes:
        """The bytes that arrived, soon after the first; empty after the timeout.

        Raises
        ------
        LinkLost
            When the port went away.
        """
        port = self._opened()
        try:
            if port.timeout != timeout_s:
                port.timeout = timeout_s
            data = port.read(max(1, port.in_waiting))
        except _FAILURES as error:
            raise self._lost(error) from error
        return bytes(data) + self._waiting(port) if data else b""

    def _waiting(self, port: serial.Serial) -> bytes:
        """What follows the first bytes at once; a loss shows at the next read."""
        time.sleep(GATHER_S)
        data = b""
        with suppress(*_FAILURES):
            while len(data) < READ_MAX and (waiting := port.in_waiting):
                data += port.read(waiting)
        return data

    def write(self, data: bytes) -> None:
        """Send a request; raises ``LinkLost``."""
        try:
            self._opened().write(data)
        except _FAILURES as error:
            raise self._lost(error) from error

    def close(self) -> None:
        """Let go; never raises, may be called twice."""
        port, self._port = self._port, None
        if port is not None:
            with suppress(*_FAILURES):
                port.close()

    def _opened(self) -> serial.Serial:
        if self._port is None:
            raise LinkLost(self.name, "not open")
        return self._port

    def _lost(self, error: BaseException) -> LinkLost:
        # pyserial's own words for an end of file speak of its inner workings
        is_told = system_number(error) is not None
        return LinkLost(self.name, reason(error) if is_told
                        else "unplugged, or closed on the other side")


def _keep_alive(port: serial.Serial) -> None:
    """Let the system notice within half a minute that the other side lost its power.

    Without it a listener waits for ever on a connection that nobody closed. TCP keep-alive:
    RFC 9293, section 3.8.4.
    """
    with socket.socket(fileno=os.dup(port.fileno())) as connection:
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
        for name, value in (("TCP_KEEPIDLE", 10), ("TCP_KEEPINTVL", 5), ("TCP_KEEPCNT", 4)):
            if hasattr(socket, name):
                connection.setsockopt(socket.IPPROTO_TCP, getattr(socket, name), value)
