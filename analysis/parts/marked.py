"""Volts that the labels of parts allow, to be held against the volts that the pack has."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from .breaker import Breaker
from .coil import OVER_SHARE, Coil
from .converter import Converter
from .fuse import Fuse
from .listing import Part


@dataclass(frozen=True, slots=True)
class Marked:
    """What a part allows on the pack's circuit; ``low_v`` is 0 where it needs none."""

    name: str
    low_v: float
    high_v: float


def marked_volts(parts: Iterable[Part]) -> tuple[Marked, ...]:
    """Of every part on the pack's own volts whose label says how many it stands. [V]"""
    return tuple(found for part in parts if (found := _marked(part)))


def _marked(part: Part) -> Marked | None:
    if isinstance(part, Breaker | Fuse) and part.marked_v_dc and part.circuit_v is None:
        return Marked(part.name, 0.0, part.marked_v_dc)
    if isinstance(part, Coil):
        return Marked(part.name, part.pull_in_v or 0.0, part.max_v or OVER_SHARE * part.marked_v)
    if isinstance(part, Converter):
        return Marked(part.name, part.input_min_v, part.input_max_v)
    return None
