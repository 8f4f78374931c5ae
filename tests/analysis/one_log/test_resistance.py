"""Resistance from driving, against known models and an outside regression."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from analysis.estimate import Estimate, NoEstimate
from analysis.one_log.resistance import find_resistance
from analysis.telemetry import Floats, Telemetry
from tests.analysis.made_logs import (
    REAL_DRIVES,
    every,
    log,
    pedal_drive,
    real_drive,
    switched_drive,
)


def model_volts(time_s: Floats, amps: Floats) -> Floats:
    """A pack of 16 mohm at once, 4 more with 2 s and 6 more with 15 s, made by small steps."""
    lag_2, lag_15 = np.zeros_like(amps), np.zeros_like(amps)
    step = float(time_s[1] - time_s[0])
    for k in range(1, len(amps)):
        lag_2[k] = lag_2[k - 1] + (amps[k] - lag_2[k - 1]) * -np.expm1(-step / 2)
        lag_15[k] = lag_15[k - 1] + (amps[k] - lag_15[k - 1]) * -np.expm1(-step / 15)
    volts: Floats = 52.8 + 0.016 * amps + 0.004 * lag_2 + 0.006 * lag_15
    return volts


TRUE_1_S = 16 + 4 * -np.expm1(-1 / 2) + 6 * -np.expm1(-1 / 15)
TRUE_10_S = 16 + 4 * -np.expm1(-10 / 2) + 6 * -np.expm1(-10 / 15)


@pytest.mark.parametrize(("resolution_v", "stride"), [(0.01, 1), (0.01, 10), (0.1, 10)])
@pytest.mark.parametrize("name", REAL_DRIVES)
def test_a_known_model_is_recovered_from_real_amps(name: str, resolution_v: float,
                                                   stride: int) -> None:
    """Amps of a real drive through a known pack: within 3 % at 1 s and at 10 s."""
    drive = real_drive(name)
    volts = model_volts(drive.elapsed_s, drive["current_a"])
    rounded = np.round(volts / resolution_v) * resolution_v
    found = find_resistance(every(drive.having(voltage_v=rounded), stride))

    assert isinstance(found.after_1_s, Estimate)
    assert isinstance(found.after_10_s, Estimate)
    assert found.after_1_s.value == pytest.approx(TRUE_1_S, rel=0.03)
    assert found.after_10_s.value == pytest.approx(TRUE_10_S, rel=0.03)
    assert found.after_1_s.low <= TRUE_1_S <= found.after_1_s.high
    assert not found.is_indicative


def told_late(telemetry: Telemetry, skew_s: float) -> Telemetry:
    """At a row a second, with the volts of the known pack so much later than the amps."""
    volts = model_volts(telemetry.elapsed_s, telemetry["current_a"])
    late = np.interp(telemetry.elapsed_s - skew_s, telemetry.elapsed_s, volts)
    return every(telemetry.having(voltage_v=np.round(late, 2)), 10)


def in_steps(telemetry: Telemetry, step_v: float) -> Telemetry:
    """As a display with so coarse volts tells it."""
    return telemetry.having(voltage_v=np.round(telemetry["voltage_v"] / step_v) * step_v)


@pytest.mark.parametrize("skew_s", [-0.6, 0.3, 0.7])
def test_skewed_channels_are_found_and_said(skew_s: float) -> None:
    """Volts told later or sooner than the amps: the skew is found, both figures within 5 %."""
    found = find_resistance(told_late(real_drive("B26"), skew_s))

    assert isinstance(found.after_1_s, Estimate)
    assert isinstance(found.after_10_s, Estimate)
    assert found.skew_s == pytest.approx(skew_s, abs=0.1)
    assert found.is_indicative
    assert found.after_1_s.value == pytest.approx(TRUE_1_S, rel=0.05)
    assert found.after_1_s.low <= TRUE_1_S <= found.after_1_s.high
    assert found.after_10_s.value == pytest.approx(TRUE_10_S, rel=0.05)


@pytest.mark.parametrize("skew_s", [-0.4, 0.5])
def test_skewed_amps_that_jump_are_not_smoothed(skew_s: float) -> None:
    """A switch in place of a pedal: within 4 % on the mean of five drives, where curves between the
    rows would tell 6 to 10 % too little."""
    found = [find_resistance(told_late(switched_drive(900, seed), skew_s)).after_1_s
             for seed in range(1, 6)]
    told = [answer.value for answer in found if isinstance(answer, Estimate)]

    assert len(told) == 5
    assert np.mean(told) == pytest.approx(TRUE_1_S, rel=0.04)


def test_a_skew_of_one_grid_step_is_told_from_none() -> None:
    """In step 0.0 is told, a tenth of a second apart 0.1: no hint only, but reckoned with."""
    drive = real_drive("B26")
    in_step, apart = (find_resistance(told_late(drive, skew_s)) for skew_s in (0.0, 0.1))

    assert (in_step.skew_s, apart.skew_s) == (0.0, 0.1)
    assert not in_step.is_indicative
    assert not apart.is_indicative


@pytest.mark.parametrize("name", REAL_DRIVES)
def test_coarse_volts_make_the_interval_wider(name: str) -> None:
    """Volts in steps of 300 mV leave 2 % open and more: the interval says so, and holds."""
    fine, coarse = (find_resistance(in_steps(told_late(real_drive(name), 0.0), step_v)).after_10_s
                    for step_v in (0.01, 0.3))

    assert isinstance(fine, Estimate)
    assert isinstance(coarse, Estimate)
    added = (coarse.half_width / coarse.value) ** 2 - (fine.half_width / fine.value) ** 2
    assert added > 0.02**2
    assert coarse.low <= TRUE_10_S <= coarse.high


def test_real_drives_show_the_cold() -> None:
    """The same car at 22 °C and at 14 °C: between 67 (warm) and 146 mohm (below 8 °C)."""
    summer, winter = (find_resistance(real_drive(name)).after_1_s for name in REAL_DRIVES)

    assert isinstance(summer, Estimate)
    assert isinstance(winter, Estimate)
    assert 67 < summer.value < 1.1 * summer.value < winter.value < 146


@pytest.mark.parametrize(("telemetry", "reason"), [
    (log(np.arange(600.0), current_a=np.full(600, -5.0), voltage_v=np.full(600, 53.0)),
     "hardly change"),
    (in_steps(pedal_drive(600, ohm=0.002), 0.1), "less than 5 of their steps of 100 mV"),
    (log(np.arange(600.0), voltage_v=np.full(600, 53.0)), "both amps and volts"),
    (pedal_drive(90), "two minutes"),
    (log(np.arange(0, 6000.0, 10), current_a=np.arange(600.0) % 50,
         voltage_v=53 - np.arange(600.0) % 50 / 50), "two seconds apart"),
])
def test_no_resistance_without_a_reason(telemetry, reason: str) -> None:
    """Steady amps, coarse volts, no amps, slow samples: none is given, with why and what to do."""
    found = find_resistance(telemetry).after_1_s

    assert isinstance(found, NoEstimate)
    assert reason in found.reason
    assert found.next


def test_a_charger_that_holds_its_volts_tells_no_resistance() -> None:
    """Amps that sink from 25 A to 2 at steady volts fit any skew alike: nothing is told."""
    elapsed_s = np.arange(0.0, 900.0)
    amps = np.round(np.interp(elapsed_s, [0, 100, 600, 900], [25, 25, 2, 2]), 1)
    rng = np.random.default_rng(2)
    volts = np.round(np.interp(elapsed_s, [0, 100], [53.9, 55.2]) + rng.normal(0, 0.01, 900), 2)
    found = find_resistance(log(elapsed_s, current_a=amps, voltage_v=volts))

    assert isinstance(found.after_1_s, NoEstimate)
    assert found.after_1_s.reason == "the volts do not answer the amps clearly"


def test_amps_that_only_move_while_the_filters_settle_give_no_resistance() -> None:
    """One pull in the first minute and then nothing: the fit would be one of noise."""
    elapsed_s = np.arange(0.0, 200.0)
    amps = np.where((elapsed_s > 2) & (elapsed_s < 4), -80.0, 0.0)
    volts = np.round(53.0 + 0.016 * amps - 0.0005 * elapsed_s, 2)
    found = find_resistance(
        Telemetry(datetime(2026, 4, 2, tzinfo=UTC), elapsed_s,
                  {"current_a": amps, "voltage_v": volts}))

    assert isinstance(found.after_1_s, NoEstimate)
    assert "first minute" in found.after_1_s.reason


def test_a_window_that_only_inherits_a_pull_has_no_say() -> None:
    """Six windows of pulls, and one whose only pull ends before its fit begins: what the filters
    hold of that is no answer of the volts, and the interval stays as narrow as without it."""
    elapsed_s = np.arange(0.0, 2100.0)
    amps = np.where(elapsed_s % 40 < 15, -60.0, 0.0)
    amps[600:900] = np.where(np.arange(300) < 50, -60.0, 0.0)
    volts = np.round(model_volts(elapsed_s, amps), 2)
    found = find_resistance(log(elapsed_s, current_a=amps, voltage_v=volts)).after_1_s

    assert isinstance(found, Estimate)
    assert found.value == pytest.approx(TRUE_1_S, rel=0.05)
    assert found.half_width < 0.06 * found.value
