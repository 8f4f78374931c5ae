"""A real pseudo-terminal that a monitor speaks on, with a stable name to listen to.

The slave side stays open here, or reading would fail whenever nobody listens; raw mode is set, or
what is sent before somebody listens would come back as an echo. A pseudo-terminal has no baud
rate: the player keeps the pace.
"""

from __future__ import annotations

import os
import select
from contextlib import suppress
from pathlib import Path
from typing import Self

from ..errors import SourceUnavailable


class PseudoTerminal:
    """One end of a serial line; the other end is ``port``.

    Parameters
    ----------
    link
        Where the port is published as a symbolic link, which stays the same when the cable is
        pulled and put back. Without it, ``port`` is the system's own name and may change.
    """

    def __init__(self, link: Path | None = None) -> None:
        self.link = link
        self._master = self._slave = -1
        self._device = ""

    @property
    def port(self) -> str:
        """What to listen to."""
        return str(self.link or self._device)

    @property
    def is_plugged(self) -> bool:
        return self._master >= 0

    def plug(self) -> None:
        """Open the line and publish it.

        Raises
        ------
        SourceUnavailable
            If this system has no pseudo-terminals, or the link's place is taken or cannot be
            written.
        """
        try:
            import tty
        except ImportError:
            raise SourceUnavailable("pseudo-terminal", "not on this system",
                                    "simulate on Linux or macOS") from None
        self._master, self._slave = os.openpty()
        tty.setraw(self._slave)
        os.set_blocking(self._master, False)
        self._device = os.ttyname(self._slave)
        if self.link:
            self._publish(self.link)

    def _publish(self, link: Path) -> None:
        if link.exists() and not link.is_symlink():
            self.unplug()
            raise SourceUnavailable(str(link), "something else has this name",
                                    "choose another name with --link")
        beside = link.with_name(f"{link.name}.new")
        try:
            beside.unlink(missing_ok=True)
            beside.symlink_to(self._device)
            beside.replace(link)
        except OSError as error:
            self.unplug()
            raise SourceUnavailable(str(link), f"cannot be made ({error.strerror})",
                                    "choose another name with --link") from error

    def unplug(self) -> None:
        """Close the line as if the cable were pulled. What nobody has read yet is lost."""
        if self.is_plugged:
            if self.link and self.link.is_symlink() and str(self.link.readlink()) == self._device:
                self.link.unlink()
            os.close(self._master)
            os.close(self._slave)
            self._master = self._slave = -1

    def write(self, data: bytes) -> bool:
        """Send bytes; false if nobody has listened for so long that they do not fit."""
        while data:
            try:
                data = data[os.write(self._master, data):]
            except BlockingIOError:
                return False
        return True

    def read(self, timeout_s: float) -> bytes:
        """What the listener sent, empty after the timeout."""
        if not select.select([self._master], [], [], max(0.0, timeout_s))[0]:
            return b""
        with suppress(BlockingIOError):
            return os.read(self._master, 4096)
        return b""

    def __enter__(self) -> Self:
        self.plug()
        return self

    def __exit__(self, *exc_info: object) -> None:
        self.unplug()
