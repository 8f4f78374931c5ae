"""Energy a distance from mass, speed and rolling: a first figure before anything is logged."""

from __future__ import annotations

import math
from typing import Final

#: Standard gravity. [m/s2]
GRAVITY: Final = 9.80665
#: Air at 15 degC and sea level. [kg/m3]
AIR_KG_M3: Final = 1.225


def road_load_n(mass_kg: float, speed_m_s: float, rolling: float, drag_area_m2: float,
                rise: float = 0.0) -> float:
    """``F = C_rr m g cos(a) + rho C_d A v^2 / 2 + m g sin(a)`` at a steady speed. [N]

    Parameters
    ----------
    rolling
        Rolling coefficient: about 0.01 to 0.02 on concrete, 0.04 on loose gravel (Carvill,
        *Mechanical Engineer's Data Handbook*, read second-hand).
    drag_area_m2
        ``C_d A``. [m2]
    rise
        Height per way along the slope, 0.05 for 5 %.
    """
    weight_n = mass_kg * GRAVITY
    return (rolling * weight_n * math.sqrt(1 - rise**2) + weight_n * rise
            + AIR_KG_M3 * drag_area_m2 * speed_m_s**2 / 2)


def wh_per_km(force_n: float, drive_efficiency: float = 1.0) -> float:
    """``F / (3.6 eta)``: a newton over a kilometre is 1 / 3.6 Wh. [Wh/km]"""
    return force_n / 3.6 / drive_efficiency
