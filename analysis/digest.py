"""What the season-long questions need of one log, worked out once and kept small.

A digest is a set of *parts*. Each part is a frozen dataclass of plain figures, made by one
function of the log's telemetry; ``PARTS`` names them. A question asks for the parts that it needs
(``load_logbook.read_digests``), so a new part costs nothing to those that do not want it, and no
analysis of a season ever holds more than one log's samples.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final, TypeVar

from .ahead.speed_bands import BAND_COLUMNS, LogBands, bands_digest
from .ahead.trips import TRIP_COLUMNS, LogTrips, trips_digest
from .cells.features import CELL_COLUMNS, CellDigest, cell_digest
from .incidents.charge_stop import STOP_COLUMNS, LogStops, stops_digest
from .incidents.fills import FILL_COLUMNS, LogFills, fills_digest
from .incidents.loading import LOADING_COLUMNS, LogLoading, loading_digest
from .incidents.log_cutouts import CUTOUT_COLUMNS, LogCutOuts, cut_outs_digest
from .one_log.anchors import ANCHOR_COLUMNS, LogAnchors, anchors_digest
from .one_log.course import COURSE_COLUMNS, LogCourse, course_digest
from .one_log.instrument import with_one_sign
from .one_log.sign import Convention, sign_from_volts
from .one_log.use import USE_COLUMNS, LogUse, use_digest
from .season.drag import COAST_COLUMNS, LogCoasting, coasting_digest
from .season.pack_sensor import WARMTH_COLUMNS, LogWarmth, warmth_digest
from .season.percent_jumps import PERCENT_COLUMNS, LogPercent, percent_digest
from .season.resistance_trend import RESISTANCE_COLUMNS, LogResistance, resistance_digest
from .season.sign_history import SignEvidence, in_packhand_sign, resolve_signs, sign_evidence
from .season.zero import ZERO_COLUMNS, LogZero, zero_digest
from .telemetry import Telemetry
from .timebase import Watched, observe

Form = TypeVar("Form")

#: Columns the head is read from.
HEAD_COLUMNS: Final = ("current_a", "voltage_v", "soc_pct")


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a digest."""

    #: The frozen dataclass; its fields are numbers, texts, tuples or such dataclasses again.
    form: type
    #: Makes it; the telemetry's amps are positive into the pack, or absent where nobody knows.
    make: Callable[[Telemetry], Any]
    #: Quantity columns it looks at; those that a log lacks are all NaN.
    columns: tuple[str, ...]


#: Every part by name. Add a line to add a part.
PARTS: Final[Mapping[str, Part]] = {
    "use": Part(LogUse, use_digest, USE_COLUMNS),
    "course": Part(LogCourse, course_digest, COURSE_COLUMNS),
    "cells": Part(CellDigest, cell_digest, CELL_COLUMNS),
    "anchors": Part(LogAnchors, anchors_digest, ANCHOR_COLUMNS),
    "zero": Part(LogZero, zero_digest, ZERO_COLUMNS),
    "percent": Part(LogPercent, percent_digest, PERCENT_COLUMNS),
    "resistance": Part(LogResistance, resistance_digest, RESISTANCE_COLUMNS),
    "trips": Part(LogTrips, trips_digest, TRIP_COLUMNS),
    "coasting": Part(LogCoasting, coasting_digest, COAST_COLUMNS),
    "warmth": Part(LogWarmth, warmth_digest, WARMTH_COLUMNS),
    "stops": Part(LogStops, stops_digest, STOP_COLUMNS),
    "fills": Part(LogFills, fills_digest, FILL_COLUMNS),
    "cutouts": Part(LogCutOuts, cut_outs_digest, CUTOUT_COLUMNS),
    "loading": Part(LogLoading, loading_digest, LOADING_COLUMNS),
    "bands": Part(LogBands, bands_digest, BAND_COLUMNS),
}


@dataclass(frozen=True, slots=True)
class LogHead:
    """Who, when, and what the log knows about its own sign."""

    #: Unix time of the first sample, and of the last by the steady clock. [s]
    start_s: float
    end_s: float
    pack: str
    vehicle: str
    #: What the recorder was told the log is; empty where nobody said.
    told_kind: str
    time_zone: str
    invented: bool
    #: How far the computer's clock was set while recording, each time. [s]
    clock_steps_s: tuple[float, ...]
    sign: SignEvidence
    #: How much later the volts are told than the amps. [s]
    lag_s: float


@dataclass(frozen=True, slots=True)
class LogDigest:
    """One log's head and the parts that were asked for."""

    #: The log's file name.
    log: str
    head: LogHead
    #: How the amps were read.
    convention: Convention
    parts: Mapping[str, Any]

    @property
    def start_s(self) -> float:
        return self.head.start_s

    @property
    def end_s(self) -> float:
        return self.head.end_s

    def of(self, form: type[Form]) -> Form:
        """The part of a class.

        Raises
        ------
        KeyError
            If it was not asked for.
        """
        for part in self.parts.values():
            if isinstance(part, form):
                return part
        raise KeyError(form.__name__)


def read_head(telemetry: Telemetry) -> LogHead:
    """The head of a log as loaded, its amps in the monitor's own sign."""
    both = observe(telemetry, "current_a", "voltage_v")
    heard = with_one_sign(sign_from_volts(telemetry, both), telemetry, both)
    meta = telemetry.meta
    start_s = telemetry.start.timestamp()
    steps = tuple(_step_s(e.words) for e in telemetry.events
                  if e.kind == "clock step" and e.words.startswith("set by "))
    return LogHead(start_s, start_s + float(telemetry.elapsed_s[-1]), str(meta.get("pack", "")),
                   str(meta.get("vehicle", "")), str(meta.get("kind", "")),
                   str(meta.get("time_zone", "UTC")), bool(meta.get("invented", False)),
                   steps, sign_evidence(telemetry, heard), heard.lag_s)


def _step_s(words: str) -> float:
    return float(words.removeprefix("set by ").split()[0])


def make_parts(telemetry: Telemetry, head: LogHead, convention: Convention,
               names: Iterable[str]) -> dict[str, Any]:
    """Parts of a log as loaded, its amps read by a convention."""
    # The parts ask for the same few columns many times over.
    signed = Watched.of(in_packhand_sign(telemetry, convention, head.lag_s))
    return {name: PARTS[name].make(signed) for name in names}


def digest_log(telemetry: Telemetry, log: str = "", *, convention: Convention | None = None,
               parts: Iterable[str] | None = None) -> LogDigest:
    """Head and parts of one log as loaded.

    Parameters
    ----------
    convention
        How to read the amps; what the log itself says by default.
    parts
        Names in ``PARTS``; all by default.
    """
    head = read_head(telemetry)
    way = convention or resolve_signs([head.sign])[0]
    return LogDigest(log, head, way, make_parts(telemetry, head, way, parts or PARTS))
