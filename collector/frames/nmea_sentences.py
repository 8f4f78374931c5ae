"""Sentences of NMEA 0183 as a receiver and a pack's transducers would send them. For the simulator.

The way back of ``nmea``: tokens to what stands between a sentence's start and its check. Fields of
what is not told, such as the time of a receiver without a clock, stay empty, as the form allows.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from .nmea import M_S_PER_KN

#: Type letter of a transducer by its unit; of others "generic".
_TYPES: Final = {"V": "U", "A": "I", "C": "C"}


def sentences(tokens: Mapping[str, str]) -> list[str]:
    """The sentences that tell these tokens: RMC, VTG, GGA, and one XDR for all transducers."""
    place = _place(tokens)
    speed_m_s = tokens.get("speed_m_s")
    knots = f"{float(speed_m_s) / M_S_PER_KN:.4f}" if speed_m_s else ""
    found = []
    if place:
        found.append(f"GPRMC,,A,{place},{knots},,,,,A")
    if speed_m_s:
        found.append(f"GPVTG,,T,,M,{knots},N,{float(speed_m_s) * 3.6:.4f},K,A")
    if place and (height := tokens.get("elevation_m")):
        found.append(f"GPGGA,,{place},1,,,{height},M,,M,,")
    figures = [f"{_TYPES.get(unit, 'G')},{value},{unit},{name}"
               for key, value in tokens.items() for name, dot, unit in [key.rpartition(".")] if dot]
    return [*found, *([f"IIXDR,{','.join(figures)}"] if figures else [])]


def _place(tokens: Mapping[str, str]) -> str:
    """Latitude and longitude in degrees and minutes written together; empty without both."""
    try:
        return ",".join((_angle(float(tokens["latitude_deg"]), 2, "NS"),
                         _angle(float(tokens["longitude_deg"]), 3, "EW")))
    except KeyError:
        return ""


def _angle(degrees: float, digits: int, halves: str) -> str:
    whole, minutes = divmod(round(abs(degrees) * 60, 6), 60)
    return f"{int(whole):0{digits}}{minutes:09.6f},{halves[degrees < 0]}"
