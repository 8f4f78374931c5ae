"""Track points of a GPX file (GPX 1.0 and 1.1, Topografix): place, height, time and speed.

Points of all tracks and segments are joined in the order of the file; points without a time are
left out and counted. Routes and way points are not tracks. The file is read by expat, and one that
declares entities is refused: a few lines of them can unpack to gigabytes.
"""

from __future__ import annotations

from typing import Final
from xml.parsers import expat

import pyarrow as pa

from ..errors import ForeignFileError

#: Column of the table -> element of a track point. GPX 1.0 has the speed, in metres a second, as
#: an element of its own; in 1.1 it stands among the extensions.
COLUMNS: Final = {"time": "time", "elevation [m]": "ele", "speed [m/s]": "speed"}
PLACE: Final = {"latitude": "lat", "longitude": "lon"}
_FIGURES: Final = ("ele", "speed", "lat", "lon")


def is_gpx(data: bytes) -> bool:
    """Whether bytes begin as a GPX document does."""
    head = data[:2000].lstrip(b"\xef\xbb\xbf \t\r\n")
    return head.startswith(b"<") and b"<gpx" in head


class _TrackPoints:
    """Gathers the points while expat reads."""

    def __init__(self, where: str) -> None:
        self.points: list[dict[str, str]] = []
        self._where = where
        self._point: dict[str, str] | None = None
        self._text: list[str] = []

    def parse(self, data: bytes) -> None:
        parser = expat.ParserCreate(namespace_separator=" ")
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self._text.append
        parser.StartDoctypeDeclHandler = self._refuse
        parser.EntityDeclHandler = self._refuse
        try:
            parser.Parse(data, True)
        except expat.ExpatError as error:
            raise ForeignFileError(
                f"{self._where}, line {error.lineno}", f"not GPX: {expat.ErrorString(error.code)}",
                "it is cut off or damaged; save the track again") from error

    def _refuse(self, *_declared: object) -> None:
        raise ForeignFileError(self._where, "a GPX file that declares entities",
                               "no receiver writes such; save the track again as plain GPX")

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self._text.clear()
        if name.rpartition(" ")[2] == "trkpt":
            self._point = dict(attributes)

    def _end(self, name: str) -> None:
        element = name.rpartition(" ")[2]
        if self._point is None:
            return
        if element == "trkpt":
            self.points.append(self._point)
            self._point = None
        elif element in COLUMNS.values():
            self._point[element] = "".join(self._text).strip()
        self._text.clear()


def read_track(data: bytes, where: str) -> dict[str, pa.Array]:
    """The track points of a GPX file as columns by heading: text for times, else float64.

    Raises
    ------
    ForeignFileError
        If it is not well formed, declares entities, or holds no track points.
    """
    gathered = _TrackPoints(where)
    gathered.parse(data)
    if not gathered.points:
        raise ForeignFileError(where, "a GPX file without track points",
                               "way points and routes tell no time; save the recorded track")
    return {heading: _column(gathered.points, element)
            for heading, element in (COLUMNS | PLACE).items()}


def _column(points: list[dict[str, str]], element: str) -> pa.Array:
    if element not in _FIGURES:
        return pa.array([point.get(element) for point in points], pa.string())
    return pa.array([_figure(point.get(element)) for point in points], pa.float64())


def _figure(text: str | None) -> float | None:
    try:
        value = float(text) if text else None
    except ValueError:
        return None
    return value if value is not None and abs(value) < float("inf") else None
