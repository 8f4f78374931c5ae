"""Places and speed at the moments of a pack's samples, from a track or a receiver beside it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np

from ..telemetry import Floats, Telemetry
from ..timebase import GAP_STEPS, usual_step_s
from .track import PLACE, with_speed

#: What a track can add to a log.
LAYER_COLUMNS: Final = (*PLACE, "elevation_m", "speed_m_s")


def with_place(pack: Telemetry, track: Telemetry,
               wanted: Iterable[str] = LAYER_COLUMNS) -> Telemetry:
    """The pack's log with the places and the speed of a track by the same clock.

    Each is drawn straight between the two fixes around a sample; a sample outside the track, or in
    a gap of it (a step longer than ``GAP_STEPS`` usual ones), has none. Columns that the pack's own
    log holds stay as they are; only those ``wanted`` are added. A track without speed has it
    worked out (``place.with_speed``).
    """
    track = with_speed(track)
    at_s = pack.elapsed_s + (pack.start - track.start).total_seconds()
    added = {column: _drawn(at_s, track, column) for column in LAYER_COLUMNS
             if column in wanted and column in track and column not in pack}
    return pack.having(**added) if added else pack


def with_place_in_every_row(shared: Telemetry) -> Telemetry:
    """A log that a pack's monitor and a receiver share, the receiver's figures in every row.

    Each writes rows of its own, in which the other's figures are missing; what needs amps and speed
    at one moment would find none. Drawn as in ``with_place``.
    """
    return shared.having(**{column: _drawn(shared.elapsed_s, shared, column)
                            for column in LAYER_COLUMNS if column in shared})


def _drawn(at_s: Floats, track: Telemetry, column: str) -> Floats:
    known = np.isfinite(track[column])
    time_s, values = track.elapsed_s[known], track[column][known]
    if column == "longitude_deg":
        values = np.unwrap(values, period=360)
    drawn = np.interp(at_s, time_s, values, left=np.nan, right=np.nan)
    step = np.clip(np.searchsorted(time_s, at_s) - 1, 0, max(len(time_s) - 2, 0))
    wide = np.diff(time_s, append=time_s[-1])[step] > GAP_STEPS * usual_step_s(time_s)
    inside = wide & (at_s > time_s[step]) & (at_s < time_s[np.minimum(step + 1, len(time_s) - 1)])
    if column == "longitude_deg":
        drawn = (drawn + 180) % 360 - 180
    return np.where(inside, np.nan, drawn)
