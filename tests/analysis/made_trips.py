"""Invented drives over two ways, as digests, and seasons of the simulator without files."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from functools import lru_cache

import numpy as np

from analysis.digest import LogDigest, digest_log
from analysis.load import telemetry_from_table
from analysis.telemetry import Floats, Telemetry
from collector.simulator.season import live_season
from collector.simulator.workday import FIRST, season_days

PARTS = ("use", "trips", "zero", "anchors", "bands")
MORNING = datetime(2026, 5, 4, 8, tzinfo=UTC)
#: Speed along two ways, a figure each second. [m/s]
UP = np.concatenate([np.linspace(0, 2, 10), np.full(150, 2.0), np.full(100, 4.0), [0.0]])
DOWN = np.concatenate([np.linspace(0, 4, 10), np.full(200, 4.0), np.full(40, 1.0), [0.0]])


def trip_log(ways: list[tuple[Floats, float]], start: datetime = MORNING, *, pause_s: int = 120,
             celsius: float = 18.0, with_speed: bool = True, zero_a: float = 0.0) -> Telemetry:
    """Ways driven one after the other with pauses; each with its Wh per km. ``zero_a`` is what the
    amps are off by."""
    still = np.zeros(pause_s)
    speed = np.concatenate([still, *(part for way, _ in ways for part in (way, still))])
    rate = np.concatenate([still, *(np.concatenate([np.full(len(way), wh), still])
                                    for way, wh in ways)])
    volts = np.full(len(speed), 52.0)
    columns = {"current_a": zero_a - rate * speed * 3.6 / 52.0, "voltage_v": volts,
               "temp_1_c": np.full(len(speed), celsius)}
    if with_speed:
        columns["speed_m_s"] = speed
    return Telemetry(start, np.arange(len(speed), dtype=float), columns, meta={"kind": "drive"})


def trip_digest(ways: list[tuple[Floats, float]], day: int = 0, *, celsius: float = 18.0,
                with_speed: bool = True, zero_a: float = 0.0) -> LogDigest:
    """The digest of such a log, so many days after the first."""
    telemetry = trip_log(ways, MORNING + timedelta(days=day), celsius=celsius,
                         with_speed=with_speed, zero_a=zero_a)
    return digest_log(telemetry, f"day {day}", convention="negative_is_discharge", parts=PARTS)


#: Spans of season one that the tests live through: the first month with the cut-out; the weeks
#: around the new controller; the piano; the head wind.
SPRING = (FIRST, date(2026, 4, 30))
CONTROLLER = (date(2026, 5, 18), date(2026, 7, 4))
PIANO = (date(2026, 7, 10), date(2026, 7, 24))
HEAD_WIND = (date(2026, 9, 1), date(2026, 9, 10))
SEEDS = (1, 2, 3, 4, 5)


@lru_cache(maxsize=20)
def lived(seed: int, days: tuple[date, date]) -> tuple[LogDigest, ...]:
    """Digests of some days of the simulator's season one, the pack as new on the first."""
    digests = []
    for logs in live_season(season_days(seed, *days), seed):
        for log in logs:
            telemetry = telemetry_from_table(log.table, {"kind": log.kind}, "season")
            digests.append(digest_log(telemetry, log.start.isoformat(), parts=PARTS,
                                      convention="negative_is_discharge"))
    return tuple(digests)
