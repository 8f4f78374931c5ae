"""Every path, in the order in which a person meets them."""

from __future__ import annotations

from typing import Final

from .card import CheckPath
from .fitting import FITTING, POWER_UP, STUCK
from .proving import BASELINE, FIRST_FULL, GAUGE, LAY_UP, SPRING

PATHS: Final = (STUCK, FITTING, POWER_UP, GAUGE, FIRST_FULL, BASELINE, LAY_UP, SPRING)


def path_of(key: str) -> CheckPath | None:
    """The path of that key, ``None`` if there is none."""
    return next((path for path in PATHS if path.key == key), None)
