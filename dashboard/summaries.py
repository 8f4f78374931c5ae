"""What the list of drives shows of each log, from the digests that the other pages stand on."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime

from analysis.digest import LogDigest
from analysis.drive.summary import DISTANCE_MIN_M
from analysis.local_days import zone_named
from analysis.one_log.course import LogCourse
from analysis.one_log.use import LogUse


@dataclass(frozen=True, slots=True)
class Summary:
    """One row of the list. ``None`` where the log cannot tell."""

    #: Local start, ISO 8601 with offset.
    start: str = ""
    duration_s: float = 0.0
    #: ``drive``, ``charge`` or ``rest``.
    kind: str = ""
    out_ah: float | None = None
    in_ah: float | None = None
    wh_per_km: float | None = None
    invented: bool = False
    #: How the amps are meant, as in the log's sign decision.
    convention: str = ""
    #: Lowest and highest amps of each column of the small line.
    amps: tuple[tuple[float, float] | None, ...] = ()
    #: Why the log cannot be read, empty if it can.
    problem: str = ""


def summary_of(digest: LogDigest) -> Summary:
    """The row of a log whose digest has the parts ``use`` and ``course``."""
    head, use = digest.head, digest.of(LogUse)
    start = datetime.fromtimestamp(head.start_s, UTC).astimezone(zone_named(head.time_zone))
    return Summary(
        start=start.isoformat(), duration_s=head.end_s - head.start_s,
        kind=head.told_kind or ("drive" if use.kind == "test" else use.kind or "rest"),
        out_ah=_or_none(use.out_ah), in_ah=_or_none(use.into_ah), wh_per_km=_wh_per_km(use),
        invented=head.invented, convention=digest.convention, amps=digest.of(LogCourse).ends_a)


def _wh_per_km(use: LogUse) -> float | None:
    """Watt-hours out less in for each kilometre, where it moved at all."""
    if not use.distance_m >= DISTANCE_MIN_M:
        return None
    return _or_none((use.out_wh - use.into_wh) / use.distance_m * 1000)


def _or_none(value: float) -> float | None:
    return value if math.isfinite(value) else None
