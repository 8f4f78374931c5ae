"""What several logs of a logbook say together went wrong: brakes, sensors, charges, parking."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from ..digest import LogDigest
from ..finding import DatedFinding
from ..incidents.charge_stop import LogStops, find_braking_into_full, find_early_stops
from .drag import LogCoasting, find_drag
from .pack_sensor import LogWarmth, find_loose_sensor
from .parked import PARKED_PARTS, find_parked

#: Parts of the digests that happenings need.
HAPPENING_PARTS: Final = (*PARKED_PARTS, "coasting", "warmth", "stops")


def find_happenings(digests: Sequence[LogDigest]) -> list[DatedFinding]:
    """Every such finding, in order of time.

    Parameters
    ----------
    digests
        Of one pack, oldest first, with the parts ``HAPPENING_PARTS``.
    """
    stops = [(d.start_s, d.of(LogStops)) for d in digests]
    found = [*find_early_stops(stops), *find_braking_into_full(stops),
             *find_parked(digests).episodes,
             *find_loose_sensor([(d.start_s, d.of(LogWarmth)) for d in digests]),
             *find_drag([(d.start_s, d.of(LogCoasting)) for d in digests])]
    return sorted(found, key=lambda finding: finding.start_s)
