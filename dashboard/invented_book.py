"""The invented season as a logbook: built once, whole or not at all."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

from collector.logbook import Logbook
from collector.simulator.season import build_season
from collector.simulator.typed import type_in


def build_once(root: Path, seed: int, days: int | None,
               progress: Callable[[int, int], None]) -> None:
    """The invented season in ``root``, unless it is there; half a season never is.

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
    build_season(part, seed=seed, days=None if days is None else slice(days), progress=progress)
    type_in(part)
    part.replace(root)
