"""What board and breaker allow, as their labels say; typed once in the logbook."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any, Self


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits of board and breaker; NaN where nobody typed one. Amps as magnitudes."""

    #: Amps out of the pack.
    continuous_a: float = math.nan
    peak_a: float = math.nan
    #: Amps above the peak for longer than this open the path. [s]
    peak_s: float = math.nan
    #: Amps into the pack.
    charge_a: float = math.nan
    charge_peak_a: float = math.nan
    cell_high_v: float = math.nan
    cell_low_v: float = math.nan
    #: No charging below this. [degC]
    charge_min_c: float = math.nan
    #: What the board bleeds from one cell. [A]
    bleed_a: float = math.nan
    #: Rating of the thermal breaker between pack and controller, its volts for DC, and the heat of
    #: its place on a hot day. [A, V, degC]
    breaker_a: float = math.nan
    breaker_v: float = math.nan
    breaker_c: float = math.nan

    @classmethod
    def typed(cls, table: Mapping[str, Any]) -> Self:
        """From a table of figures; other keys, and what is no figure, are left alone."""
        known = {f.name for f in fields(cls)}
        return cls(**{name: float(value) for name, value in table.items() if name in known
                      and isinstance(value, int | float) and not isinstance(value, bool)})
