"""The charts of the papers: capacity over time, a drive as strips, the cells near both ends."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

import numpy as np

from analysis.asking.evidence import ShownLog
from analysis.cells.summary import CellReport, CellRow
from analysis.estimate import Estimate
from analysis.local_days import local
from analysis.phrases import day_text
from analysis.season.summary import Season

from ..quantities import Units, number, shown
from ..recording import Recording
from ..reduce import Curve
from .drawing import Area, Dot, Drawing, Label, Part, Points, Scale, Stroke, around, ticks

WIDTH: Final = 480.0
#: Room for figures at the left, and for words at the right of a line.
LEFT, RIGHT = 40.0, 12.0
#: Columns of a strip on paper: finer than a printer shows.
COLUMNS: Final = 500
_LANE: Final = 62.0
_DAY_S: Final = 86400.0


def capacity_course(season: Season, rated_ah: float | None) -> Drawing | None:
    """Every capacity with its interval against its date; ``None`` if there is none."""
    found = [(c.span.end_s, c.ah) for c in season.capacity if isinstance(c.ah, Estimate)]
    if not found:
        return None
    ends = [e for _, ah in found for e in (ah.low, ah.high)] + ([rated_ah] if rated_ah else [])
    y = Scale(*around(min(ends), max(ends)), 168, 14)
    x = _time_scale(season.start_s, season.end_s)
    parts: list[Part] = [Label(LEFT, 9, "Ah, at 20 °C"), *_frame(y, 14, 168), *_months(x, 168)]
    if rated_ah:
        parts += [Stroke(((LEFT, y.at(rated_ah)), (WIDTH - RIGHT, y.at(rated_ah))), "muted",
                         is_dashed=True),
                  Label(WIDTH - RIGHT, y.at(rated_ah) - 3, f"rated {number(rated_ah, 0)} Ah, typed",
                        "end", "muted")]
    for moment_s, ah in found:
        place = x.at(moment_s)
        parts += [Stroke(((place, y.at(ah.low)), (place, y.at(ah.high))), "ink", 1.0),
                  Dot(place, y.at(ah.value))]
    first, last = found[0], found[-1]
    return Drawing(WIDTH, 190, "Capacity in amp-hours", (
        f"{len(found)} capacities between {day_text(first[0])} and {day_text(last[0])}, each a dot "
        f"with its 95 % interval: the first {_ah(first[1])}, the last {_ah(last[1])}."),
        tuple(parts))


def _ah(answer: Estimate) -> str:
    return (f"{number(answer.value, 1)} Ah ({number(answer.low, 1)} to "
            f"{number(answer.high, 1)})")


def cell_ranges(report: CellReport) -> Drawing | None:
    """For each cell how far it is ahead of the middle one near full and near empty."""
    rows = [row for row in report.table
            if isinstance(row.top_ah, Estimate) or isinstance(row.bottom_ah, Estimate)]
    if not rows:
        return None
    ends = [e for row in rows for a in (row.top_ah, row.bottom_ah) if isinstance(a, Estimate)
            for e in (a.low, a.high)]
    low, high = around(min(*ends, 0.0), max(*ends, 0.0))
    foot = 24 + 12.0 * len(rows)
    halves = (("near full", Scale(low, high, LEFT, 250)),
              ("near empty", Scale(low, high, 268, WIDTH - RIGHT)))
    parts: list[Part] = []
    for name, x in halves:
        parts += [Label((x.start + x.end) / 2, 9, f"Ah ahead, {name}", "middle", "muted"),
                  Stroke(((x.at(0), 14), (x.at(0), foot)), "frame")]
        parts += [Label(x.at(tick), foot + 10, number(tick, 1), "middle", "muted")
                  for tick in ticks(low, high, 5)]
    for place, row in enumerate(rows):
        parts += _cell_row(row, 24 + 12.0 * place, halves[0][1], halves[1][1])
    return Drawing(WIDTH, foot + 16, "Cells against the middle one", _cells_told(rows),
                   tuple(parts))


def _cell_row(row: CellRow, y: float, full: Scale, empty: Scale) -> list[Part]:
    parts: list[Part] = [Label(LEFT - 8, y + 3, f"cell {row.cell}", "end")]
    for answer, x in ((row.top_ah, full), (row.bottom_ah, empty)):
        if isinstance(answer, Estimate):
            parts += [Stroke(((x.at(answer.low), y), (x.at(answer.high), y)), "ink", 1.0),
                      Dot(x.at(answer.value), y)]
    return parts


def _cells_told(rows: Sequence[CellRow]) -> str:
    def most(name: str) -> str:
        told = [(abs(a.value), row.cell, a) for row in rows
                if isinstance(a := getattr(row, name), Estimate)]
        if not told:
            return "not seen"
        _, cell, answer = max(told, key=lambda each: each[:2])
        return f"cell {cell} is furthest off with {number(answer.value, 1)} Ah"

    return (f"{len(rows)} cells, each a dot with its interval. Near full {most('top_ah')}; near "
            f"empty {most('bottom_ah')}.")


@dataclass(frozen=True, slots=True)
class Lane:
    """One strip: its traces, and the column that names it."""

    column: str
    lines: tuple[str, ...]
    areas: tuple[str, ...] = ()


LANES: Final = (Lane("current_a", ("out", "in"), ("out-area", "in-area")),
                Lane("voltage_v", ("volts",)), Lane("soc_pct", ("percent",)),
                Lane("cell_{n}_v", ("lowest",), ("ribbon",)),
                Lane("temp_{n}_c", ("temperature",)))
#: Traces on paper -> roles.
_ROLES: Final = {"out": "out", "in": "in", "out-area": "out", "in-area": "in", "ribbon": "gap",
                 "lowest": "lowest"}


def drive_strips(log: ShownLog, units: Units, start_s: float = 0.0,
                 end_s: float = math.inf) -> Drawing:
    """A log, or a stretch of it, as strips: peaks kept, nothing drawn across a gap."""
    recording = Recording.of(log.telemetry, units, log.summary.sign)
    start, end = max(start_s, 0.0), min(end_s, recording.duration_s)
    curves = recording.curves(start, end, COLUMNS)
    lanes = [lane for lane in LANES if any(trace in curves for trace in lane.lines)]
    x = Scale(start, max(end, start + 1), LEFT, WIDTH - RIGHT)
    foot = _LANE * len(lanes)
    parts: list[Part] = [
        Area(((x.at(max(gap.start_s, start)), 4), (x.at(min(gap.end_s, end)), 4),
              (x.at(min(gap.end_s, end)), foot), (x.at(max(gap.start_s, start)), foot)), "gap")
        for gap in recording.gaps if gap.end_s > start and gap.start_s < end]
    for place, lane in enumerate(lanes):
        parts += _lane(lane, curves, x, _LANE * place, units)
    parts += [Label(x.at(at), foot + 11, words, "middle", "muted")
              for at, words in _clock(recording, start, end)]
    begun, ended = recording.local(start), recording.local(end)
    names = ", ".join(shown(lane.column.replace("{n}", "1"), units).label.lower()
                      for lane in lanes)
    return Drawing(WIDTH, foot + 18, f"{log.log}: {names}", (
        f"{begun:%d %B %Y, %H:%M:%S} to {ended:%H:%M:%S}. Amps below zero leave the pack. Shaded "
        "paper is time without a record."), tuple(parts))


def _lane(lane: Lane, curves: dict[str, Curve], x: Scale, top: float,
          units: Units) -> Iterator[Part]:
    entry = shown(lane.column.replace("{n}", "01" if lane.column.startswith("cell") else "1"),
                  units)
    drawn = {name: curves[name] for name in (*lane.areas, *lane.lines) if name in curves}
    values = np.concatenate([curve.y for curve in drawn.values()])
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    y = Scale(*around(low, high), top + _LANE - 8, top + 14)
    for tick in ticks(y.low, y.high, 3):
        yield Stroke(((LEFT, y.at(tick)), (WIDTH - RIGHT, y.at(tick))), "grid", 0.4)
        yield Label(LEFT - 4, y.at(tick) + 3, _tick_text(tick), "end", "muted")
    for name, curve in drawn.items():
        for points in _stretches(curve, x, y):
            role = _ROLES.get(name, "ink")
            yield Area(points, role) if name in lane.areas else Stroke(points, role, 0.6)
    name = "Cells, lowest to highest" if lane.areas == ("ribbon",) else entry.label
    yield Label(LEFT, top + 10, f"{name}, {entry.unit}")


def _stretches(curve: Curve, x: Scale, y: Scale) -> Iterator[Points]:
    """Runs of points without NaN between them, on paper."""
    for part in np.split(np.arange(len(curve.x)), np.flatnonzero(np.isnan(curve.y))):
        rows = part[~np.isnan(curve.y[part])]
        if len(rows) > 1:
            yield tuple((x.at(float(curve.x[row])), y.at(float(curve.y[row]))) for row in rows)


def _tick_text(value: float) -> str:
    text = number(value, 2)
    return text.rstrip("0").rstrip(".") if "." in text else text


def _clock(recording: Recording, start_s: float, end_s: float) -> Iterator[tuple[float, str]]:
    for step_s in (1, 5, 10, 30, 60, 300, 600, 1800, 3600, 7200, 14400, 43200):
        if (end_s - start_s) / step_s <= 8:
            break
    begun = recording.local(start_s)
    seconds = begun.hour * 3600 + begun.minute * 60 + begun.second + begun.microsecond / 1e6
    at = start_s + (-seconds) % step_s
    while at <= end_s:
        yield at, f"{recording.local(at):{'%H:%M:%S' if step_s < 60 else '%H:%M'}}"
        at += step_s


def _time_scale(start_s: float, end_s: float) -> Scale:
    return Scale(start_s, max(end_s, start_s + _DAY_S), LEFT, WIDTH - RIGHT)


def _frame(y: Scale, top: float, foot: float) -> Iterator[Part]:
    for tick in ticks(y.low, y.high, 6):
        yield Stroke(((LEFT, y.at(tick)), (WIDTH - RIGHT, y.at(tick))), "grid", 0.4)
        yield Label(LEFT - 4, y.at(tick) + 3, _tick_text(tick), "end", "muted")
    yield Stroke(((LEFT, top), (LEFT, foot)), "frame")


def _months(x: Scale, foot: float) -> Iterator[Part]:
    """The first of each month, or of each third where there are many; days in a short span."""
    days = (x.high - x.low) / _DAY_S
    step = timedelta(days=max(1, round(days / 6)))
    moment = local(x.low).replace(hour=0, minute=0, second=0, microsecond=0)
    months = max(1, round(days / 30 / 8))
    while (moment_s := moment.timestamp()) <= x.high:
        if moment_s >= x.low:
            yield Label(x.at(moment_s), foot + 12, f"{moment.day} {moment:%b}", "middle", "muted")
        moment = _next_month(moment, months) if days > 60 else moment + step


def _next_month(moment: datetime, months: int) -> datetime:
    number_of = moment.year * 12 + moment.month - 1 + months
    return moment.replace(year=number_of // 12, month=number_of % 12 + 1, day=1)

