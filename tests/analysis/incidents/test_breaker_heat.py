"""A thermal breaker against RMS and heat."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.incidents.breaker_heat import breaker_load, breaker_load_of, derating
from analysis.limits import Limits
from tests.analysis.made_logs import log


@pytest.mark.parametrize(("celsius", "amps"), [(40, 100), (50, 96), (55, 92), (60, 85), (20, 100)])
def test_published_derating_of_a_100_a_device(celsius: float, amps: float) -> None:
    """One maker's published table: 100 A are 96 A at 50 °C, 92 A at 55 °C, 85 A at 60 °C."""
    assert 100 * derating(celsius) == pytest.approx(amps)


def test_55_a_rms_trip_a_50_a_breaker_at_48_c() -> None:
    """48.4 A are left at 48 °C; at 80 % the load needs 71 A."""
    load = breaker_load(55.0, 50.0, 48.0, volts=54.4, rated_v=48.0)

    assert load.verdict == "yes"
    assert load.derated_a == pytest.approx(48.4)
    assert load.needed_a == pytest.approx(55 / 0.8 / 0.968)
    assert "too low in volts too" in load.words


@pytest.mark.parametrize(("rms", "verdict"), [(38.0, "no"), (45.0, "cannot tell yet"),
                                              (51.0, "yes")])
def test_verdicts_by_80_percent_and_by_the_rating(rms: float, verdict: str) -> None:
    """Below 80 % it holds, above the rating it trips, between it may."""
    assert breaker_load(rms, 50.0, 40.0).verdict == verdict


def test_the_load_of_a_log_is_its_worst_four_minutes() -> None:
    """Six minutes at 60 A in an hour at 10 A."""
    time_s = np.arange(3600.0)
    amps = np.where((time_s > 1000) & (time_s < 1360), -60.0, -10.0)
    load = breaker_load_of(log(time_s, current_a=amps), Limits(breaker_a=50))

    assert load is not None
    assert load.rms_a == pytest.approx(60, abs=0.5)
    assert load.enclosure_c == 40.0


def test_without_a_typed_rating_nothing_is_said() -> None:
    """Nobody can tell what an unknown breaker carries."""
    assert breaker_load_of(log([0.0, 1.0], current_a=np.zeros(2)), Limits()) is None
    assert math.isnan(Limits.typed({"peak_a": 200}).breaker_a)
