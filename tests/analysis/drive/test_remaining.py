"""What is left, at the ends where a display misbehaves."""

from __future__ import annotations

import numpy as np

from analysis.drive.remaining import usable_ah
from analysis.estimate import Estimate
from analysis.one_log.charge import Instrument
from analysis.one_log.percent import compare_percent
from tests.analysis.made_logs import log


def test_a_percent_below_empty_means_empty() -> None:
    """Some displays count on below zero; what is left is none, not less."""
    elapsed_s = np.arange(0.0, 3000.0)
    telemetry = log(elapsed_s, current_a=np.full(3000, -10.0),
                    soc_pct=np.round(6 - elapsed_s / 360))

    left = usable_ah(telemetry, compare_percent(telemetry, Instrument()), 100.0)

    assert isinstance(left, Estimate)
    assert left.value == 0.0


def test_hours_left_are_amp_hours_over_amps() -> None:
    """60 Ah left at a steady 20 A last three hours (common practice, no source)."""
    elapsed_s = np.arange(0.0, 1000.0)
    telemetry = log(elapsed_s, current_a=np.full(1000, -20.0),
                    charge_left_ah=np.full(1000, 60.0))

    left = usable_ah(telemetry, None)

    assert isinstance(left, Estimate)
    assert left.value / 20 == 3.0
