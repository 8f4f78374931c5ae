"""Lead-acid banks."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.parts.lead_acid import (
    EXPONENTS,
    REST_BLOCK_V,
    LeadBank,
    hydrogen_m3_per_h,
    lead_cold_share,
    lead_rest_cell_v,
)
from analysis.parts.peukert import RatedCapacity, exponent_of

#: A sign maker's manual: percent and volts of a rested 12 V block at 25 degC.
OTHER_TABLE = ((100, 12.70), (90, 12.58), (80, 12.46), (70, 12.36), (60, 12.28), (50, 12.20),
               (40, 12.12), (30, 12.02), (20, 11.88), (10, 11.72))


def test_a_riders_figure_lies_within_the_published_exponents() -> None:
    """A forum reports about 109 Ah in 2 h from 170 Ah over 20 h: k between those of flooded."""
    low, _, high = EXPONENTS["flooded"]
    k = exponent_of(170.0, 20.0, 109.0, 2.0)

    assert low < k < high
    assert RatedCapacity(170.0, 20.0, k).capacity_at_ah(54.5) == pytest.approx(109.0)


@pytest.mark.parametrize("both", [
    {}, {"rated_ah": 170.0}, {"rated_ah": 170.0, "rated_h": 20.0, "one_amp_ah": 250.0},
    {"rated_h": 20.0, "one_amp_ah": 250.0}])
def test_the_two_conventions_do_not_mix(both: dict[str, float]) -> None:
    """One capacity, and which one."""
    with pytest.raises(ValueError, match="do not mix"):
        LeadBank(24, **both)


def test_hydrogen_vs_a_published_example() -> None:
    """25 A into 24 cells: 0.161 cubic feet a minute, 16.1 of air (IEEE 484, read second-hand)."""
    cubic_feet_per_min = hydrogen_m3_per_h(25.0, 24) / 60 / 0.3048**3

    assert cubic_feet_per_min == pytest.approx(0.161, abs=5e-4)
    # 0.457 l for each amp-hour and cell, quoted as 0.46 elsewhere.
    assert 1000 * hydrogen_m3_per_h(1.0, 1) == pytest.approx(0.457, abs=1e-3)


def test_rest_volts_of_lead_agree_between_two_tables_only_roughly() -> None:
    """Within 0.2 V a block, and within 10 points from 40 % up: never claim better."""
    percent, volts = zip(*REST_BLOCK_V, strict=True)
    for pct, block_v in OTHER_TABLE:
        assert abs(6 * lead_rest_cell_v(pct) - block_v) <= 0.2 + 0.05 * (pct < 20)
        if pct >= 40:
            assert abs(float(np.interp(block_v, volts, percent)) - pct) <= 10


#: IEEE 485, table 1: factor by degF (from memory; its printed cubic is what the code holds).
FACTORS = ((25, 1.52), (40, 1.30), (50, 1.19), (60, 1.11), (70, 1.04), (77, 1.00), (80, 0.98),
           (90, 0.94), (100, 0.91), (110, 0.88), (120, 0.86))


@pytest.mark.parametrize(("fahrenheit", "factor"), FACTORS)
def test_cold_share_vs_ieee_485(fahrenheit: float, factor: float) -> None:
    """The share is one over the standard's temperature factor, within 0.012 of its table."""
    assert 1 / lead_cold_share((fahrenheit - 32) / 1.8) == pytest.approx(factor, abs=0.012)


def test_cold_share_ends_with_the_table() -> None:
    """The cubic turns far from its table; nothing is read off it there."""
    assert lead_cold_share(-30.0) == lead_cold_share(-3.9)
    assert lead_cold_share(90.0) == lead_cold_share(51.7)
