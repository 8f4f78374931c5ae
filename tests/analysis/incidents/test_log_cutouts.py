"""Cut-outs kept for a whole logbook: the same as of the log, and they survive being kept."""

from __future__ import annotations

from datetime import date

import pytest

from analysis.incidents.cutout import find_cut_outs
from analysis.incidents.log_cutouts import LogCutOuts, cut_outs_digest
from analysis.limits import Limits
from analysis.load import telemetry_from_table
from analysis.one_log.sign import apply_sign, find_sign
from analysis.stored import as_plain, from_plain
from analysis.telemetry import Telemetry
from collector.simulator.season import live_season
from collector.simulator.workday import season_days


@pytest.fixture(scope="module")
def kerb() -> Telemetry:
    """16 April of the invented season: the wheel against the kerb."""
    days = [day for day in season_days(1) if day.date <= date(2026, 4, 16)]
    *_, last = live_season(days, 1)
    raw = telemetry_from_table(last[0].table, {}, "kerb")
    return apply_sign(raw, find_sign(raw))


def test_too_many_amps_need_the_typed_limit(kerb: Telemetry) -> None:
    """Without limits nobody knows that 212 A were too many; with them one cut-out stands."""
    assert cut_outs_digest(kerb).found == ()
    assert [c.cause for c in find_cut_outs(kerb, Limits(peak_a=200, peak_s=10))] == [
        "over_current"]


def test_a_kept_cut_out_comes_back(kerb: Telemetry) -> None:
    """Through plain JSON and back it is the same."""
    kept = LogCutOuts(tuple(find_cut_outs(kerb, Limits(peak_a=200, peak_s=10))))

    assert from_plain(LogCutOuts, as_plain(kept)) == kept
