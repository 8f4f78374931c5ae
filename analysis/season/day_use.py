"""What was used day by day and year by year: from logs, else from what a person read off a display.

A day that has a log with use counts by its logs: measured goes before typed, and nothing counts
twice.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any, Final

from ..digest import LogDigest
from ..local_days import local, midnight_of, zone_named
from ..one_log.use import LogUse

DAY_S: Final = 86400.0
#: Kinds of log that use the pack; what a charge or a rest shows as out is noise.
USES: Final = ("drive", "test")


@dataclass(frozen=True, slots=True)
class ToldDay:
    """One calendar day as somebody read it off the display. NaN where nothing was read."""

    #: See ``day_of``.
    day_s: float
    out_ah: float = math.nan
    out_wh: float = math.nan
    distance_m: float = math.nan
    used_h: float = math.nan
    high_pct: float = math.nan

    @property
    def is_full(self) -> bool:
        """Whether the display came to 100 %."""
        return self.high_pct >= 100


@dataclass(frozen=True, slots=True)
class DayUse:
    """One calendar day with use. NaN where nothing tells."""

    #: See ``day_of``.
    day_s: float
    out_ah: float
    distance_m: float
    #: Energy out, less what came back while driving, over the part of the day whose way is known.
    wh_on_way: float = math.nan
    #: How long it was in use; of a log all that was recorded.
    used_h: float = math.nan
    is_typed: bool = False

    def as_json(self) -> dict[str, Any]:
        far = self.distance_m
        return {"day": local(self.day_s).date().isoformat(),
                "out_ah": round(self.out_ah, 2) if math.isfinite(self.out_ah) else None,
                "distance_m": round(far) if math.isfinite(far) else None,
                "used_h": round(self.used_h, 2) if math.isfinite(self.used_h) else None,
                "badge": "typed" if self.is_typed else "worked out"}


@dataclass(frozen=True, slots=True)
class YearUse:
    """One calendar year. NaN where nothing tells."""

    year: int
    days: int
    #: Of these known from what was typed alone.
    typed_days: int
    out_ah: float
    distance_m: float
    used_h: float
    #: Of the days that tell both.
    wh_per_km: float
    #: Amp-hours out over the rating; NaN if that is not known.
    full_cycles: float

    def as_json(self) -> dict[str, Any]:
        plain = {"out_ah": self.out_ah, "distance_m": self.distance_m,
                 "used_h": self.used_h, "wh_per_km": self.wh_per_km,
                 "full_cycles": self.full_cycles}
        return {"year": self.year, "days": self.days, "typed_days": self.typed_days} | {
            name: round(value, 2) if math.isfinite(value) else None
            for name, value in plain.items()}


def day_of(unix_s: float, time_zone: str) -> float:
    """The calendar day of a moment where it was lived, as that date's midnight where days are
    told. [s, Unix time]"""
    return midnight_of(datetime.fromtimestamp(unix_s, zone_named(time_zone)).date())


def use_by_day(digests: Sequence[LogDigest], told: Iterable[ToldDay] = ()) -> tuple[DayUse, ...]:
    """Every day with use, oldest first; a log counts for the day it began on, where it was.

    ``digests`` are of one pack, with the part ``use``; logs whose amps nobody knows are left out.
    """
    logged: dict[float, list[LogUse]] = {}
    for digest in digests:
        use = digest.of(LogUse)
        if use.kind in USES:
            day_s = day_of(digest.start_s, digest.head.time_zone)
            logged.setdefault(day_s, []).append(use)
    days = {day.day_s: DayUse(day.day_s, day.out_ah, day.distance_m, day.out_wh, day.used_h,
                                  is_typed=True)
            for day in told if math.isfinite(day.out_ah) or math.isfinite(day.distance_m)}
    days |= {day_s: _logged(day_s, uses) for day_s, uses in logged.items()}
    return tuple(days[day_s] for day_s in sorted(days))


def _logged(day_s: float, uses: Sequence[LogUse]) -> DayUse:
    on_way = [use for use in uses if math.isfinite(use.distance_m)]
    return DayUse(day_s, sum_known(use.out_ah for use in uses),
                  sum_known(use.distance_m for use in on_way),
                  sum_known(use.out_wh - use.into_wh for use in on_way),
                  sum(use.observed_s for use in uses) / 3600)


def use_by_year(days: Sequence[DayUse], rated_ah: float | None) -> tuple[YearUse, ...]:
    """The years of these days, oldest first."""
    return tuple(_year(year, list(of_year), rated_ah) for year, of_year in groupby(
        days, lambda day: local(day.day_s).year))


def _year(year: int, days: Sequence[DayUse], rated_ah: float | None) -> YearUse:
    out_ah = sum_known(day.out_ah for day in days)
    both = [day for day in days if math.isfinite(day.wh_on_way) and day.distance_m > 0]
    way_km = sum(day.distance_m for day in both) / 1000
    return YearUse(year, len(days), sum(day.is_typed for day in days), out_ah,
                   sum_known(day.distance_m for day in days),
                   sum_known(day.used_h for day in days),
                   sum(day.wh_on_way for day in both) / way_km if both else math.nan,
                   out_ah / rated_ah if rated_ah else math.nan)


def sum_known(figures: Iterable[float]) -> float:
    """The sum of those that are known; NaN if none is."""
    known = [figure for figure in figures if math.isfinite(figure)]
    return math.fsum(known) if known else math.nan
