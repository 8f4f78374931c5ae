"""Full, empty and low are found by the volts' signature and by nothing else."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.one_log.anchors import anchors_digest, lowest_and_highest
from tests.analysis.made_logs import log, pedal_drive
from tests.analysis.made_packs import steady, telemetry


def kinds(amps: np.ndarray, left: float) -> list[tuple[str, str]]:
    found = anchors_digest(telemetry(amps, left)).anchors
    return [(anchor.kind, anchor.sign_of_it) for anchor in found]


def test_a_cell_at_its_top_is_full() -> None:
    """A charge that ends with a cell at 3.6 V is full."""
    assert kinds(steady(20.0, 2.5), 0.5) == [("full", "cell")]


def test_a_charge_cut_off_by_the_clock_is_not() -> None:
    """Steady amps that stop on the flat of the curve are no full charge."""
    assert kinds(steady(20.0, 1.5), 0.5) == []


def test_a_taper_at_steady_volts_is_full_without_cells() -> None:
    """Amps that fall at steady volts end a charge, whatever the chemistry."""
    time_s = np.arange(0.0, 4000.0, 10.0)
    amps = np.where(time_s < 2000, 20.0, 20 * np.exp(-(time_s - 2000) / 600))
    amps[time_s > 3600] = 0.0
    volts = np.where(time_s < 2000, 52 + time_s / 1000, 54.0)
    volts[time_s > 3600] = 53.5

    (full,) = anchors_digest(log(time_s, current_a=amps, voltage_v=volts)).anchors

    assert (full.kind, full.sign_of_it) == ("full", "taper")
    assert full.elapsed_s == pytest.approx(3600, abs=20)


def test_a_displayed_hundred_percent_is_no_anchor() -> None:
    """A percent of 100 without its volts is not believed."""
    time_s = np.arange(0.0, 2000.0, 10.0)
    amps = np.where(time_s < 1500, 20.0, 0.0)

    found = anchors_digest(log(time_s, current_a=amps, voltage_v=np.full(len(time_s), 53.0),
                               soc_pct=np.full(len(time_s), 100.0)))

    assert found.anchors == ()


def test_a_charge_that_goes_on_after_the_log_is_not_full() -> None:
    """Where the log ends before the charge does, its end is not known."""
    assert kinds(steady(20.0, 2.5, rest_s=0.0), 0.5) == []


def test_empty_is_where_the_lowest_cell_ended_the_discharge() -> None:
    """A discharge to 2.75 V is empty at the end, with the charge counted until then."""
    found = anchors_digest(telemetry(steady(-25.0, 4.0), 1.0))

    (empty,) = [anchor for anchor in found.anchors if anchor.kind == "empty"]
    assert empty.net_ah == pytest.approx(-100.0, abs=0.2)


def test_low_rest_is_taken_only_where_the_volts_are_steep() -> None:
    """A rest at 5 % left is an anchor; one at half is not."""
    assert kinds(steady(-25.0, 0.2), 0.10) == [("low", "rest")]
    assert kinds(steady(-25.0, 0.2), 0.55) == []


def test_own_curve_near_empty_is_learnt() -> None:
    """A discharge to empty tells how much is left at low rested volts: 4 Ah at 3.10 V here."""
    marks = dict(anchors_digest(telemetry(steady(-25.0, 4.0), 1.0)).left_at_low)

    assert marks[3.10] == pytest.approx(4.0, abs=0.5)
    assert marks[3.15] == pytest.approx(6.0, abs=0.5)


def test_ordinary_driving_has_no_anchor() -> None:
    """Braking into a half-full pack is no full charge and a hard pull no empty one."""
    assert anchors_digest(pedal_drive(3600)).anchors == ()


def test_a_log_without_amps_has_no_anchor_and_no_count() -> None:
    """Volts alone make no count."""
    found = anchors_digest(log(np.arange(0.0, 100.0), voltage_v=np.full(100, 54.0)))

    assert found.anchors == ()
    assert np.isnan(found.net_ah)


def test_a_missing_cell_does_not_hide_the_others() -> None:
    """The lowest and highest of a row come from the cells that it has."""
    low, high = lowest_and_highest(log(np.arange(2.0), cell_01_v=np.array([3.3, np.nan]),
                                       cell_02_v=np.array([3.2, 3.25])))

    assert low.tolist() == [3.2, 3.25]
    assert high.tolist() == [3.3, 3.25]
