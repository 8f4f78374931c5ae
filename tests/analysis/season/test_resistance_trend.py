"""Resistance over a logbook: temperature taken off, trend told, cold told from old."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.estimate import Estimate, NoEstimate
from analysis.season.resistance_trend import (
    YEAR_S,
    LogResistance,
    resistance_digest,
    resistance_trend,
)
from tests.analysis.made_logs import pedal_drive
from tests.analysis.made_packs import steady, telemetry


def season(days: int = 200, per_year: float = 0.0, scatter: float = 0.02,
           seed: int = 1) -> list[tuple[float, LogResistance]]:
    """A drive a day; 18 mohm at 20 degC, 2 % a kelvin, summer in the middle."""
    rng = np.random.default_rng(seed)
    day = np.arange(days)
    celsius = 14 + 6 * np.sin(np.pi * day / days) + rng.normal(0, 1, days)
    ohms = 18 * np.exp(-0.02 * (celsius - 20) + per_year * day / 365.25
                       + rng.normal(0, scatter, days))
    return [(float(d) * 86400, LogResistance(r - 2, 0.2, r, 0.2, c, 0.0))
            for d, r, c in zip(day, ohms, celsius, strict=True)]


def cold(logs: list[tuple[float, LogResistance]], place: int, celsius: float,
         factor: float = 1.0) -> list[tuple[float, LogResistance]]:
    ohms = 18 * factor * math.exp(-0.02 * (celsius - 20))
    changed = list(logs)
    changed[place] = (logs[place][0], LogResistance(ohms - 2, 0.2, ohms, 0.2, celsius, 0.0))
    return changed


def test_temperature_is_taken_off() -> None:
    """Spring, summer, autumn: at 20 degC the resistance stays 18 mohm."""
    trend = resistance_trend(season(seed=2))

    assert isinstance(trend.now_mohm, Estimate)
    assert trend.now_mohm.value == pytest.approx(18.0, rel=0.02)
    assert trend.per_kelvin == pytest.approx(-0.02, abs=0.004)
    assert isinstance(trend.per_year_pct, Estimate)
    assert trend.per_year_pct.low < 0 < trend.per_year_pct.high


def test_growth_is_told_with_its_interval() -> None:
    """Ten percent a year over 200 days is told apart from none."""
    trend = resistance_trend(season(per_year=0.10, seed=2))

    assert isinstance(trend.per_year_pct, Estimate)
    assert 0 < trend.per_year_pct.low < 10 < trend.per_year_pct.high


def test_interval_of_the_rate_covers() -> None:
    """Over 200 seasons the 95 % interval of the rate holds the truth in 91 to 99 %."""
    held = 0
    for seed in range(200):
        rate = resistance_trend(season(100, 0.05, seed=seed)).per_year_pct
        assert isinstance(rate, Estimate)
        held += rate.low <= 5.0 <= rate.high

    assert 0.91 <= held / 200 <= 0.99


def test_a_cold_morning_is_cold_not_old() -> None:
    """45 % more at 2 degC that temperature explains is named cold, with the frost caution."""
    (found,) = resistance_trend(cold(season(), 190, 1.5)).cold

    assert found.rise == pytest.approx(0.45, abs=0.06)
    assert "cold, not old" in found.words
    assert "below 0 °C" in found.words


def test_more_than_cold_explains_is_not_called_cold() -> None:
    """A cold drive with another 30 % on top is not explained away."""
    assert resistance_trend(cold(season(), 190, 2.0, factor=1.3)).cold == ()


def test_few_drives_give_no_trend() -> None:
    """Five drives are too few, and the answer says so."""
    trend = resistance_trend(season(5))

    assert isinstance(trend.now_mohm, NoEstimate)
    assert trend.as_json() == []


def test_a_charge_tells_no_resistance() -> None:
    """Amps that only go in, and change once, are left out."""
    assert math.isnan(resistance_digest(telemetry(steady(20.0, 1.0), 0.5)).after_10_s_mohm)


def test_a_drive_tells_its_resistance() -> None:
    """A drive of a 16 mohm pack gives 16 mohm within five percent."""
    assert resistance_digest(pedal_drive(1800)).after_1_s_mohm == pytest.approx(16.0, rel=0.05)


def test_a_year_is_a_year() -> None:
    """Rates are per 365.25 days."""
    assert pytest.approx(31_557_600.0) == YEAR_S
