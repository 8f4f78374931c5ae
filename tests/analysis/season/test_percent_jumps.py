"""Jumps of the displayed percent are classed, and a counting display is called circular."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.season.percent_jumps import ClassedJump, is_circular, percent_digest
from analysis.telemetry import Event, Floats, Telemetry
from tests.analysis.made_logs import log, real_drive

TIME_S = np.arange(0.0, 7200.0)


def counting(setting_ah: float = 105.0, *, start_pct: float = 80.0, amps: float = -20.0,
             low_v: float = 3.3, change: Floats | float = 0.0) -> Telemetry:
    """A display that counts; ``change`` is added to the percent row by row."""
    current = np.full(len(TIME_S), amps)
    current[3000:4200] = 0.0
    counted = np.concatenate(([0.0], np.cumsum((current[1:] + current[:-1]) / 2))) / 3600
    percent = np.round(start_pct + 100 * counted / setting_ah + change)
    return log(TIME_S, current_a=current, voltage_v=np.full(len(TIME_S), 53.0), soc_pct=percent,
               cell_01_v=np.full(len(TIME_S), low_v), cell_02_v=np.full(len(TIME_S), 3.31))


def after(row: int, points: float) -> Floats:
    return np.where(TIME_S[row] <= TIME_S, points, 0.0)


def only_jump(telemetry: Telemetry) -> ClassedJump:
    (jump,) = percent_digest(telemetry).jumps
    return jump


def test_down_at_the_low_end_is_the_knee() -> None:
    """From 41 to 12 with the lowest cell at 3.06 V the display corrected itself at the knee."""
    jump = only_jump(counting(start_pct=41, low_v=3.06, change=after(1000, -25.0)))

    assert jump.kind == "knee"
    assert "told too much" in jump.words


def test_up_to_the_end_of_the_scale_is_a_full_charge() -> None:
    """To 100 with a cell at its top the display saw the pack full."""
    telemetry = counting(start_pct=80, amps=20.0, low_v=3.55, change=after(2000, 60.0))
    telemetry = telemetry.having(soc_pct=np.minimum(telemetry["soc_pct"], 100.0))

    assert only_jump(telemetry).kind == "full"


def test_all_percents_times_a_ratio_at_rest_is_a_setting() -> None:
    """80 to 84 while nothing flows is a changed capacity setting, 105 to 100."""
    jump = only_jump(counting(start_pct=96, change=after(3600, 4.0)))

    assert jump.kind == "setting"
    assert jump.ratio == pytest.approx(1.05, abs=0.01)


def test_under_load_and_mid_range_it_is_drift() -> None:
    """Ten points under load with nothing special about the volts are a correction of drift."""
    assert only_jump(counting(change=after(1500, -10.0))).kind == "drift"


def test_in_a_gap_it_is_a_restart() -> None:
    """A jump while nothing was heard is put down to the gap."""
    whole = counting(change=after(2000, -20.0))
    kept = (TIME_S < 1900) | (TIME_S > 2500)
    gapped = Telemetry(whole.start, whole.elapsed_s[kept],
                       {n: v[kept] for n, v in whole.columns.items()}, (Event(1901.0, "silent"),))

    assert only_jump(gapped).kind == "restart"


def test_a_percent_held_at_its_end_has_not_jumped() -> None:
    """A display that stands at 100 while charge still goes in has made no jump."""
    telemetry = counting(start_pct=95, amps=20.0)

    assert percent_digest(telemetry.having(
        soc_pct=np.minimum(telemetry["soc_pct"], 100.0))).jumps == ()


def test_a_counting_display_gives_back_its_setting() -> None:
    """Its slope is the setting to a tenth of a percent, and its capacity is called circular."""
    one = percent_digest(counting(105.0, start_pct=90))

    assert one.ah_per_100 == pytest.approx(105.0, rel=2e-3)
    assert one.residual_points < 0.1
    assert is_circular([one, one])


def test_a_display_with_a_mind_of_its_own_is_not_circular() -> None:
    """One that strays by two points from the count measures something else."""
    wavy = percent_digest(counting(start_pct=90, change=3 * np.sin(TIME_S / 400)))

    assert not is_circular([wavy, wavy, wavy])


def test_too_little_change_proves_nothing() -> None:
    """Fifteen points are not enough to call a display circular."""
    assert not is_circular([percent_digest(counting(start_pct=40, amps=-8.0))])


@pytest.mark.parametrize("name", ["A13", "B26"])
def test_internal_percent_of_a_car_is_a_count(name: str) -> None:
    """The internal percent of the recorded car counts against about 61.7 Ah, jumps left out.

    61.76 Ah is the mean over the whole set, net charge over change of percent
    (data/real_drives/SOURCE.md); 0.5 % for what one short drive can tell.
    """
    found = percent_digest(real_drive(name))

    assert found.ah_per_100 == pytest.approx(61.76, rel=0.005)
    assert found.residual_points < 0.1


def test_a_log_without_percent_tells_nothing() -> None:
    """Missing percent gives NaN and no jump."""
    found = percent_digest(log(TIME_S, current_a=np.full(len(TIME_S), -5.0)))

    assert found.jumps == ()
    assert np.isnan(found.ah_per_100)
