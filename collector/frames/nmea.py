"""Sentences of NMEA 0183: speed and place of a receiver, and figures of transducers.

The frame's start, check and end are an ordinary line with an ``xor8`` of two hexadecimal digits
behind ``*``; this module reads what stands between. Field places as in the open description of
the sentences by the gpsd project (``www/NMEA.adoc``). The talker, the two letters in front of a
sentence's type, is not looked at.

Tokens: ``latitude_deg``, ``longitude_deg``, ``elevation_m`` and ``speed_m_s``, and of a transducer
(XDR) its name and unit, such as ``PACK.V``. A sentence that says it is not valid has none.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Final

Tokens = dict[str, str]

_NUMBER: Final = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)", re.ASCII)
_ANGLE: Final = re.compile(r"(\d{1,3})(\d{2}(?:\.\d*)?)", re.ASCII)
_HALVES: Final = {"N": ("latitude_deg", 1, 90), "S": ("latitude_deg", -1, 90),
                  "E": ("longitude_deg", 1, 180), "W": ("longitude_deg", -1, 180)}
#: A knot is a nautical mile of 1852 m an hour (NIST Special Publication 811, 2008, B.8).
M_S_PER_KN: Final = 1852 / 3600
#: Sentences that have the word over others on the same figures, the first over all.
_RANK: Final = {"RMC": 0, "GGA": 1, "VTG": 2, "XDR": 3}
#: So many sentences long: far more than a receiver sends for one fix (common practice, no
#: source), and few enough that a receiver that changes its sentences is soon heard again.
_WORD_HOLDS: Final = 40


class SentenceReader:
    """Reads one receiver's sentences in their order.

    One fix is told in several sentences within a tenth of a second. A figure is taken from one
    kind of them only: doubled, it would look like readings a moment apart and then a gap.
    """

    def __init__(self) -> None:
        self._count = 0
        #: Token -> sentence that has the word, and when it was last heard.
        self._word: dict[str, tuple[str, int]] = {}

    def tokens(self, text: str) -> Tokens:
        """What a sentence says, given without start and check."""
        self._count += 1
        address, *fields = (field.strip() for field in text.split(","))
        kind = address[-3:]
        read = _READ.get(kind)
        found = read(fields) if read and len(address) == 5 else {}
        return {token: value for token, value in found.items() if self._has_word(kind, token)}

    def _has_word(self, kind: str, token: str) -> bool:
        other, heard = self._word.get(token, (kind, 0))
        if _RANK[other] < _RANK[kind] and self._count - heard <= _WORD_HOLDS:
            return False
        self._word[token] = kind, self._count
        return True


def _recommended_minimum(fields: list[str]) -> Tokens:
    """RMC: time, status, latitude, N/S, longitude, E/W, knots, course, date, ..."""
    if len(fields) < 9 or fields[1] != "A" or fields[11:12] == ["N"]:
        return {}
    return _place(fields[2:6]) | _speed(fields[6], M_S_PER_KN)


def _fix(fields: list[str]) -> Tokens:
    """GGA: time, latitude, N/S, longitude, E/W, quality, satellites, dilution, metres, M, ..."""
    if len(fields) < 10 or fields[5] in ("", "0"):
        return {}
    height = _number("elevation_m", fields[8]) if fields[9] == "M" else {}
    return _place(fields[1:5]) | height


def _course_and_speed(fields: list[str]) -> Tokens:
    """VTG: course, T, course, M, knots, N, kilometres an hour, K, mode."""
    if len(fields) < 8 or fields[8:9] == ["N"] or fields[5] != "N" or fields[7] != "K":
        return {}
    return _speed(fields[4], M_S_PER_KN) or _speed(fields[6], 1 / 3.6)


def _transducers(fields: list[str]) -> Tokens:
    """XDR: type, value, unit, name, and again for each transducer.

    ``P`` is percent, but of a pressure (type ``P``) it is the pascal.
    """
    found: Tokens = {}
    for kind, value, unit, name in zip(*(fields[n::4] for n in range(4)), strict=False):
        found |= _number(f"{name}.{'Pa' if kind == unit == 'P' else unit}", value)
    return found


def _place(fields: list[str]) -> Tokens:
    """Latitude and longitude, both or none: ddmm.mm, N, dddmm.mm, E."""
    found = [_degrees(*fields[:2]), _degrees(*fields[2:])]
    names = [name for name, _ in found]
    return dict(found) if names == ["latitude_deg", "longitude_deg"] else {}


def _degrees(angle: str, half: str) -> tuple[str, str]:
    """A place as decimal degrees, from degrees and minutes written together."""
    match = _ANGLE.fullmatch(angle)
    name, sign, most = _HALVES.get(half, ("", 1, 0))
    if match is None or float(match[2]) >= 60:
        return "", ""
    degrees = sign * (int(match[1]) + float(match[2]) / 60)
    return (name, f"{degrees:.8f}") if abs(degrees) <= most else ("", "")


def _speed(text: str, m_s: float) -> Tokens:
    return {"speed_m_s": f"{float(text) * m_s:.6f}"} if _NUMBER.fullmatch(text) else {}


def _number(token: str, text: str) -> Tokens:
    return {token: text} if _NUMBER.fullmatch(text) else {}


_READ: Final[Mapping[str, Callable[[list[str]], Tokens]]] = {
    "RMC": _recommended_minimum, "GGA": _fix, "VTG": _course_and_speed, "XDR": _transducers}
