"""What ``logbook.toml`` says now, for those that were given it once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from typing import Any

from collector.errors import LogbookError
from collector.logbook import Logbook
from collector.logbook_figures import edition_of


class FreshConfig(Mapping[str, Any]):
    """The tables of ``logbook.toml``, read again when it has changed.

    While it cannot be read, it says what it said last: the pages that ask it anew tell why.
    """

    def __init__(self, logbook: Logbook) -> None:
        self._logbook = logbook
        # The tables go with their edition in one step, whichever thread reads them.
        self._known = edition_of(logbook), logbook.config()

    def __getitem__(self, key: str) -> Any:
        return self._tables()[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._tables())

    def __len__(self) -> int:
        return len(self._tables())

    def _tables(self) -> dict[str, Any]:
        edition = edition_of(self._logbook)
        if edition != self._known[0]:
            with suppress(LogbookError):
                self._known = edition, self._logbook.config()
        return self._known[1]
