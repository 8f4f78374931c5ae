"""What if it climbs, or goes at another speed."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.ahead.range_ahead import Ahead, Backtest
from analysis.ahead.speed_bands import LogBands, bands_digest
from analysis.ahead.what_if import (
    after_climb,
    at_pace,
    climb_energy_wh,
    hours_at,
    pace_cost,
)
from analysis.estimate import Estimate, NoEstimate
from tests.analysis.made_logs import log

NOTHING = NoEstimate("no percent", "log it")


def drive(*parts: tuple[float, float], seconds: int = 200) -> LogBands:
    """A drive at some speeds one after the other, each with its Wh per km."""
    speed = np.concatenate([np.full(seconds, kmh) for kmh, _ in parts])
    rate = np.concatenate([np.full(seconds, wh_per_km) for _, wh_per_km in parts])
    return bands_digest(log(np.arange(float(len(speed))), current_a=-rate * speed / 50.0,
                            voltage_v=np.full(len(speed), 50.0), speed_m_s=speed / 3.6))


def test_a_climb_takes_the_work_of_lifting() -> None:
    """3600 kg lifted by 100 m are 980.665 Wh (m g h with g = 9.80665 m/s2, CGPM 1901)."""
    taken = climb_energy_wh(100.0, 3600.0)

    assert isinstance(taken, Estimate)
    assert taken.value * 0.7 == pytest.approx(980.665)
    assert (taken.low, taken.high) == pytest.approx((980.665 / 0.9, 980.665 / 0.5))


def test_a_climb_without_a_mass_asks_for_it() -> None:
    """Nobody guesses what a vehicle weighs."""
    taken = climb_energy_wh(100.0, None)

    assert isinstance(taken, NoEstimate)
    assert "mass_kg" in taken.next


def test_a_climb_is_paid_before_the_way() -> None:
    """What it takes is gone; its doubt stays in what is left."""
    left = after_climb(Estimate(1000.0, 900.0, 1100.0, "Wh"), Estimate(200.0, 150.0, 300.0, "Wh"))

    assert isinstance(left, Estimate)
    assert left.value == 800.0
    assert left.low == pytest.approx(800 - 100 * 2**0.5)
    assert left.high == pytest.approx(800 + (100**2 + 50**2) ** 0.5)


@pytest.mark.parametrize(("usable", "words"), [
    (Estimate.around(150.0, 10.0, "Wh"), "climb alone"),
    (Estimate.around(60.0, 3.0, "%"), "not known"),
    (NOTHING, "no percent"),
])
def test_a_climb_that_cannot_be_paid_is_said(usable: Estimate | NoEstimate, words: str) -> None:
    """Too much for the pack, or a pack whose energy nobody knows."""
    left = after_climb(usable, Estimate(200.0, 150.0, 300.0, "Wh"))

    assert isinstance(left, NoEstimate)
    assert words in left.reason


def test_a_speed_costs_what_own_drives_say() -> None:
    """Half the way by time at 10 km/h and 60 Wh/km, half at 20 km/h and 120: usual is 100."""
    drives = [drive((10.5, 60.0), (20.5, 120.0)) for _ in range(4)]
    usual = (10.5 * 60 + 20.5 * 120) / 31

    slow, fast = (pace_cost(drives, kmh) for kmh in (10.5, 20.5))

    assert isinstance(slow, Estimate)
    assert isinstance(fast, Estimate)
    assert slow.value == pytest.approx(60 / usual, rel=0.01)
    assert fast.value == pytest.approx(120 / usual, rel=0.01)


def test_drives_that_differ_widen_what_a_speed_costs() -> None:
    """The interval holds the truth of scattered drives in nine of ten trials (simulated)."""
    rng = np.random.default_rng(1)
    held = []
    for _ in range(200):
        drives = [drive((10.5, 60.0 * f), (20.5, 120.0)) for f in np.exp(rng.normal(0, 0.1, 6))]
        found = pace_cost(drives, 10.5)
        truth = 60 * 31 / (10.5 * 60 + 20.5 * 120)
        held.append(isinstance(found, Estimate) and found.low <= truth <= found.high)

    assert 0.84 <= np.mean(held) <= 0.96


@pytest.mark.parametrize(("drives", "words"), [
    ([drive((10.5, 60.0))] * 8, "too little was driven at about 30"),
    ([drive((10.5, 60.0), (30.0, 50.0))] * 2, "too little"),
    ([drive((10.5, 60.0), (30.0, -20.0))] * 4, "downhill"),
    ([drive((10.5, 60.0), (30.0, -10.0)), drive((10.5, 60.0), (30.0, -10.0)),
      drive((10.5, 60.0), (30.0, 90.0))], "single drive"),
])
def test_a_speed_that_was_hardly_driven_is_not_guessed(drives: list[LogBands],
                                                       words: str) -> None:
    """No law of drag stands in for drives that nobody made."""
    found = pace_cost(drives, 30.0)

    assert isinstance(found, NoEstimate)
    assert words in found.reason


def test_dearer_kilometres_are_fewer() -> None:
    """Twice the cost halves what is left; the doubt of both joins."""
    usual = Ahead(Estimate(40.0, 32.0, 50.0, "km", 0.9), Estimate(60.0, 48.0, 75.0, "Wh/km", 0.9),
                  Backtest(None, ()))
    dear = at_pace(usual, Estimate(2.0, 1.6, 2.5, "", 0.9))

    assert isinstance(dear.left, Estimate)
    assert isinstance(dear.rate, Estimate)
    assert (dear.left.value, dear.rate.value) == pytest.approx((20.0, 120.0))
    assert dear.left.value / dear.left.low == pytest.approx(1.25 ** (2**0.5))
    assert dear.rate.high / dear.rate.value == pytest.approx(1.25 ** (2**0.5))
    assert dear.left.unit == "km"


def test_what_cannot_be_told_stays_so() -> None:
    """Neither an unknown pace nor an unknown rest makes a figure."""
    unknown = Ahead(NOTHING, NOTHING, Backtest(None, ()))

    assert at_pace(unknown, Estimate.around(1.0, 0.1, "")) == unknown
    assert at_pace(unknown, NoEstimate("too little", "drive")).left == NoEstimate(
        "too little", "drive")
    assert hours_at(NOTHING, 10.0) == NOTHING


def test_time_on_the_way_is_way_over_speed() -> None:
    """24 km at 12 km/h take 2 h."""
    assert hours_at(Estimate(24.0, 12.0, 36.0, "km"), 12.0) == Estimate(2.0, 1.0, 3.0, "h")
