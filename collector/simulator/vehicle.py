"""The flatbed: road load, series motor, and its two speed controls.

Road load is ``F = m a + C_rr m g cos + 1/2 rho C_d A v |v| + m g sin``. The motor is series wound:
its flux follows the amps and saturates, ``phi(I) = I / (1 + I / I_s)``, so that the wheel force is
``F = eta k phi(I) I`` and the back-EMF ``E = k phi(I) v``.

The *resistor* control puts coils in series with the motor: pack amps are motor amps, and the
coils burn what the motor does not need. The *electronic* control chops: it passes on watts.

References
----------
.. [1] Road load and coefficients: TU Delft open lecture notes; rolling coefficients after
   Carvill, Wong and Taborek.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from .cell import Floats

#: Standard gravity, by definition.
GRAVITY_M_S2: Final = 9.80665
AIR_KG_M3: Final = 1.225
#: Drag area of a small open truck with its driver. [m2]
DRAG_AREA_M2: Final = 1.2
#: Mass with driver, load on the way down and up. [kg]
EMPTY_KG: Final = 520.0
LOAD_DOWN_KG: Final = 60.0
LOAD_UP_KG: Final = 220.0


def road_load_n(mass_kg: Floats | float, speed_m_s: Floats | float, *,
                grade: Floats | float = 0.0, rolling: Floats | float = 0.015,
                acceleration_m_s2: Floats | float = 0.0, head_wind_m_s: Floats | float = 0.0,
                drag_n: Floats | float = 0.0) -> Floats:
    """Force at the wheels that keeps up the motion; negative where brakes must hold. [N]

    ``drag_n`` is whatever else holds the cart back, such as a brake that does not let go.
    """
    slope = 1 / np.sqrt(1 + np.asarray(grade) ** 2)
    wind = np.asarray(speed_m_s) + head_wind_m_s
    air_n = 0.5 * AIR_KG_M3 * DRAG_AREA_M2 * wind * np.abs(wind)
    weight_n = np.asarray(mass_kg) * GRAVITY_M_S2 * slope
    return np.asarray(np.asarray(mass_kg) * acceleration_m_s2 + weight_n * (rolling + grade)
                      + air_n + drag_n)


def coasting_m_s2(mass_kg: float, speed_m_s: float, drag_n: float) -> float:
    """How fast the cart slows on the shore road with nothing driving it."""
    return float(road_load_n(mass_kg, speed_m_s, drag_n=drag_n)) / mass_kg


@dataclass(frozen=True, slots=True)
class SeriesMotor:
    """A series-wound motor with the gear behind it.

    Values chosen here so that a laden climb draws about 45 A on the lane and 75 A on the ramp,
    and that full volts on the last coil, with the wheels held, draw 212 A.
    """

    #: Newtons a square amp before saturation, equally volts a (m/s) amp.
    strength: float = 0.95
    saturation_a: float = 21.0
    resistance_ohm: float = 0.075
    #: Share of the torque that reaches the road.
    gear_efficiency: float = 0.76

    def amps_for(self, force_n: Floats) -> Floats:
        """Motor amps for a wheel force; 0 where nothing has to be driven. [A]"""
        need = np.maximum(force_n, 0.0) / self.gear_efficiency
        bend = need / self.saturation_a
        return np.asarray((bend + np.sqrt(bend ** 2 + 4 * self.strength * need))
                          / (2 * self.strength))

    def force_n(self, amps: Floats) -> Floats:
        """Wheel force at motor amps. [N]"""
        return self.gear_efficiency * self._flux_volts(amps) * amps

    def volts(self, amps: Floats, speed_m_s: Floats) -> Floats:
        """Volts across the motor: back-EMF and its own resistance. [V]"""
        return self._flux_volts(amps) * speed_m_s + amps * self.resistance_ohm

    def amps_behind(self, coil_ohm: Floats | float, volts: Floats | float,
                    speed_m_s: Floats) -> Floats:
        """Amps that flow from ``volts`` through a coil and the turning motor. [A]

        Solves ``volts = k phi(I) v + I R`` for the amps.
        """
        ohm = self.resistance_ohm + np.asarray(coil_ohm)
        square = ohm / self.saturation_a
        line = self.strength * speed_m_s + ohm - np.asarray(volts) / self.saturation_a
        return np.asarray((-line + np.sqrt(line ** 2 + 4 * square * volts)) / (2 * square))

    def _flux_volts(self, amps: Floats) -> Floats:
        return self.strength * amps / (1 + amps / self.saturation_a)


MOTOR: Final = SeriesMotor()
#: Coil in the motor's circuit at each step of the pedal. [ohm]
COILS_OHM: Final = (2.0, 1.0, 0.45, 0.25, 0.16, 0.0)
#: Share of the pack's watts that the electronic control passes on, and its smallest step up.
CHOPPER_EFFICIENCY: Final = 0.92


def resistor_amps(force_n: Floats, speed_m_s: Floats, pack_v: Floats | float,
                  dither: Floats) -> Floats:
    """Pack amps with stepped coils: the driver moves between the two steps that bracket a force.

    Parameters
    ----------
    pack_v
        Volts of the pack under load, a scalar or shape (n,); the steps shift with them. [V]
    dither
        0..1 for each sample; the higher of the two steps is on while it is below the share of
        time for which that step is needed.
    """
    steps = np.stack([np.zeros_like(force_n)] + [
        MOTOR.amps_behind(coil, pack_v, speed_m_s) for coil in COILS_OHM])
    forces = MOTOR.force_n(steps)
    upper = np.clip((forces < force_n).sum(axis=0), 1, len(COILS_OHM))
    row = np.arange(len(force_n))
    low, high = forces[upper - 1, row], forces[upper, row]
    is_high = (np.clip((force_n - low) / (high - low), 0, 1) > dither) & (force_n > 0)
    return np.where(force_n > 0, steps[np.where(is_high, upper, upper - 1), row], 0.0)


def electronic_amps(force_n: Floats, speed_m_s: Floats, pack_v: Floats | float) -> Floats:
    """Pack amps with the electronic control: the motor's watts over the pack's volts."""
    motor_a = MOTOR.amps_for(force_n)
    return np.asarray(MOTOR.volts(motor_a, speed_m_s) * motor_a / CHOPPER_EFFICIENCY / pack_v)
