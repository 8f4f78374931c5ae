"""Amp-hours and watt-hours, and how sure they are."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.one_log.charge import (
    Instrument,
    charge_budget,
    counted,
    display_step_a,
    resolution_term_ah,
    sampling_term_ah,
    smallest_step,
    throughput,
    unseen_charge_ah,
    until_voltage,
)
from analysis.telemetry import Event, Telemetry
from analysis.timebase import observe
from tests.analysis.made_logs import DATA, REAL_DRIVES, every, log, real_drive, real_integrals


def flow(telemetry: Telemetry) -> tuple[float, float]:
    """Amp-hours in and out."""
    observed = observe(telemetry, "current_a")
    moved = throughput(observed, observed.pick(telemetry["current_a"]))
    return moved.into, moved.out


def test_a_ramp_to_100_amps_in_an_hour_is_50_amp_hours() -> None:
    """Area of a triangle, whatever the step (arithmetic; left rectangles would give 45)."""
    into, out = flow(log(np.linspace(0, 3600, 11), current_a=np.linspace(0, 100, 11)))

    assert into == pytest.approx(50.0, rel=1e-12)
    assert out == pytest.approx(0.0, abs=1e-12)


def test_a_half_sine_of_100_amps_over_an_hour_is_63_662_amp_hours() -> None:
    """2 / pi of its peak (integral calculus)."""
    time_s = np.linspace(0, 3600, 3601)
    into, _ = flow(log(time_s, current_a=100 * np.sin(np.pi * time_s / 3600)))

    assert into == pytest.approx(200 / math.pi, rel=1e-6)


def test_steady_amps_do_not_care_how_they_were_sampled() -> None:
    """40 A for 1.5 h are 60 Ah out, however ragged the samples (below the gap limit)."""
    rng = np.random.default_rng(3)
    time_s = np.concatenate([[0], np.sort(rng.uniform(0, 5400, 20_000)), [5400]])
    telemetry = log(np.unique(time_s), current_a=np.full(len(np.unique(time_s)), -40.0))
    steps = np.diff(telemetry.elapsed_s)
    observed = observe(telemetry, "current_a")

    lost_s = steps[observed.gap_steps].sum()
    assert flow(telemetry)[1] == pytest.approx(60.0 - 40 * lost_s / 3600, rel=1e-9)


def test_the_uncertainty_of_a_worked_count() -> None:
    """40 A for 1.5 h: 0.5 % gain, 0.05 A offset, 50 ppm clock, 0.1 A steps at 1 s.

    Worked by hand after JCGM 100:2008 (GUM), sections 4 to 6: u = 0.17855 Ah, U = 0.35709 Ah.
    """
    # 5400 independent readings of one second, each wrong by up to 0.05 A:
    steps_ah = 0.1 / math.sqrt(12) * math.sqrt(5400) / 3600

    budget = charge_budget(60.0, 5400.0, Instrument(0.005, 0.05, 50e-6), resolution_ah=steps_ah)

    assert budget.terms["gain"] == pytest.approx(0.17321, abs=5e-6)
    assert budget.terms["offset"] == pytest.approx(0.04330, abs=5e-6)
    assert budget.terms["clock"] == pytest.approx(0.00173, abs=5e-6)
    assert budget.terms["resolution"] == pytest.approx(0.00059, abs=5e-6)
    assert budget.combined == pytest.approx(0.17855, abs=5e-6)
    assert budget.expanded == pytest.approx(0.35709, abs=1e-5)


def test_readings_that_change_every_second_average_their_rounding_out() -> None:
    """The term from display steps is q / sqrt(12) sqrt(n) h for n independent readings."""
    amps = np.where(np.arange(5401) % 2 == 0, 39.9, 40.1)
    telemetry = log(np.arange(5401.0), current_a=amps)
    observed = observe(telemetry, "current_a")

    expected = 0.1 / math.sqrt(12) * math.sqrt(5400) / 3600
    assert resolution_term_ah(amps, observed, 0.1) == pytest.approx(expected, rel=1e-3)


def test_a_reading_that_stands_still_is_wrong_the_same_way_all_along() -> None:
    """A constant figure does not average its rounding out: q / sqrt(12) times the hours."""
    telemetry = log(np.arange(3601.0), current_a=np.full(3601, 5.0))
    observed = observe(telemetry, "current_a")

    assert resolution_term_ah(telemetry["current_a"], observed, 1.0) == pytest.approx(
        1 / math.sqrt(12), rel=1e-9)


@pytest.mark.parametrize("name", REAL_DRIVES)
def test_real_drives_vs_plain_trapezoid_integrals(name: str) -> None:
    """Charge in and out of a recorded drive within 0.1 % of numbers computed elsewhere."""
    into, out = flow(real_drive(name))

    assert into == pytest.approx(real_integrals(name)["charge_in_ah"], rel=1e-3)
    assert out == pytest.approx(real_integrals(name)["charge_out_ah"], rel=1e-3)


@pytest.mark.parametrize("name", REAL_DRIVES)
def test_thinned_logs_count_right_on_the_mean(name: str) -> None:
    """At 1 Hz each phase errs, their mean does not: no charge is lost at the zero crossings."""
    whole = flow(real_drive(name))
    phases = np.array([flow(every(real_drive(name), 10, k)) for k in range(10)])

    assert phases.mean(axis=0) == pytest.approx(whole, rel=3e-3)


@pytest.mark.parametrize("name", REAL_DRIVES)
def test_the_sampling_term_covers_what_thinning_does(name: str) -> None:
    """Thinned to 1 Hz, the count errs by what the log itself says it may: neither half nor four
    times."""
    drive = real_drive(name)
    true = -np.subtract(*flow(drive))
    errors, said = [], []
    for phase in range(10):
        thin = every(drive, 10, phase)
        observed = observe(thin, "current_a")
        head, tail = thin.elapsed_s[0], drive.elapsed_s[-1] - thin.elapsed_s[-1]
        part = drive.between(head, drive.elapsed_s[-1] - tail)
        errors.append(np.subtract(*flow(thin)) - np.subtract(*flow(part)))
        said.append(sampling_term_ah(thin["current_a"], observed))

    rms = float(np.sqrt(np.mean(np.square(errors))))
    assert abs(true) > 1  # a drive, so that the errors are those of a drive
    assert 0.5 < np.mean(said) / rms < 4


def test_cell_discharges_vs_laboratory_capacity() -> None:
    """Counted to 2.7 V, each discharge of an ageing cell is what the laboratory reported.

    B. Saha, K. Goebel, Battery Data Set, NASA Ames, 2007 (tests/data/cell_ageing/SOURCE.md).
    """
    table = pd.read_csv(DATA / "cell_ageing" / "B0005_discharges.csv.gz")
    reported = pd.read_csv(DATA / "cell_ageing" / "B0005_capacity.csv", index_col="cycle")

    for cycle, rows in table.groupby("cycle_idx"):
        end = until_voltage(rows["Voltage_measured"].to_numpy(), 2.7)
        part = rows.iloc[:end]
        _, out = flow(log(part["Time"], current_a=part["Current_measured"]))
        assert out == pytest.approx(reported.loc[cycle, "reported_capacity_ah"], rel=5e-3)


def test_nothing_is_counted_across_a_gap_and_the_gap_is_bounded() -> None:
    """A steady 40 A with a minute missing: the minute is not in the count but in the bound."""
    time_s = np.concatenate([np.arange(600.0), np.arange(660.0, 1200.0)])
    telemetry = log(time_s, current_a=np.full(len(time_s), -40.0))
    observed = observe(telemetry, "current_a")
    unseen_in, unseen_out = unseen_charge_ah(telemetry["current_a"], observed)

    assert flow(telemetry)[1] == pytest.approx(40 * (599 + 539) / 3600)
    assert unseen_out == pytest.approx(40 * 61 / 3600)
    assert unseen_in == 0.0


@pytest.mark.parametrize("gap_s", [10.0, 30.0, 120.0])
def test_what_went_unseen_stays_below_its_bound(gap_s: float) -> None:
    """Gaps cut into real drives at 1 Hz: what flowed in them is below the bound in 95 %."""
    held = []
    for name in REAL_DRIVES:
        drive = every(real_drive(name), 10, 0)
        for start_s in np.linspace(5, drive.elapsed_s[-1] - gap_s - 5, 20):
            seen = (drive.elapsed_s <= start_s) | (drive.elapsed_s >= start_s + gap_s)
            holed = log(drive.elapsed_s[seen], current_a=drive["current_a"][seen])
            lost = flow(drive.between(start_s, start_s + gap_s))
            bound = unseen_charge_ah(holed["current_a"], observe(holed, "current_a"))
            held += [moved <= most + 1e-9 for moved, most in zip(lost, bound, strict=True)]

    assert np.mean(held) >= 0.95


def test_a_gap_widens_only_the_upper_end() -> None:
    """What was seen is certain to have flowed; what was not can only come on top."""
    budget = charge_budget(10.0, 3600.0, Instrument())
    estimate = counted(10.0, budget, 2.0, "Ah")

    assert estimate.value - estimate.low == pytest.approx(budget.expanded)
    assert estimate.high - estimate.value == pytest.approx(budget.expanded + 2.0)


def test_the_resolution_is_the_smallest_step() -> None:
    """Found from the figures, whatever floating point does to them."""
    assert smallest_step(np.array([0.1, 0.30000000000000004, 0.2, np.nan])) == pytest.approx(0.1)
    assert smallest_step(np.full(3, 7.0)) == 0.0


AMPS = st.lists(st.integers(-2000, 2000).map(lambda n: n / 10), min_size=4, max_size=40)


@settings(derandomize=True)
@given(AMPS, st.data())
def test_two_parts_make_the_whole(amps: list[float], data: st.DataObject) -> None:
    """Charge over [a, b] and [b, c] is charge over [a, c]."""
    middle = data.draw(st.integers(1, len(amps) - 2))
    whole = log(np.arange(len(amps)), current_a=np.array(amps))
    parts = np.add(flow(whole.between(0, middle)), flow(whole.between(middle)))

    assert parts == pytest.approx(flow(whole), abs=1e-9)


@settings(derandomize=True)
@given(AMPS)
def test_turning_the_sign_swaps_in_and_out(amps: list[float]) -> None:
    """What flowed in flows out."""
    time_s = np.arange(len(amps))
    there = flow(log(time_s, current_a=np.array(amps)))
    back = flow(log(time_s, current_a=-np.array(amps)))

    assert back == pytest.approx(there[::-1], abs=1e-9)


@settings(derandomize=True)
@given(AMPS, st.integers(0, 10**6))
def test_a_later_clock_changes_nothing(amps: list[float], shift_s: int) -> None:
    """Only time differences count."""
    time_s = np.arange(len(amps))
    there = flow(log(time_s, current_a=np.array(amps)))

    assert flow(log(time_s + shift_s, current_a=np.array(amps))) == pytest.approx(there, abs=1e-9)


@settings(derandomize=True)
@given(AMPS, st.data())
def test_a_gap_never_adds_charge(amps: list[float], data: st.DataObject) -> None:
    """Losing samples, by NaN or by an event, never makes either direction larger."""
    time_s = np.arange(len(amps))
    row = data.draw(st.integers(0, len(amps) - 1))
    holed = np.array(amps)
    holed[row] = np.nan
    whole = flow(log(time_s, current_a=np.array(amps)))
    lost = log(time_s, Event(row + 0.5, "link lost"), current_a=np.array(amps))

    for less in (flow(log(time_s, current_a=holed)), flow(lost)):
        assert less[0] <= whole[0] + 1e-9
        assert less[1] <= whole[1] + 1e-9


def test_steady_amps_are_no_coarse_display() -> None:
    """A bench test holds one figure between two zeros: its step is the load, not the display's."""
    assert display_step_a(np.array([0.0, -25.0, -25.0, 0.0])) == 1.0
    assert display_step_a(np.array([0.0, -25.0, -25.1])) == pytest.approx(0.1)
