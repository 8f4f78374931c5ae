"""What one log did to the pack."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.one_log.use import use_digest
from analysis.telemetry import Event
from tests.analysis.made_logs import log, pedal_drive

HOUR = np.arange(0.0, 3601.0)


def steady(amps: float) -> np.ndarray:
    return np.full(len(HOUR), amps)


@pytest.mark.parametrize(("amps", "kind"), [(25.0, "charge"), (-25.0, "test"), (0.3, "rest")])
def test_steady_amps_are_told_apart(amps: float, kind: str) -> None:
    """Steady in is a charge, steady out a test, hardly anything a rest."""
    assert use_digest(log(HOUR, current_a=steady(amps))).kind == kind


def test_a_drive_is_neither() -> None:
    """Amps that come and go are a drive."""
    assert use_digest(pedal_drive(1800)).kind == "drive"


def test_a_log_without_amps_has_no_kind_and_no_counts() -> None:
    """Missing amps stay missing; volts are told all the same."""
    found = use_digest(log(HOUR, voltage_v=steady(52.0)))

    assert found.kind == ""
    assert math.isnan(found.out_ah)
    assert found.voltage_max_v == 52.0


def test_counts_are_the_amps_times_the_hours() -> None:
    """25 A out for an hour at 52 V are 25 Ah and 1300 Wh."""
    found = use_digest(log(HOUR, current_a=steady(-25.0), voltage_v=steady(52.0)))

    assert (found.out_ah, found.out_wh) == pytest.approx((25.0, 1300.0))
    assert (found.into_ah, found.peak_in_a, found.peak_out_a) == pytest.approx((0.0, 0.0, 25.0))


def test_nothing_is_counted_across_a_gap() -> None:
    """An hour that nobody saw is told and not counted."""
    time_s = np.concatenate([HOUR, HOUR + 7200])
    found = use_digest(log(time_s, Event(3601.0, "silent"),
                           current_a=np.full(len(time_s), -10.0)))

    assert found.out_ah == pytest.approx(20.0)
    assert found.gap_s == pytest.approx(3600.0)


def test_time_at_the_limits_is_counted() -> None:
    """Half an hour at 100 %, and charge taken below 0 degC, are told in seconds."""
    percent = np.where(HOUR < 1800, 100.0, 50.0)
    found = use_digest(log(HOUR, current_a=steady(20.0), soc_pct=percent,
                           temp_1_c=np.where(HOUR < 600, -1.0, 5.0)))

    assert found.high_s == pytest.approx(1800, abs=1)
    assert found.frost_charge_s == pytest.approx(600, abs=1)
    assert found.hot_s == 0.0
