"""Single keys from the terminal, without waiting for a whole line.

Ctrl-C stays what it is. The terminal is as it was afterwards, however the command ends; a command
in the background, or one without a terminal, hears no keys and is never stopped for wanting them.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

#: Gives the key pressed within so many seconds, empty if none was.
ReadKey = Callable[[float], str]


def no_key(timeout_s: float) -> str:
    """Where there is no keyboard."""
    time.sleep(timeout_s)
    return ""


if sys.platform == "win32":
    import msvcrt

    @contextmanager
    def keyboard() -> Iterator[ReadKey | None]:
        """Reads keys, or ``None`` where there is no terminal to read them from."""
        yield _read_key if sys.stdin is not None and sys.stdin.isatty() else None

    def _read_key(timeout_s: float) -> str:
        end_s = time.monotonic() + timeout_s
        while not msvcrt.kbhit():
            if time.monotonic() >= end_s:
                return ""
            time.sleep(0.02)
        return msvcrt.getwch()
else:
    import os
    import select
    import termios

    @contextmanager
    def keyboard() -> Iterator[ReadKey | None]:
        """Reads keys, or ``None`` where there is no terminal to read them from."""
        if sys.stdin is None or not sys.stdin.isatty() or not _is_ours(sys.stdin.fileno()):
            yield None
            return
        terminal = sys.stdin.fileno()
        before = termios.tcgetattr(terminal)
        keywise = termios.tcgetattr(terminal)
        keywise[3] &= ~(termios.ICANON | termios.ECHO)  # ISIG stays: Ctrl-C is a signal
        termios.tcsetattr(terminal, termios.TCSADRAIN, keywise)
        try:
            yield lambda timeout_s: _read_key(terminal, timeout_s)
        finally:
            with suppress(OSError, termios.error):  # the terminal may have gone
                if _is_ours(terminal):
                    termios.tcsetattr(terminal, termios.TCSADRAIN, before)

    def _read_key(terminal: int, timeout_s: float) -> str:
        try:
            ready, _, _ = select.select([terminal], [], [], timeout_s)
            if ready and _is_ours(terminal):
                if key := os.read(terminal, 1):
                    return key.decode("ascii", "replace")
                time.sleep(timeout_s)  # the other end is closed, and select would return at once
        except OSError:
            time.sleep(timeout_s)
        return ""

    def _is_ours(terminal: int) -> bool:
        """Whether this command is in the foreground; the system stops others that ask for keys."""
        try:
            return os.tcgetpgrp(terminal) == os.getpgrp()
        except OSError:
            return False
