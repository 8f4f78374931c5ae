"""One cell against published curves and against slow, obvious loops."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.simulator import cell

#: Safari and Delacourt 2011 (J. Electrochem. Soc. 158, A562) electrode functions with the windows
#: of Schimpe et al. 2018 (J. Electrochem. Soc. 165, A181), worked out once from their formulas.
PUBLISHED = [(0, 2.7081), (0.05, 3.0893), (0.10, 3.1987), (0.20, 3.2518), (0.30, 3.2835),
             (0.40, 3.3022), (0.50, 3.3090), (0.60, 3.3134), (0.70, 3.3239), (0.80, 3.3381),
             (0.90, 3.3448), (0.95, 3.3520), (1.0, 3.4219)]


@pytest.mark.parametrize(("soc", "volts"), PUBLISHED)
def test_open_circuit_volts_vs_safari_delacourt(soc: float, volts: float) -> None:
    """The curve meets the published functions to their last digit."""
    assert float(cell.open_circuit_v(soc)) == pytest.approx(volts, abs=6e-5)


@pytest.mark.parametrize(("soc", "slope_mv"), [(0.10, 11.1), (0.50, 0.42), (0.90, 0.60)])
def test_slope_vs_safari_delacourt(soc: float, slope_mv: float) -> None:
    """The slope in millivolts a percent is that of the published functions."""
    assert float(cell.open_circuit_slope_v(soc)) * 10 == pytest.approx(slope_mv, rel=0.03)


def test_graphite_reference_potential_vs_schimpe() -> None:
    """Graphite at half charge stands at 0.123 V, the reference potential Schimpe et al. give."""
    assert float(cell.anode_v(0.0085 + 0.5 * 0.7715)) == pytest.approx(0.123, abs=5e-4)


def test_volts_run_away_at_both_ends() -> None:
    """Outside 0..1 each percent is worth 0.4 V, and volts never fall with charge."""
    soc = np.linspace(-0.04, 1.04, 4000)
    volts = cell.open_circuit_v(soc)

    assert (np.diff(volts) > 0).all()
    assert float(cell.open_circuit_v(1.02) - cell.open_circuit_v(1.01)) == pytest.approx(0.4)
    assert float(cell.open_circuit_v(-0.01) - cell.open_circuit_v(-0.02)) == pytest.approx(0.4)


def test_cold_is_stiff_and_small() -> None:
    """At 3 degC a cell gives 7 % less and a pack with 37 % leads is 45 % stiffer."""
    leads = 1 - 16 * 0.63 / 16

    assert float(cell.capacity_share(3.0)) == pytest.approx(0.93)
    assert float(cell.capacity_share(35.0)) == 1.0
    assert leads + (1 - leads) * float(cell.stiffness(3.0)) == pytest.approx(1.45, abs=0.01)
    assert float(cell.stiffness(20.0)) == 1.0


@settings(derandomize=True, max_examples=60)
@given(st.lists(st.tuples(st.floats(-300, 300), st.floats(0, 900)), min_size=1, max_size=60),
       st.floats(-300, 300))
def test_one_pole_equals_a_loop(steps: list[tuple[float, float]], start: float) -> None:
    """The filter over whole arrays is the recursion, also over long gaps."""
    target, exponent = (np.array(column) for column in zip(*steps, strict=True))
    value, expected = start, []
    for aim, d in steps:
        value = aim + (value - aim) * np.exp(-d)
        expected.append(value)

    assert cell.one_pole(target, exponent, start) == pytest.approx(np.array(expected), abs=1e-7)


def test_one_pole_over_a_long_day_equals_a_loop() -> None:
    """Many blocks one after the other lose no accuracy."""
    rng = np.random.default_rng(0)
    target, exponent = rng.normal(0, 50, 30_000), np.full(30_000, 1 / 15)
    value, expected = 3.0, np.empty(30_000)
    for k in range(30_000):
        value = target[k] + (value - target[k]) * np.exp(-exponent[k])
        expected[k] = value

    assert np.abs(cell.one_pole(target, exponent, 3.0) - expected).max() < 1e-9
