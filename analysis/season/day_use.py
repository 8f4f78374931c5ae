"""What was used day by day: amp-hours out, and how far."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from ..digest import LogDigest
from ..one_log.use import LogUse
from ..phrases import iso_utc
from .ledger import DAY_S

#: Kinds of log that use the pack; what a charge or a rest shows as out is noise.
_USES: Final = ("drive", "test")


@dataclass(frozen=True, slots=True)
class DayUse:
    """One calendar day (UTC) with a drive or a test."""

    #: Its midnight. [Unix s]
    day_s: float
    out_ah: float
    #: NaN where no log of the day tells. [m]
    distance_m: float

    def as_json(self) -> dict[str, Any]:
        far = self.distance_m
        return {"day": iso_utc(self.day_s)[:10], "out_ah": round(self.out_ah, 2),
                "distance_m": round(far) if math.isfinite(far) else None}


def use_by_day(digests: Sequence[LogDigest]) -> tuple[DayUse, ...]:
    """Every day with a drive or a test, oldest first; a log counts for the day it began on.

    ``digests`` are of one pack, with the part ``use``; logs whose amps nobody knows are left out.
    """
    days: dict[float, list[LogUse]] = {}
    for digest in digests:
        use = digest.of(LogUse)
        if use.kind in _USES:
            days.setdefault(digest.start_s // DAY_S * DAY_S, []).append(use)
    return tuple(DayUse(day, sum(use.out_ah for use in uses), _sum_known(uses))
                 for day, uses in sorted(days.items()))


def _sum_known(uses: Sequence[LogUse]) -> float:
    known = [use.distance_m for use in uses if math.isfinite(use.distance_m)]
    return sum(known) if known else math.nan
