"""Energy by speed, and what a resistor control burns at least."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from analysis.ahead.consumption import is_drive
from analysis.ahead.speed_bands import LogBands, bands_digest, resistor_waste, speed_bands
from analysis.estimate import Estimate, NoEstimate
from collector.simulator import driving, vehicle
from tests.analysis.made_logs import log
from tests.analysis.made_trips import CONTROLLER, SEEDS, lived

SWAP_S = datetime(2026, 6, 12, tzinfo=UTC).timestamp()


def steady(speed_kmh: float, amps: float, seconds: int = 900) -> LogBands:
    """A log at one speed and one draw of 50 V."""
    return bands_digest(log(np.arange(float(seconds)), current_a=np.full(seconds, -amps),
                            voltage_v=np.full(seconds, 50.0),
                            speed_m_s=np.full(seconds, speed_kmh / 3.6)))


def test_bands_join_the_energy_of_logs() -> None:
    """Energy, time and distance of a band are sums over the logs."""
    band, = speed_bands([steady(11.0, 20.0), steady(11.0, 40.0)])

    assert (band.from_kmh, band.to_kmh) == (10.0, 12.0)
    assert band.energy_wh == pytest.approx(2 * 899 * 50 * 30 / 3600, rel=1e-3)
    assert band.wh_per_km == pytest.approx(1500 / 11.0, rel=1e-3)
    assert band.mean_w == pytest.approx(1500, rel=1e-3)


def test_half_the_speed_at_the_same_amps_burns_half_in_the_coils() -> None:
    """With pack volts fixed, a series motor needs volts in proportion to its speed."""
    slow, fast = speed_bands([steady(5.0, 22.0), steady(10.5, 26.0)])

    assert slow.least_burnt == pytest.approx(1 - 5.0 / 10.5, rel=1e-3)
    assert fast.least_burnt == 0.0


def test_a_band_hardly_driven_is_left_out() -> None:
    """Five minutes in all are needed."""
    assert speed_bands([steady(11.0, 20.0, seconds=200)]) == ()


def test_without_speeds_there_is_no_waste_to_tell() -> None:
    """One speed alone has nothing to be compared with."""
    assert isinstance(resistor_waste([steady(11.0, 20.0)]), NoEstimate)
    assert isinstance(resistor_waste([LogBands(())]), NoEstimate)


def true_waste() -> dict[int, float]:
    """Share burnt in the coils by band of 2 km/h, from the simulator's own motor."""
    rng, energy, burnt = np.random.default_rng(1), np.zeros(12), np.zeros(12)
    for is_up in (True, False) * 10:
        ride = driving.trip_up(driving.Errand(), rng, 1.0) if is_up else driving.trip_down(
            driving.Errand(), rng, 1.0)
        amps = vehicle.resistor_amps(ride.force_n, ride.speed_m_s, 52.3, ride.dither)
        moving = ride.speed_m_s > 0.3
        band = (ride.speed_m_s * 3.6 // 2).astype(int)
        np.add.at(energy, band[moving], (52.3 * amps)[moving])
        spare_v = 52.3 - vehicle.MOTOR.volts(amps, ride.speed_m_s)
        np.add.at(burnt, band[moving], (spare_v * amps)[moving])
    return {2 * k: float(burnt[k] / energy[k]) for k in range(12) if energy[k] > 0}


@pytest.mark.slow
@pytest.mark.parametrize("seed", SEEDS)
def test_the_least_waste_stays_below_the_truth_and_finds_the_crawl(seed: int) -> None:
    """Before June the resistor burns most at the crawl; the bound never says more than is so."""
    logs = [d.of(LogBands) for d in lived(seed, CONTROLLER)
            if is_drive(d) and d.start_s < SWAP_S]
    truth = true_waste()
    bands = {int(b.from_kmh): b for b in speed_bands(logs)}
    whole = resistor_waste(logs)

    assert all(b.least_burnt <= truth[k] + 0.05 for k, b in bands.items())
    assert bands[2].least_burnt > 0.6
    assert bands[2].mean_w == pytest.approx(820, rel=0.2)
    assert isinstance(whole, Estimate)
    assert 10 < whole.low < 32
