"""Who leads and who lags in a pack, and why: one log's cells or a whole logbook's."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any, Final

import numpy as np

from ..digest import LogDigest
from ..estimate import Answer, NoEstimate
from ..one_log.use import LogUse
from .features import CellDigest
from .pattern import PatternBreak, pattern_breaks, since_last_break
from .rest import drifting_cells
from .story import (
    BOTTOM,
    CellFinding,
    CellState,
    Dated,
    beyond,
    cell_states,
    charge_findings,
    series_of,
)
from .wiring import (
    crossed_leads,
    frozen_figures,
    resistance_ratios,
    resistive_cells,
    resistive_leads,
    sense_leads,
)

#: Parts of a digest that ``find_cells`` looks at.
CELL_PARTS: Final = ("cells", "use")
#: Entries of a figure that make up its present value.
_LATEST: Final = 6


@dataclass(frozen=True, slots=True)
class CellRow:
    """One line of the table."""

    cell: int
    #: Ahead of the median cell near full, and near empty. [Ah]
    top_ah: Answer
    bottom_ah: Answer
    #: Capacity that it lacks against the median cell. [Ah]
    lack_ah: Answer
    resistance_mohm: Answer
    #: Against the median cell.
    resistance_ratio: float
    #: Above the median cell at rest in the flat middle; tells of its sense line. [mV]
    rest_mv: Answer

    def as_json(self) -> dict[str, Any]:
        ratio = self.resistance_ratio
        return {"cell": self.cell, "top_ah": self.top_ah.as_json(),
                "bottom_ah": self.bottom_ah.as_json(), "lack_ah": self.lack_ah.as_json(),
                "resistance_mohm": self.resistance_mohm.as_json(),
                "resistance_ratio": ratio if math.isfinite(ratio) else None,
                "rest_mv": self.rest_mv.as_json()}


@dataclass(frozen=True, slots=True)
class CellReport:
    """The answer of ``packhand cells``."""

    start_s: float
    end_s: float
    logs: int
    findings: tuple[CellFinding, ...]
    table: tuple[CellRow, ...]
    #: Why there is nothing to tell, empty if there is.
    reason: str = ""
    #: Where numbers of cells changed their meaning; findings and table are of the time since.
    breaks: tuple[PatternBreak, ...] = ()

    def as_json(self, name: str) -> dict[str, Any]:
        """The document of ``packhand cells --json``."""
        return {"schema": "packhand.cells/1", "source": name,
                "start": _iso(self.start_s), "end": _iso(self.end_s), "logs": self.logs,
                "findings": [_finding_json(f) for f in self.findings],
                "cells": [row.as_json() for row in self.table], "reason": self.reason,
                "breaks": [each.as_json() for each in self.breaks]}


def find_cells(digests: Iterable[LogDigest], *, capacity_ah: float | None = None,
               bleed_a: float | None = None) -> CellReport:
    """Findings and table from the digests of one log or of many.

    Parameters
    ----------
    digests
        With the parts ``CELL_PARTS``.
    capacity_ah
        What the pack holds, if known; for thresholds only. [Ah]
    bleed_a
        What the board bleeds from a cell, if known. [A]
    """
    # The order of time; a clock set back puts a log before its elders.
    ordered = sorted(digests, key=lambda d: d.start_s)
    logs = [Dated(d.start_s, d.of(CellDigest)) for d in ordered]
    if not any(log.digest.cells for log in logs):
        return CellReport(*_span(ordered), len(logs),
                          (*crossed_leads(logs), *frozen_figures(logs)), (),
                          "no log holds the volts of single cells beside amps")
    breaks = pattern_breaks(logs)
    logs = since_last_break(logs, breaks)
    states = cell_states(logs, capacity_ah)
    charge = [f for state in states for f in charge_findings(state, bleed_a)]
    ratios = resistance_ratios(logs)
    wiring = resistive_cells(ratios, _worst_rms_a(ordered))
    findings = [*crossed_leads(logs), *_joined(charge, wiring), *drifting_cells(logs),
                *sense_leads(logs), *resistive_leads(ratios), *frozen_figures(logs)]
    findings.sort(key=lambda f: (not f.is_current, f.verdict != "yes", f.cell))
    return CellReport(*_span(ordered), len(ordered), tuple(findings),
                      tuple(_row(state, logs) for state in states), breaks=breaks)


def _span(digests: Sequence[LogDigest]) -> tuple[float, float]:
    if not digests:
        return math.nan, math.nan
    return digests[0].start_s, max(d.end_s for d in digests)


def _worst_rms_a(digests: Sequence[LogDigest]) -> float | None:
    worst = [d.of(LogUse).rms_a[2] for d in digests]
    finite = [rms for rms in worst if math.isfinite(rms)]
    return max(finite) if finite else None


def _joined(charge: list[CellFinding], wiring: list[CellFinding]) -> list[CellFinding]:
    """A small cell is resistive too, for both are wear; that is one finding."""
    worn = {f.cell: f for f in wiring}
    small = {f.cell for f in charge if f.kind == "low_capacity"}
    told = []
    for finding in charge:
        if finding.kind == "low_capacity" and finding.cell in worn:
            ratio = worn[finding.cell].figures["ratio"]
            told.append(replace(
                finding, words=f"{finding.words} Its resistance is {ratio:.1f} times theirs, "
                               "which belongs to the same wear.",
                figures={**finding.figures, "resistance_ratio": ratio}))
        else:
            told.append(finding)
    return told + [f for f in wiring if f.cell not in small]


def _row(state: CellState, logs: Sequence[Dated]) -> CellRow:
    latest = next((log.digest for log in reversed(logs) if state.cell in log.digest.cells
                   and np.isfinite(log.digest.resistance_mohm).any()), None)
    ratio = (latest.resistance_mohm[latest.cells.index(state.cell)]
             / float(np.nanmedian(latest.resistance_mohm)) if latest else math.nan)
    return CellRow(
        state.cell,
        _latest(series_of(logs, state.cell, "top_ah", "top_sd_ah"), "Ah",
                "no log shows the pack near full", "log a full charge"),
        _latest(series_of(logs, state.cell, *BOTTOM), "Ah",
                "no log shows the pack near empty", "log a drive to the knee"),
        state.lack_now,
        _latest(series_of(logs, state.cell, "resistance_mohm", "resistance_sd_mohm"), "mohm",
                "the amps hardly moved", "log a drive"),
        ratio,
        _latest(series_of(logs, state.cell, "rest_mv"), "mV",
                "no rest in the flat middle was logged", "leave the log running while parked"))


def _latest(series: Any, unit: str, reason: str, remedy: str) -> Answer:
    if not len(series):
        return NoEstimate(reason, remedy)
    values, sds = series.value[-_LATEST:], series.sd[-_LATEST:]
    scatter = float(np.std(values)) / max(1.0, len(values) ** 0.5)
    return beyond(float(np.median(values)), 2 * math.hypot(scatter, float(np.median(sds))),
                  float(np.median(series.further[-_LATEST:])), unit)


def _finding_json(finding: CellFinding) -> dict[str, Any]:
    return {"cell": finding.cell, "kind": finding.kind, "verdict": finding.verdict,
            "size": finding.size.as_json(), "words": finding.words, "next": finding.next,
            "current": finding.is_current, "first": _iso(finding.first_s),
            "last": _iso(finding.last_s), **finding.figures}


def _iso(unix_s: float) -> str | None:
    if not math.isfinite(unix_s):
        return None
    moment = datetime.fromtimestamp(unix_s, UTC)
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")
