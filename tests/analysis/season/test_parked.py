"""What parking costs, and the date a laid-up pack runs low."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from analysis.digest import LogDigest, digest_log
from analysis.estimate import Estimate, NoEstimate
from analysis.season.parked import PARKED_PARTS, find_parked, full_to_full, lay_up
from analysis.telemetry import Telemetry
from tests.analysis.made_logs import START, log

SIGN = {"sign": {"convention": "negative_is_discharge", "decided_by": "person"}}


def at(day: float, telemetry: Telemetry) -> Telemetry:
    return Telemetry(START + timedelta(days=day), telemetry.elapsed_s, telemetry.columns,
                     telemetry.events, SIGN)


def drive(zero_a: float, drain_a: float) -> Telemetry:
    """An hour at 20 A after two minutes of rest, amps with a zero error and a dead band."""
    amps = np.where(np.arange(3720) < 120, 0.0, -20.0) - drain_a + zero_a
    return log(np.arange(3720.0), current_a=shown(amps), voltage_v=np.full(3720, 52.0))


def charge(back_ah: float, zero_a: float, drain_a: float) -> Telemetry:
    """What was lost goes back in at 25 A and a tail, then ten minutes of rest."""
    steady = int((back_ah - 1.0) / 25 * 3600)
    tail = np.geomspace(25, 3, 600)
    tail *= 3600 / tail.sum()
    amps = np.concatenate([np.full(steady, 25.0), tail, np.full(600, -drain_a)]) + zero_a
    volts = np.concatenate([np.linspace(53.5, 55.2, steady), np.full(600, 55.2),
                            np.full(600, 54.6)])
    return log(np.arange(float(len(amps))), current_a=shown(amps), voltage_v=volts,
               cell_01_v=volts / 16, cell_02_v=volts / 16)


def shown(amps: np.ndarray) -> np.ndarray:
    """Tenths of an amp, nothing below 0.2."""
    return np.round(np.where(np.abs(amps) < 0.2, 0.0, amps), 1)


def season(drains: list[float], zero_a: float = 0.0) -> list[LogDigest]:
    """A drive each morning and a full charge each evening."""
    found = []
    for day, drain_a in enumerate(drains):
        # The charger carries the drain while it is on.
        lost = 20.0 + drain_a * (24 - (20.0 + drain_a * 24) / 25)
        for hour, telemetry in ((0.0, drive(zero_a, drain_a)),
                                (9.0, charge(lost, zero_a, drain_a))):
            found.append(digest_log(at(day + hour / 24, telemetry), parts=PARKED_PARTS,
                                    convention="negative_is_discharge"))
    return found


@pytest.mark.parametrize("zero_a", [0.0, 0.4])
def test_a_drain_between_full_charges_is_found(zero_a: float) -> None:
    """0.31 A on eight days of twenty; also where a zero error hides it from the display."""
    drains = [0.02] * 8 + [0.31] * 8 + [0.02] * 6
    parked = find_parked(season(drains, zero_a))

    assert len(parked.episodes) == 1
    size = parked.episodes[0].size
    assert isinstance(size, Estimate)
    assert size.value == pytest.approx(0.31, abs=0.05)
    assert ("shows 0.0 A" in parked.episodes[0].words) == (zero_a == 0.4)
    assert isinstance(parked.usual_a, Estimate)
    assert parked.usual_a.value < 0.08


def test_an_even_season_has_no_episode() -> None:
    """A small drain on all days is the usual, and told as such."""
    parked = find_parked(season([0.05] * 14))

    assert parked.episodes == ()
    assert isinstance(parked.usual_a, Estimate)
    assert parked.usual_a.low < 0.05 < parked.usual_a.high + 0.02


def test_without_full_charges_nothing_is_told() -> None:
    """Partial charges are no anchors."""
    drives = [digest_log(at(day, drive(0.0, 0.0)), parts=PARKED_PARTS,
                         convention="negative_is_discharge") for day in range(5)]

    assert full_to_full(drives, 100.0) == []
    assert isinstance(find_parked(drives).usual_a, NoEstimate)


def test_lay_up_at_55_percent_and_18_ma() -> None:
    """(55 - 20) % of 101.9 Ah at 18 mA last 83 days: from 27 October to 17 January."""
    drain = Estimate(0.018, 0.016, 0.020, "A")
    found = lay_up(55, drain, 101.9, datetime(2026, 10, 27, tzinfo=UTC))

    assert isinstance(found.days, Estimate)
    assert found.days.value == pytest.approx(0.35 * 101.9 / 0.018 / 24)
    assert found.date is not None
    assert found.date.date().isoformat() == "2027-01-17"
    assert (found.days.low, found.days.high) == pytest.approx((74.3, 92.9), abs=0.1)


@pytest.mark.parametrize(("amps", "days"), [(0.31, 5.6), (0.018, 97.0)])
def test_worked_example_from_55_to_15_percent(amps: float, days: float) -> None:
    """0.31 A takes a 105 Ah pack from 55 to 15 % in 6 days, 18 mA in 97 (arithmetic)."""
    found = lay_up(55, Estimate(amps, amps, amps, "A"), 105, datetime(2026, 10, 27, tzinfo=UTC), 15)

    assert isinstance(found.days, Estimate)
    assert found.days.value == pytest.approx(days, abs=0.3)


def test_a_low_or_a_lossless_pack_has_no_date() -> None:
    """Below the mark it is charged first; without a drain nobody can tell."""
    start = datetime(2026, 10, 27, tzinfo=UTC)
    low = lay_up(15, Estimate(0.018, 0.016, 0.02, "A"), 100, start)
    lossless = lay_up(55, Estimate(0.0, 0.0, 0.0, "A"), 100, start)

    assert "charge it first" in low.words
    assert lossless.date is None
    assert "clamp" in lossless.words
