"""Cells against the pack volts: what cannot be told apart from honest figures is left alone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.drive.summary import summarise
from analysis.drive.text import drive_text
from analysis.estimate import Estimate
from analysis.finding import Finding
from analysis.one_log.cell_sum import Apart, find_apart, find_twins
from analysis.one_log.cell_sum import cell_findings as findings_of
from analysis.telemetry import Floats, Telemetry
from tests.analysis.made_logs import pedal_drive
from tests.witness.packs import WEEKS, logs_of

CELLS = 16


def drive(seconds: int = 1200, leads_ohm: float = 0.006, seed: int = 2) -> Telemetry:
    """Stops and starts of an invented pack of 16 cells that add up, told to the millivolt."""
    made, rng = pedal_drive(seconds, seed), np.random.default_rng(seed)
    amps = made["current_a"]
    cells = {f"cell_{n:02d}_v": np.round(3.3 + rng.normal(0, 0.003) + 0.0006 * amps
                                         + rng.normal(0, 0.0004, len(amps)), 3)
             for n in range(1, CELLS + 1)}
    volts = np.round(np.sum(list(cells.values()), axis=0) + leads_ohm * amps, 2)
    return made.having(**cells, voltage_v=volts)


def without(telemetry: Telemetry, *names: str) -> Telemetry:
    kept = {name: values for name, values in telemetry.columns.items() if name not in names}
    return Telemetry(telemetry.start, telemetry.elapsed_s, kept)


def cell_findings(telemetry: Telemetry) -> tuple[Finding, ...]:
    return findings_of(telemetry, find_apart(telemetry))


def apart(telemetry: Telemetry) -> Apart:
    found = find_apart(telemetry)
    assert found is not None
    return found


@pytest.mark.parametrize(("name", "k"), [(w, k) for w in WEEKS for k in range(len(logs_of(w)))])
def test_cells_of_another_physics_library_add_up(name: str, k: int) -> None:
    """Packs that pybamm simulated, their volts told to the hundredth and cells to the millivolt
    (tests/data/witness/SOURCE.md), raise nothing; with a cell left out, that cell's volts, and what
    the leads take at the steady amps of a charge."""
    log = logs_of(name)[k].telemetry
    fewer = apart(without(log, "cell_07_v"))
    left_out_v = np.median(log["cell_07_v"])

    assert cell_findings(log) == ()
    assert (fewer.whole_cells, fewer.is_from_start, fewer.is_to_end) == (1, True, True)
    assert abs(fewer.apart_v - left_out_v) < 0.15


@pytest.mark.parametrize("late", [-2, -1, 1, 2])
def test_cells_and_volts_read_at_other_moments_add_up(late: int) -> None:
    """Two seconds between the figures of cells and pack spoil single rows, not a minute's."""
    log = drive()
    assert cell_findings(log.having(voltage_v=np.roll(log["voltage_v"], late))) == ()


def test_leads_and_coarse_figures_are_no_fault() -> None:
    """10 mohm of leads, cells told in hundredths and pack volts in tenths."""
    log = drive(leads_ohm=0.010)
    coarse = {name: np.floor(log[name] * 100) / 100 for name in log.cells}
    assert cell_findings(log.having(**coarse, voltage_v=np.round(log["voltage_v"], 1))) == ()


@pytest.mark.parametrize("left_v", [
    np.full(600, 20.0), np.linspace(52.0, 44.0, 600), 52.8 * np.exp(-np.arange(600) / 300)])
def test_volts_behind_an_open_path_are_no_fault(left_v: Floats) -> None:
    """They stand somewhere or fade, slowly or to nothing, while the cells stay and no amps flow."""
    log = drive()
    is_open = log.elapsed_s >= 600
    volts, amps = log["voltage_v"].copy(), np.where(is_open, 0.0, log["current_a"])
    volts[is_open] = left_v
    still = {name: np.where(is_open, 3.3, log[name]) for name in log.cells}
    assert find_apart(log.having(**still, voltage_v=volts, current_a=amps)) is None


def test_one_cell_too_few_and_one_too_many() -> None:
    """Told as whole cells, with the size and what to look at."""
    log = drive()
    [fewer] = cell_findings(without(log, "cell_16_v"))
    [more] = cell_findings(log.having(cell_17_v=log["cell_03_v"] + 0.001))

    assert (fewer.verdict, more.verdict) == ("yes", "yes")
    assert "3.3 V above the sum of the 15 cells, as much as one cell" in fewer.words
    assert "3.3 V below the sum of the 17 cells, as much as one cell" in more.words
    assert isinstance(fewer.size, Estimate)
    assert fewer.size.low < 3.3 < fewer.size.high
    assert isinstance(more.size, Estimate)
    assert more.size.low < -3.3 < more.size.high


def test_a_cell_that_reads_nothing_is_named_and_dated() -> None:
    """From the minute on in which it set in, and to its end."""
    log = drive()
    is_dead = (log.elapsed_s >= 480) & (log.elapsed_s < 900)
    dead = log.having(cell_05_v=np.where(is_dead, 0.0, log["cell_05_v"]))
    [finding] = cell_findings(dead)

    assert finding.words == (
        "from 8 min on until 15 min, the pack volts are 3.3 V above the sum of the 16 cells, and "
        "cell 5 reads 0.0 V: its figure is wrong, not the cell")


def test_a_fault_that_comes_with_the_amps_is_dated_right() -> None:
    """A scale that goes wrong where the pack comes to rest is not taken for its leads."""
    log = drive()
    is_off = log.elapsed_s >= 600
    amps = np.where(is_off, 0.0, log["current_a"])
    still = {name: np.where(is_off, 3.3, log[name]) for name in log.cells}
    volts = np.where(is_off, 16 * 3.3 * 1.04, log["voltage_v"])
    found = apart(log.having(**still, voltage_v=volts, current_a=amps))

    assert (found.start_s, found.is_to_end) == (600.0, True)
    assert abs(found.apart_v - 0.04 * 16 * 3.3) < 0.05


@pytest.mark.parametrize(("scale", "part"), [(1.05, "(+5 %)"), (0.97, "(-3 %)")])
def test_a_wrong_scale_of_the_pack_volts_is_told(scale: float, part: str) -> None:
    """With its size in percent; which of the two is wrong a voltmeter tells."""
    log = drive()
    [finding] = cell_findings(log.having(voltage_v=log["voltage_v"] * scale))

    assert (finding.kind, finding.verdict) == ("cells_do_not_add_up", "cannot tell yet")
    assert part in finding.words
    assert "voltmeter" in finding.next


@settings(derandomize=True, deadline=None, max_examples=40)
@given(st.floats(-0.9, 0.9))
def test_what_two_honest_measurements_part_by_is_left_alone(percent: float) -> None:
    """Below 1 % of the pack volts nothing is told, whatever its sign."""
    log = drive(300)
    assert find_apart(log.having(voltage_v=log["voltage_v"] * (1 + percent / 100))) is None


def test_two_minutes_are_too_short_within_a_log() -> None:
    """A moment's trouble, such as a bad contact, is not told as a fault of the monitor."""
    log = drive()
    is_off = (log.elapsed_s >= 480) & (log.elapsed_s < 600)
    assert find_apart(log.having(voltage_v=log["voltage_v"] * np.where(is_off, 1.1, 1.0))) is None


def test_a_cell_told_twice_is_named() -> None:
    """The same in every row; cells that merely agree often are left alone."""
    log = drive()
    twins = log.having(cell_09_v=log["cell_04_v"])

    assert find_twins(twins) == [(4, 9)]
    assert [f.kind for f in cell_findings(twins)] == ["cell_told_twice"]
    assert find_twins(log) == []


def test_coarse_cells_that_agree_by_chance_are_no_twins() -> None:
    """Told in tenths of a volt, most cells agree in every row."""
    log = drive()
    coarse = log.having(**{name: np.round(log[name], 1) for name in log.cells})
    assert find_twins(coarse) == []


def test_nothing_is_explained_by_a_wrong_figure() -> None:
    """A cell that always reads 1.7 V ended no pull, and pack volts that begin anew at 32.768 V are
    no open path."""
    log = drive()
    after = np.where(log["current_a"] < -20, log["current_a"], 0.0)
    dead = log.having(current_a=after, cell_05_v=np.full(len(log), 1.7))
    wrapped = log.having(current_a=after, voltage_v=log["voltage_v"] % 32.768)

    for wrong in (dead, wrapped):
        assert {f.kind for f in summarise(wrong).findings} == {"cells_do_not_add_up"}


def test_the_drive_tells_it() -> None:
    """As a line of the text and a finding of the document."""
    summary = summarise(without(drive(), "cell_16_v"))

    assert "cells_do_not_add_up" in {f["kind"] for f in summary.as_json("x")["findings"]}
    assert "as much as one cell" in drive_text(summary)


def test_a_log_without_cells_or_volts_says_nothing() -> None:
    """Nor does one whose rows never hold both."""
    log = drive(300)
    odd = np.arange(len(log)) % 2 == 0
    never = {name: np.where(odd, log[name], np.nan) for name in log.cells}

    assert find_apart(pedal_drive()) is None
    assert find_apart(without(log, "voltage_v")) is None
    volts = np.where(odd, np.nan, log["voltage_v"])
    assert find_apart(log.having(**never, voltage_v=volts)) is None
