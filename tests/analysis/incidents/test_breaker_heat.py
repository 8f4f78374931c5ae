"""A thermal breaker against RMS and heat."""

from __future__ import annotations

import math

import pytest

from analysis.incidents.breaker_heat import breaker_load, breaker_load_of, derating
from analysis.incidents.loading import LogLoading
from analysis.limits import Limits

NAN = math.nan


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


@pytest.mark.parametrize(("listed_c", "warmest_c", "told_c", "at_c"), [
    (NAN, NAN, NAN, 40.0), (35.0, 20.0, NAN, 40.0), (48.0, 20.0, NAN, 48.0),
    (35.0, 52.0, NAN, 52.0), (48.0, 52.0, 45.0, 45.0)])
def test_the_heat_of_its_place(listed_c: float, warmest_c: float, told_c: float,
                               at_c: float) -> None:
    """What was told for this log counts; else the hottest of the list, the sensors and 40 °C."""
    load = breaker_load_of(LogLoading((60.0, 60.0), (0.0, 0.0), 60.0, warmest_c, 54.0),
                           Limits(breaker_a=50, breaker_c=listed_c), told_c)

    assert load is not None
    assert (load.rms_a, load.enclosure_c) == (60.0, at_c)


def test_without_a_typed_rating_nothing_is_said() -> None:
    """Nobody can tell what an unknown breaker carries, nor what a log too short did."""
    loading = LogLoading((60.0, NAN), (0.0, NAN), NAN, NAN, NAN)

    assert breaker_load_of(loading, Limits()) is None
    assert breaker_load_of(loading, Limits(breaker_a=50)) is None
    assert math.isnan(Limits.typed({"peak_a": 200, "breaker_a": True}).breaker_a)
