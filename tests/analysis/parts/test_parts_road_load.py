"""Road load and energy a distance."""

from __future__ import annotations

import pytest

from analysis.parts.road_load import road_load_n, wh_per_km

TWELVE_MPH = 12 * 0.44704
KM_PER_MILE = 1.609344


@pytest.mark.parametrize(("rolling", "wh_per_mile"), [(0.015, 42.3), (0.02, 53.3), (0.055, 130)])
def test_road_load_worked_by_hand(rolling: float, wh_per_mile: float) -> None:
    """500 kg, 1.2 m2, 12 mph on the level; the formula as in lecture notes of TU Delft."""
    force = road_load_n(500.0, TWELVE_MPH, rolling, 1.2)

    assert wh_per_km(force) * KM_PER_MILE == pytest.approx(wh_per_mile, rel=3e-3)


def test_force_and_power_at_the_wheel() -> None:
    """94.67 N and 507 W for the first of them, at 5.36 m/s."""
    force = road_load_n(500.0, 5.36, 0.015, 1.2)

    assert force == pytest.approx(94.67, abs=0.01)
    assert force * 5.36 == pytest.approx(507, abs=0.5)


def test_a_slope_lifts_the_weight() -> None:
    """Without rolling or air, ten metres up take m g h, whatever the slope."""
    force = road_load_n(500.0, 0.0, 0.0, 0.0, rise=0.1)

    assert force * 100 == pytest.approx(500 * 9.80665 * 10)


def test_losses_raise_the_consumption() -> None:
    """Half the energy arrives: twice is drawn."""
    assert wh_per_km(90.0, 0.5) == pytest.approx(50.0)
