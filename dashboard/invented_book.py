"""A vehicle of Quillet Isle as a logbook: built once, whole or not at all."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Final

from collector.logbook import Logbook
from collector.simulator.isle_books import ISLE_BOOKS, Progress

#: Each vehicle and what it is, in plain words; the first is the one whose monitor is played live.
VEHICLES: Final = {name: book.words for name, book in ISLE_BOOKS.items()}
FLATBED: Final = next(iter(VEHICLES))


def build_once(root: Path, seed: int, days: int | None, progress: Progress,
               vehicle: str = FLATBED) -> None:
    """A vehicle's logbook in ``root``, unless it is there; half of one never is.

    Raises
    ------
    LogbookError
        If ``root`` holds something else.
    """
    if root.exists():
        Logbook.open(root)
        return
    part = root.with_name(root.name + ".part")
    shutil.rmtree(part, ignore_errors=True)
    ISLE_BOOKS[vehicle].build(part, seed, days, progress)
    part.replace(root)


def beside(root: Path, vehicle: str) -> Path:
    """The folder for a vehicle's logbook, of which ``root`` is the flatbed's."""
    return root if vehicle == FLATBED else root.with_name(f"{root.name}-{vehicle}")
