"""Amp-hours ahead of the mates, from the shape of the volts."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.cells.curves import cell_lead
from collector.simulator.cell import open_circuit_v

CAPACITY_AH = 100.0


def curves(charge_ah: np.ndarray, ahead_ah: list[float], error_v: float = 0.0) -> np.ndarray:
    """Eight cells on the published open-circuit curve, the first ones ahead."""
    ahead = np.zeros(8)
    ahead[: len(ahead_ah)] = ahead_ah
    volts = open_circuit_v((charge_ah[:, None] + ahead) / CAPACITY_AH)
    volts[:, 0] += error_v
    return volts


@settings(derandomize=True, max_examples=25, deadline=None)
@given(st.floats(-3, 3), st.floats(-0.004, 0.004))
def test_a_lead_near_full_is_found_whatever_its_sense_line_says(ahead: float, error: float) -> None:
    """A cell ahead by so many amp-hours, its figure off by some millivolts (Safari 2011 curve)."""
    charge = np.linspace(88, 99, 2000)
    lead = cell_lead(charge, curves(charge, [ahead], error))

    assert lead.ahead_ah[0] == pytest.approx(ahead, abs=max(0.15, 0.12 * abs(ahead)))
    assert np.abs(lead.ahead_ah[1:]).max() < 0.05


@settings(derandomize=True, max_examples=15, deadline=None)
@given(st.floats(-3, 3))
def test_the_same_near_empty_on_a_falling_count(ahead: float) -> None:
    """A discharge counts down; the lead keeps its sign."""
    charge = np.linspace(13, 1.5, 2000)
    lead = cell_lead(charge, curves(charge, [ahead]))

    assert lead.ahead_ah[0] == pytest.approx(ahead, abs=max(0.15, 0.15 * abs(ahead)))


@pytest.mark.parametrize("ahead", [-2.0, 0.8, 2.0])
def test_what_amps_leave_in_all_cells_pulls_no_lead_to_zero(ahead: float) -> None:
    """8 mV of pulses common to all, near full: the lead is found, and less sure than without."""
    charge = np.linspace(99, 88, 3000)
    volts = curves(charge, [ahead])
    pulses = 0.008 * np.sign(np.sin(np.arange(3000) / 25.0))[:, None]
    still, moved = (cell_lead(charge, v, is_varying=True) for v in (volts, volts + pulses))
    pulled = cell_lead(charge, volts + pulses)

    assert abs(moved.ahead_ah[0] - ahead) < 0.3 * abs(ahead)
    assert abs(moved.ahead_ah[0] - ahead) < 2 * np.hypot(moved.sd_ah[0], 0.2 * abs(ahead))
    assert moved.sd_ah[0] > still.sd_ah[0]
    assert abs(pulled.ahead_ah[0] - ahead) > abs(moved.ahead_ah[0] - ahead)


def test_the_flat_middle_knows_how_little_it_knows() -> None:
    """Between 80 and 90 % the curve is all but flat: no lead is sure, and none is far off."""
    charge = np.linspace(80, 90, 2000)
    rng = np.random.default_rng(1)
    lead = cell_lead(charge, curves(charge, [0.0]) + rng.normal(0, 0.0005, (2000, 8)))
    told = np.isfinite(lead.ahead_ah)

    assert not (lead.sd_ah[told] < 0.5).any()
    assert (np.abs(lead.ahead_ah[told]) < 3 * lead.sd_ah[told]).all()


def test_cells_in_another_order_give_the_same_leads() -> None:
    """No cell is special."""
    charge = np.linspace(88, 99, 500)
    volts = curves(charge, [1.0, -0.5, 0.3])
    lead, turned = cell_lead(charge, volts), cell_lead(charge, volts[:, ::-1])

    assert lead.ahead_ah[::-1] == pytest.approx(turned.ahead_ah)


def test_too_few_figures_give_no_lead() -> None:
    """A curve of twenty rows is none."""
    charge = np.linspace(88, 99, 20)

    assert np.isnan(cell_lead(charge, curves(charge, [1.0])).ahead_ah).all()
