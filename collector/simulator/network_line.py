"""A monitor behind a serial server: its line is a TCP connection on this computer.

For systems without pseudo-terminals, and for whoever listens at ``socket://host:port``. One
listener at a time; a new one takes the place of the old.
"""

from __future__ import annotations

import select
import socket
import time
from contextlib import suppress
from typing import Final, Self

from ..errors import SourceUnavailable

#: Only this computer can listen.
HOST: Final = "127.0.0.1"
#: Longest wait for a listener that is slow to take what was sent. [s]
_SEND_S: Final = 0.2


class NetworkLine:
    """The monitor's end of the line; a listener opens ``port``.

    Parameters
    ----------
    tcp_port
        Where to wait for a listener; 0 takes any free one, and keeps it for later plugs.
    """

    def __init__(self, tcp_port: int) -> None:
        self._tcp_port = tcp_port
        self._door: socket.socket | None = None
        self._listener: socket.socket | None = None

    @property
    def port(self) -> str:
        """What to listen to."""
        return f"socket://{HOST}:{self._tcp_port}"

    @property
    def is_plugged(self) -> bool:
        return self._door is not None

    def plug(self) -> None:
        """Wait for listeners; raises ``SourceUnavailable`` if the port is taken."""
        try:
            door = socket.create_server((HOST, self._tcp_port))
        except OSError as error:
            raise SourceUnavailable(self.port, error.strerror or "taken",
                                    "choose another with --tcp, or 0 for any free one") from error
        door.setblocking(False)
        self._door, self._tcp_port = door, door.getsockname()[1]

    def unplug(self) -> None:
        """Close the line as if the cable were pulled."""
        for end in (self._listener, self._door):
            if end is not None:
                end.close()
        self._listener = self._door = None

    def write(self, data: bytes) -> bool:
        """Send bytes; false if nobody listens or takes them."""
        self._welcome()
        if self._listener is None:
            return False
        try:
            self._listener.sendall(data)
        except OSError:
            self._hang_up()
            return False
        return True

    def read(self, timeout_s: float) -> bytes:
        """What the listener sent, empty after the timeout."""
        self._welcome()
        if self._listener is None:
            time.sleep(max(0.0, timeout_s))
            return b""
        if not select.select([self._listener], [], [], max(0.0, timeout_s))[0]:
            return b""
        data = b""
        with suppress(OSError):
            data = self._listener.recv(4096)
        if not data:
            self._hang_up()
        return data

    def _welcome(self) -> None:
        """Take the newest listener that waits at the door."""
        while self._door is not None:
            try:
                newest, _ = self._door.accept()
            except BlockingIOError:
                return
            self._hang_up()
            newest.settimeout(_SEND_S)
            self._listener = newest

    def _hang_up(self) -> None:
        if self._listener is not None:
            self._listener.close()
            self._listener = None

    def __enter__(self) -> Self:
        self.plug()
        return self

    def __exit__(self, *exc_info: object) -> None:
        self.unplug()
