"""Where the way from jetty to yard lies on the map: invented, far out on the open sea."""

from __future__ import annotations

from typing import Final

import numpy as np

from .cell import Floats
from .route import SECTIONS, WAY_M, elevation_m

#: Where the jetty stands. No island is there.
_JETTY_DEG: Final = (47.0, -20.0)
#: Which way each section of the route leads, from north over east. [deg]
_HEADINGS_DEG: Final = (80.0, 10.0, 50.0)
#: The earth's mean radius R1. [m] (H. Moritz, Geodetic Reference System 1980)
_EARTH_M: Final = 6_371_008.8

_BORDERS_M: Final = np.cumsum([0.0, *(section.length_m for section in SECTIONS)])
_NORTH_M: Final = np.cumsum([0.0, *(
    s.length_m * np.cos(np.radians(h)) for s, h in zip(SECTIONS, _HEADINGS_DEG, strict=True))])
_EAST_M: Final = np.cumsum([0.0, *(
    s.length_m * np.sin(np.radians(h)) for s, h in zip(SECTIONS, _HEADINGS_DEG, strict=True))])


def places(covered_m: Floats, start_m: float) -> dict[str, Floats]:
    """Place and height of a cart that goes to and fro between jetty and yard.

    Parameters
    ----------
    covered_m
        Distance covered, shape (n,). [m]
    start_m
        Where it set out, from the jetty on; coming back counts on from the yard. [m]
    """
    position_m = WAY_M - np.abs((start_m + covered_m) % (2 * WAY_M) - WAY_M)
    north_m = np.interp(position_m, _BORDERS_M, _NORTH_M)
    east_m = np.interp(position_m, _BORDERS_M, _EAST_M)
    latitude, longitude = _JETTY_DEG
    around_m = _EARTH_M * np.cos(np.radians(latitude))
    return {"latitude_deg": latitude + np.degrees(north_m / _EARTH_M),
            "longitude_deg": longitude + np.degrees(east_m / around_m),
            "elevation_m": np.round(elevation_m(position_m), 1)}
