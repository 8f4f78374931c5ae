"""Units that no heading tells, found from the figures themselves where they can tell.

Distances on the ground use the sphere of mean radius 6371.0088 km (IUGG 1980, as in Moritz,
"Geodetic Reference System 1980", Journal of Geodesy 74, 2000) and the haversine formula
(Sinnott, "Virtues of the haversine", Sky and Telescope 68, 1984; both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..record import quantity_of
from .foreign import Doubt
from .units import Unit, find_unit

Floats = NDArray[np.float64]

_EARTH_M: Final = 6_371_008.8
#: A unit fits if it brings the figures this near to the way by the place, and the next unit is
#: this many times as far off. Chosen here: the sets in tests/data/small_ev come within 0.06.
_FIT: Final = 0.15
_CLEAR: Final = 1.5
_SPEEDS: Final = ("km/h", "mph", "m/s", "kn")
_MILLI: Final = {"A": "mA", "V": "mV", "Ah": "mAh"}
#: Step between samples over which speed is trusted to last. [s]
_STEP_MAX_S: Final = 10.0


@dataclass(frozen=True, slots=True)
class UnitFinding:
    """A unit found from figures; no unit where they are in the log's own."""

    symbol: str
    unit: Unit | None
    words: str = ""
    doubt: Doubt | None = None


def unit_by_size(column: str, values: Floats) -> UnitFinding:
    """The unit of a column without one, by the size of its figures."""
    quantity = quantity_of(column)
    finite = np.abs(values[np.isfinite(values)])
    middle = float(np.median(finite)) if len(finite) else 0.0
    if quantity.unit in _MILLI and middle > quantity.plausible[1]:
        symbol = _MILLI[quantity.unit]
        return UnitFinding(symbol, find_unit(symbol), f"no unit named; {middle:g} can only "
                           f"be {symbol}")
    if quantity.unit == "%" and len(finite) and 0 < finite.max() <= 1 and (finite % 1 > 0).any():
        return UnitFinding("fraction", find_unit("frac"), doubt=_doubt(
            column, "never exceeds 1", "fractions of 1"))
    if quantity.unit == "m/s":
        return UnitFinding("km/h", find_unit("km/h"), doubt=_doubt(column, "has no unit", "km/h"))
    if quantity.name == "distance_m":
        return UnitFinding("km", find_unit("km"), doubt=_doubt(column, "has no unit", "km"))
    if quantity.unit == "°C" and middle > 45:
        return UnitFinding("°C", None, doubt=_doubt(
            column, f"has no unit and a median of {middle:g}", "°C"))
    return UnitFinding(quantity.unit, None)


def _doubt(column: str, why: str, taken: str) -> Doubt:
    return Doubt("unit", f"The column for {column} {why}.", taken, f"--map {column}=HEADING:UNIT")


def speed_unit_by_place(speed: Floats, elapsed_s: Floats, latitude_deg: Floats,
                        longitude_deg: Floats) -> UnitFinding | None:
    """The unit in which the speed covers the same way as the place does.

    ``None`` if the way is too short (under 200 m), or no unit comes clearly nearest.
    """
    way_m = way_by_place(latitude_deg, longitude_deg)
    step_s = np.diff(elapsed_s)
    use = (step_s > 0) & (step_s <= _STEP_MAX_S)
    covered = float(np.nansum(speed[1:][use] * step_s[use]))
    if way_m < 200 or covered <= 0:
        return None
    units = {symbol: unit for symbol in _SPEEDS if (unit := find_unit(symbol)) is not None}
    misfit = {symbol: abs(np.log(covered * unit.factor / way_m)) for symbol, unit in units.items()}
    best, second = sorted(misfit, key=lambda symbol: misfit[symbol])[:2]
    if misfit[best] > _FIT or misfit[second] < _CLEAR * misfit[best]:
        return None
    unit = units[best]
    return UnitFinding(best, unit, f"no unit named; read as {best} the speed covers "
                       f"{covered * unit.factor / 1000:.1f} km, the place {way_m / 1000:.1f} km")


def way_by_place(latitude_deg: Floats, longitude_deg: Floats) -> float:
    """Length of the track over ground; fixes that are missing are skipped. [m]"""
    there = np.isfinite(latitude_deg) & np.isfinite(longitude_deg) & (
        (latitude_deg != 0) | (longitude_deg != 0))
    north, east = np.radians(latitude_deg[there]), np.radians(longitude_deg[there])
    half = np.sin(np.diff(north) / 2) ** 2 + (
        np.cos(north[1:]) * np.cos(north[:-1]) * np.sin(np.diff(east) / 2) ** 2)
    steps = 2 * _EARTH_M * np.arcsin(np.sqrt(half))
    return float(steps[steps < 1000].sum())
