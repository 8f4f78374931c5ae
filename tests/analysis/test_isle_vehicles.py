"""The invented carrier and punt: the full morning is told, nothing else is cried out, and a boat
that logs no distance is told hours."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import lru_cache

import numpy as np
import pytest

from analysis.ahead.range_answer import PARTS_NEEDED as RANGE_PARTS
from analysis.ahead.range_answer import Wish, find_range
from analysis.cells.summary import CELL_PARTS, find_cells
from analysis.digest import LogDigest, digest_log
from analysis.drive.summary import summarise
from analysis.estimate import Estimate, NoEstimate
from analysis.limits import Limits
from analysis.season.fills import FILL_PARTS, find_fills
from analysis.season.summary import PARTS_NEEDED, find_season
from analysis.telemetry import Telemetry
from collector.simulator import carrier, punt
from tests.analysis.lived_season import SEEDS, loaded

LIMITS = Limits(continuous_a=110, peak_a=180, peak_s=10, cell_high_v=3.6, cell_low_v=2.7,
                charge_min_c=0)
PARTS = tuple(dict.fromkeys([*PARTS_NEEDED, *CELL_PARTS, *RANGE_PARTS, *FILL_PARTS]))
#: True of every display that counts, and asked of every logbook without labels.
ALWAYS = {"circular_percent", "limits_untyped"}


@lru_cache(maxsize=2)
def logs_of(vehicle: str, seed: int) -> list[Telemetry]:
    days = {"carrier": carrier.live_days, "punt": punt.live_days}[vehicle](seed)
    return [loaded(log) for logs in days for log in logs]


def digests(vehicle: str, seed: int) -> list[LogDigest]:
    return [digest_log(log, convention="negative_is_discharge", parts=PARTS)
            for log in logs_of(vehicle, seed)]


@pytest.mark.slow
@pytest.mark.parametrize("seed", SEEDS)
def test_braking_into_the_full_pack_is_told_once(seed: int) -> None:
    """10 September: the board opened the charge path; leave headroom. No other drive of the two
    weeks is told anything."""
    told = {(f"{log.start:%m-%d}", f.kind, f.verdict) for log in logs_of("carrier", seed)
            for f in summarise(log, limits=LIMITS).findings}
    (morning,) = [log for log in logs_of("carrier", seed)
                  if log.start.date() == carrier.FULL_DAY and log.start.hour == 7]
    (found,) = [f for f in summarise(morning, limits=LIMITS).findings if f.verdict == "yes"]

    assert {one for one in told if one[2] == "yes"} == {
        ("09-10", "regeneration_into_full", "yes")}
    assert "leave headroom" in found.next
    assert isinstance(found.size, Estimate)
    assert 25 < found.size.value < 40


def test_the_carrier_is_told_one_thing_of_headroom_and_of_filling() -> None:
    """The season and the fills give the same advice; that charges were logged is not denied."""
    logbook = digests("carrier", 1)
    season, filled = find_season(logbook), find_fills(logbook)
    (braked,) = [f for f in season.findings if f.kind == "regeneration_into_full"]

    assert filled.next == braked.next
    assert isinstance(season.efficiency.charge_pct, NoEstimate)
    assert season.efficiency.charge_pct.reason.startswith("no charge lies between two moments")


@pytest.mark.slow
@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("vehicle", ["carrier", "punt"])
def test_nothing_is_cried_out_over_the_weeks(vehicle: str, seed: int) -> None:
    """Neither a cell nor a drain nor a brake; the carrier's one full morning is told."""
    logbook = digests(vehicle, seed)
    season = find_season(logbook, limits=LIMITS)
    told = [f for f in season.findings if f.kind not in ALWAYS]

    assert [(f.kind, datetime.fromtimestamp(f.start_s, UTC).date()) for f in told] == (
        [("regeneration_into_full", carrier.FULL_DAY)] if vehicle == "carrier" else [])
    assert find_cells(logbook).findings == ()


def test_the_boats_capacity_from_its_one_run_to_empty() -> None:
    """The long day of June, and the charge behind it, hold what its smallest cell holds."""
    boat = punt.boat_on(punt.FIRST, 1)
    held_ah = float(boat.traits.capacity_ah.min())
    season = find_season(digests("punt", 1), rated_ah=punt.RATED_AH)

    assert [c.span.method for c in season.capacity] == ["full to empty", "refill"]
    for capacity in season.capacity:
        assert isinstance(capacity.ah, Estimate)
        assert capacity.ah.low < held_ah < capacity.ah.high


def test_a_boat_without_distance_is_told_hours() -> None:
    """Hours and drives left have intervals; distance has a reason; nothing is divided by a way."""
    answer = find_range(digests("punt", 1), (), Wish(), {})
    season = find_season(digests("punt", 1), rated_ah=punt.RATED_AH)

    assert isinstance(answer.hours.left, Estimate)
    assert isinstance(answer.drives.left, Estimate)
    assert isinstance(answer.km.left, NoEstimate)
    assert np.isnan(season.ledger.distance_m)
    assert np.isnan(season.years[0].wh_per_km)
    assert season.years[0].used_h > 40
