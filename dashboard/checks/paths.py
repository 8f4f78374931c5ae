"""Every path, in the order in which a person meets them."""

from __future__ import annotations

from typing import Final

from .card import CheckPath
from .fitting import FITTING, POWER_UP, STUCK
from .otherwise import told_of
from .proving import BASELINE, FIRST_FULL, GAUGE, LAY_UP, SPRING

#: As they are told of a vehicle on wheels.
PATHS: Final = (STUCK, FITTING, POWER_UP, GAUGE, FIRST_FULL, BASELINE, LAY_UP, SPRING)


def paths_of(kind: str) -> tuple[CheckPath, ...]:
    """Every path in the words for a kind of vehicle, one of ``VEHICLE_KINDS``."""
    return tuple(told_of(path, kind) for path in PATHS)


def path_of(key: str, kind: str) -> CheckPath | None:
    """The path of that key, ``None`` if there is none."""
    return next((path for path in paths_of(kind) if path.key == key), None)
