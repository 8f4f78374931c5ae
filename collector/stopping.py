"""Asking a long-running command to end: Ctrl-C, the system, or a time."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

#: Ctrl-C, a request to end, a closed terminal (not on Windows), Ctrl-Break (only there).
_NAMES: Final = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")


@contextmanager
def stopping(seconds: float | None = None) -> Iterator[threading.Event]:
    """An event that is set when the command should end; call it in the main thread.

    Parameters
    ----------
    seconds
        Set it after so long by itself. [s]
    """
    stop = threading.Event()
    kinds = [getattr(signal, name) for name in _NAMES if hasattr(signal, name)]
    before = {kind: signal.signal(kind, lambda *_: stop.set()) for kind in kinds}
    timer = threading.Timer(seconds, stop.set) if seconds is not None else None
    if timer:
        timer.daemon = True
        timer.start()
    try:
        yield stop
    finally:
        for kind, handler in before.items():
            signal.signal(kind, handler)
        if timer:
            timer.cancel()
