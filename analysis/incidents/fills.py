"""A report card for each fill: how it ended, how long its tail was, which cells stood highest."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from collector.record import member_of

from ..one_log.charge import SECONDS_PER_HOUR
from ..telemetry import Floats, Telemetry
from ..timebase import Observed, observe
from .charge_stop import CHARGE_S, STOP_COLUMNS, ChargeStop, Ending, charge_flows, find_charge_stops

FILL_COLUMNS: Final = (*STOP_COLUMNS, "soc_pct")
#: The tail begins where the amps fall below this share of the fill's usual ones for good.
TAIL_BEGINS: Final = 0.95
#: Rows at the end from which the cells' order is read.
LAST_ROWS: Final = 5

FillEnding = Ending | Literal["unseen"]


@dataclass(frozen=True, slots=True)
class Fill:
    """One flow into the pack of five minutes or more. NaN where the log does not tell."""

    #: As in ``charge_stop``; ``unseen`` where the log, or a gap, ends before it.
    ending: FillEnding
    #: Since the log's start. [s]
    start_s: float
    end_s: float
    into_ah: float
    #: Time in which the amps fell away before they stopped. [s]
    tail_s: float
    #: Largest but for a tenth of the time, and last. [A]
    usual_a: float
    final_a: float
    #: Cells from the highest to the lowest in the last samples; empty where cells are not told.
    order: tuple[int, ...]
    #: The highest, and how far it is above the middle one. [V]
    high_v: float
    above_v: float
    percent_start: float
    percent_end: float
    #: Of the pack in the last sample. [degC]
    end_c: float = math.nan


@dataclass(frozen=True, slots=True)
class LogFills:
    """The fills of one log, oldest first."""

    fills: tuple[Fill, ...]


def fills_digest(telemetry: Telemetry) -> LogFills:
    """The fills of one log; amps in packhand's sign, without amps there are none."""
    if "current_a" not in telemetry:
        return LogFills(())
    seen = observe(telemetry, "current_a")
    amps = seen.pick(telemetry["current_a"])
    stops = {stop.start_s: stop for stop in find_charge_stops(telemetry, seen=seen)}
    return LogFills(tuple(
        _fill(telemetry, seen, amps, (first, end), stops.get(float(seen.time_s[first])))
        for first, end in charge_flows(amps)
        if float(seen.time_s[end - 1] - seen.time_s[first]) >= CHARGE_S))


def _fill(telemetry: Telemetry, seen: Observed, amps: Floats, span: tuple[int, int],
          stop: ChargeStop | None) -> Fill:
    first, end = span
    flow, usual_a = amps[first:end], float(np.quantile(amps[first:end], 0.9))
    order, high_v, above_v = _cells(telemetry, seen, end)
    percent = telemetry["soc_pct"][seen.rows_of(first, end)]
    return Fill(
        stop.ending if stop else "unseen", float(seen.time_s[first]), float(seen.time_s[end - 1]),
        float(((flow[:-1] + flow[1:]) * seen.width_s[first:end - 1]).sum()) / 2 / SECONDS_PER_HOUR,
        _tail_s(seen.time_s[first:end], flow, usual_a), usual_a,
        float(np.median(flow[-LAST_ROWS:])), order, high_v, above_v, *_ends(percent),
        float(telemetry["temp_1_c"][seen.rows_of(end - 1, end)][-1]))


def _tail_s(time_s: Floats, flow: Floats, usual_a: float) -> float:
    """From the last moment at the usual amps to the end."""
    full = np.flatnonzero(flow >= TAIL_BEGINS * usual_a)
    return float(time_s[-1] - time_s[full[-1]])


def _cells(telemetry: Telemetry, seen: Observed, end: int) -> tuple[
        tuple[int, ...], float, float]:
    """The cells' order in the last samples, the highest and how far it stands out."""
    rows = seen.rows_of(end - LAST_ROWS, end)
    volts = {member_of(name): telemetry[name][rows] for name in telemetry.cells}
    held = {n: float(np.nanmean(v)) for n, v in volts.items() if np.isfinite(v).any()}
    if not held:
        return (), math.nan, math.nan
    order = tuple(sorted(held, key=lambda n: -held[n]))
    high_v = held[order[0]]
    return order, high_v, high_v - float(np.median(list(held.values())))


def _ends(percent: Floats) -> tuple[float, float]:
    told = percent[np.isfinite(percent)]
    return (float(told[0]), float(told[-1])) if len(told) else (math.nan, math.nan)
