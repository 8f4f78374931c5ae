"""The rehearsal: an invented logbook in a folder of its own, served at an address of its own.

Invented data never mix with a person's own: the rehearsal lies in another folder, and its pages
are another server's.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

from collector.errors import PackhandError

from ..invented_book import FLATBED, build_once

#: The seed that everybody rehearses with.
SEED = 1


class SecondBook:
    """Built once, in the background, then served until the program ends."""

    def __init__(self, root: Path, vehicle: str = FLATBED) -> None:
        self._root = root
        self.vehicle = vehicle
        #: Serves a logbook's pages until the program ends, and tells where; the application's.
        self.serve: Callable[[Path], str] = _nowhere
        self._thread: threading.Thread | None = None
        self._done = (0, 0)
        self.problem = ""
        self.address = ""

    def begin(self) -> None:
        """Build and serve it, unless that is done or under way."""
        if not self.address and not self.is_busy:
            self.problem = ""
            self._thread = threading.Thread(target=self._open, daemon=True)
            self._thread.start()

    @property
    def is_busy(self) -> bool:
        """Whether it is being built or opened."""
        return self._thread is not None and self._thread.is_alive()

    @property
    def words(self) -> str:
        """How far it is."""
        done, days = self._done
        if self.address:
            return f"The {self.vehicle}'s rehearsal is open, beside your own logbook."
        if self.problem:
            return self.problem
        if self._thread is None:
            return ""
        told = f"day {done} of {days}" if days else "opening it"
        return f"The {self.vehicle}'s invented logbook: {told}."

    def _open(self) -> None:
        try:
            build_once(self._root, SEED, None, self._progress, self.vehicle)
            self.address = self.serve(self._root)
        except (PackhandError, OSError) as error:
            self.problem = str(error)

    def _progress(self, done: int, days: int) -> None:
        self._done = done, days


def _nowhere(_: Path) -> str:
    raise PackhandError("rehearsal", "no pages are served here", "start 'packhand demo'")
