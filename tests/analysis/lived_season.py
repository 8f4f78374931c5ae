"""The invented season as digests, lived through once for each seed and never written to disk."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from functools import lru_cache

from analysis.asking.told import days_told
from analysis.cells.summary import CELL_PARTS
from analysis.digest import LogDigest, digest_log
from analysis.load import telemetry_from_table
from analysis.season.day_use import ToldDay
from analysis.season.fills import FILL_PARTS
from analysis.season.happenings import HAPPENING_PARTS
from analysis.season.summary import PARTS_NEEDED
from analysis.telemetry import Telemetry
from collector.day_figures import DAY
from collector.notes import Note
from collector.simulator.daylog import DayLog
from collector.simulator.later_years import evenings, live_later_years
from collector.simulator.season import live_season
from collector.simulator.workday import season_days

PARTS = tuple(dict.fromkeys([*CELL_PARTS, *FILL_PARTS, *HAPPENING_PARTS, *PARTS_NEEDED]))
#: Drives and charges that tests look at whole, by day and kind.
KEPT = {(date(2026, 4, 16), "drive"), (date(2026, 4, 16), "charge"), (date(2026, 5, 29), "drive"),
        (date(2026, 7, 20), ""), (date(2026, 7, 22), "drive"), (date(2026, 7, 29), "drive"),
        (date(2026, 9, 8), "drive"), (date(2026, 9, 17), "drive")}
SIGN = {"convention": "negative_is_discharge", "decided_by": "person"}
SEEDS = (1, 2, 3, 4, 5)


@dataclass(frozen=True)
class LivedSeason:
    """Digests of every log, and the whole telemetry of some, oldest first."""

    digests: list[LogDigest]
    kept: dict[tuple[date, str], list[Telemetry]]


@lru_cache(maxsize=len(SEEDS))
def lived_season(seed: int) -> LivedSeason:
    """About half a minute of computing for each seed."""
    digests: list[LogDigest] = []
    kept: dict[tuple[date, str], list[Telemetry]] = {}
    for day in live_season(season_days(seed), seed):
        for log in day:
            telemetry = loaded(log)
            digests.append(digested(telemetry))
            key = (log.start.date(), log.kind)
            if key in KEPT:
                kept.setdefault(key, []).append(telemetry)
    return LivedSeason(sorted(digests, key=lambda d: d.start_s), kept)


@lru_cache(maxsize=len(SEEDS))
def lived_years(seed: int) -> tuple[list[LogDigest], list[ToldDay]]:
    """All three seasons: digests of every log, and the days that were typed, oldest first."""
    later = [digested(loaded(log)) for day in live_later_years(seed) for log in day]
    typed = [Note(round(datetime.combine(e.day, time(19), UTC).timestamp() * 1000), DAY,
                  text=e.words) for e in evenings(seed)]
    return lived_season(seed).digests + later, list(days_told(typed, "", "UTC").answer)


def loaded(log: DayLog) -> Telemetry:
    return telemetry_from_table(log.table, {"kind": log.kind, "sign": SIGN}, log.kind)


def digested(telemetry: Telemetry) -> LogDigest:
    return digest_log(telemetry, convention="negative_is_discharge", parts=PARTS)
