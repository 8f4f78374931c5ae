"""The rest curve of iron phosphate."""

from __future__ import annotations

import pytest

from analysis.parts.iron_phosphate import REST_CELL_V, percent_at, rest_cell_v
from collector.simulator.cell import anode_v, cathode_v


@pytest.mark.parametrize(("percent", "volts"), REST_CELL_V)
def test_the_table_is_the_published_functions(percent: float, volts: float) -> None:
    """Safari and Delacourt 2011 with the windows of Schimpe et al. 2018, evaluated anew."""
    soc = percent / 100
    found = cathode_v(0.916 - 0.871 * soc) - anode_v(0.0085 + 0.7715 * soc)

    assert float(found) == pytest.approx(volts, abs=1e-4)


@pytest.mark.parametrize("percent", [0.0, 3.0, 50.0, 97.0, 100.0])
def test_volts_and_percent_are_each_others_inverse(percent: float) -> None:
    """Within the table."""
    assert percent_at(rest_cell_v(percent)) == pytest.approx(percent)


def test_the_middle_is_flat() -> None:
    """From 40 to 90 % a cell rises by less than 50 mV: why volts tell no charge there."""
    assert rest_cell_v(90.0) - rest_cell_v(40.0) < 0.05
