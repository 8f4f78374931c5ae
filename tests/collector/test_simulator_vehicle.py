"""Road load, motor and controls against published figures and against their own physics."""

import numpy as np
import pytest

from collector.simulator import route, vehicle
from collector.simulator.driving import (
    Control,
    Errand,
    Ride,
    pack_amps,
    round_trip,
    standing,
    trip_up,
)

PACK_V = 52.0


def test_road_load_vs_worked_example() -> None:
    """500 kg, C_rr 0.015, C_dA 1.2 m2, 1.225 kg/m3, 5.36 m/s (12 mph): 94.67 N, 507 W,
    42.3 Wh/mi.

    Road load as in the TU Delft lecture notes; worked out by hand from that equation.
    """
    speed = 5.36
    force = float(vehicle.road_load_n(500, speed, rolling=0.015))

    assert force == pytest.approx(94.67, abs=0.005)
    assert force * speed == pytest.approx(507, abs=0.5)
    assert force * 1609.344 / 3600 == pytest.approx(42.3, abs=0.05)


def test_a_slope_lifts_the_weight() -> None:
    """Going up 100 m takes m g h more than going level, going down as much less."""
    grade = 0.105
    way_m = 100 / np.sin(np.arctan(grade))
    up = float(vehicle.road_load_n(740, 0, grade=grade, rolling=0)) * way_m
    down = float(vehicle.road_load_n(740, 0, grade=-grade, rolling=0)) * way_m

    assert up == pytest.approx(740 * 9.80665 * 100)
    assert down == pytest.approx(-up)


def test_motor_force_and_amps_are_inverse() -> None:
    """Amps for a force give that force; brakes need no amps."""
    force = np.array([0.0, 5.0, 120.0, 460.0, 900.0])

    assert vehicle.MOTOR.force_n(vehicle.MOTOR.amps_for(force)) == pytest.approx(force)
    assert vehicle.MOTOR.amps_for(np.array([-300.0])).tolist() == [0.0]


def test_motor_behind_a_coil_takes_up_the_volts() -> None:
    """Coil and motor share the volts of the pack."""
    speed = np.array([0.0, 1.0, 3.9])
    amps = vehicle.MOTOR.amps_behind(0.45, PACK_V, speed)

    assert amps * 0.45 + vehicle.MOTOR.volts(amps, speed) == pytest.approx(PACK_V)


def test_motor_returns_less_than_it_takes() -> None:
    """Mechanical watts at the road are below the electrical ones at every load."""
    amps, speed = np.linspace(1, 120, 50), 2.5
    mechanical = vehicle.MOTOR.force_n(amps) * speed

    assert (mechanical < vehicle.MOTOR.volts(amps, np.array(speed)) * amps).all()


def test_a_stalled_motor_on_the_last_coil_as_told() -> None:
    """Wheels against the kerb: about 212 A, the pack's own 16 mohm in the way."""
    amps = vehicle.MOTOR.amps_behind(vehicle.COILS_OHM[-2] + 0.016, 53.2, np.array([0.0]))

    assert amps[0] == pytest.approx(212, abs=1)


def trip(control: Control, **errand: float) -> tuple[Ride, np.ndarray]:
    ride = round_trip(Errand(**errand), np.random.default_rng(3), 0.2)
    return ride, -pack_amps(ride, control, PACK_V, 0.0, 0.2)[0]


def test_resistor_moves_the_cart_as_hard_as_asked() -> None:
    """Between two steps the mean force is the one the road asks for."""
    force, speed = np.full(900, 250.0), np.full(900, 3.0)
    dither = np.abs(2 * ((np.arange(900) / 45) % 1) - 1)
    amps = vehicle.resistor_amps(force, speed, PACK_V, dither)

    assert vehicle.MOTOR.force_n(amps).mean() == pytest.approx(250, rel=0.01)
    assert len(set(amps.round(6))) == 2


def test_crawling_with_coils_burns_most_of_it() -> None:
    """At 4 km/h the coils take several times what the chopper passes on."""
    force, speed = np.full(900, 85.0), np.full(900, 4 / 3.6)
    dither = np.abs(2 * ((np.arange(900) / 45) % 1) - 1)
    coils = vehicle.resistor_amps(force, speed, PACK_V, dither).mean()
    chopper = vehicle.electronic_amps(force, speed, PACK_V).mean()

    assert coils > 3.5 * chopper


def test_controller_saves_a_quarter_as_told() -> None:
    """The same round trip takes about 24 % less energy with the electronic control."""
    _, resistor = trip("resistor")
    _, electronic = trip("electronic")

    assert electronic.sum() / resistor.sum() - 1 == pytest.approx(-0.24, abs=0.02)


def test_downhill_takes_nothing_and_gives_nothing() -> None:
    """A series motor brings nothing back: no amps while the brakes hold."""
    ride, amps = trip("electronic")

    assert (amps[ride.force_n <= 0] == 0).all()
    assert (amps >= 0).all()


def test_a_round_trip_is_twice_the_way() -> None:
    """1.9 km there and back, ending as high as it began."""
    ride, _ = trip("electronic")

    assert ride.covered_m[-1] == pytest.approx(2 * route.WAY_M, abs=1)
    assert ride.elevation_m[-1] == pytest.approx(ride.elevation_m[0], abs=0.1)


def test_energy_at_the_wheels_covers_the_climb() -> None:
    """Force times way is lifting, rolling and air, worked out section by section."""
    ride = trip_up(Errand(), np.random.default_rng(3), 0.1)
    work = float(np.sum(ride.force_n * ride.speed_m_s) * 0.1)
    lift = 740 * 9.80665 * (130 * 0.105 + 480 * 0.032)
    roll = 740 * 9.80665 * (470 * 0.015 + 480 * 0.030)
    air = 0.5 * 1.225 * 1.2 * (300 * (14 / 3.6) ** 2 + 130 * (7 / 3.6) ** 2 + 480 * (10 / 3.6) ** 2)

    assert work == pytest.approx(lift + roll + air, rel=0.015)


def test_rides_join_without_a_jump() -> None:
    """Distance goes on counting over a stop."""
    joined = Ride.joined([trip("resistor")[0], standing(10, 0.2), trip("resistor")[0]])

    assert (np.diff(joined.covered_m) >= 0).all()
    assert joined.covered_m[-1] == pytest.approx(3800, abs=2)
