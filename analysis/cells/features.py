"""What one log says of its single cells: leads near full and empty, resistance, rest, noise.

A spread in millivolts means nothing by itself. Each figure here belongs to one place where it
speaks: amp-hours ahead of the mates near full and near empty, milliohms under changing amps,
millivolts at rest in the flat middle (which tell of sense lines, not of charge).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from collector.record import QUANTITIES, member_of

from ..estimate import Estimate
from ..one_log.crossed_leads import crossed_cells, touched_by
from ..one_log.percent import compare_percent
from ..telemetry import Floats, Telemetry
from ..timebase import Observed, observe
from .curves import BINS, Lead, cell_lead
from .slopes import CellSlopes, cell_slopes, median_cell_v
from .steady import relaxation, settling_v, slow_responses, steady_stretches

#: Columns that ``cell_digest`` looks at; a longer string is not known in small vehicles.
CELL_COLUMNS: Final = ("current_a", "soc_pct", "temp_1_c",
                       *(QUANTITIES["cell_{n}_v"].column(n) for n in range(1, 129)))
#: Fewer cells have no mates to be compared with.
CELLS_MIN: Final = 4
#: Median volts above this at some moment: a chemistry whose curve slopes all the way. [V]
SLOPING_V: Final = 3.70
#: Share of the capacity, next to full or empty, over which curves are compared.
STRETCH_SHARE: Final = 0.12
#: Open-circuit volts of iron phosphate from which the curve rises to full, and falls to empty. [V]
TOP_V, BOTTOM_V = 3.365, 3.21
#: The flat middle, at rest. [V]
MIDDLE_V: Final = (3.255, 3.345)
#: A lead is worth keeping if its standard deviation stays below this share of the capacity.
LEAD_SD_MAX: Final = 0.01
#: Behind the start of steady amps all cells settle at once, whatever their charge: their curves
#: would seem level with each other. From then on they are compared. [s]
BUILT_UP_S: Final = 300.0
#: Shape and warmth differ between cells: a lead is right to this share of itself.
LEAD_GAIN: Final = 0.1
#: Leads from driving are right to this share ...
VARYING_GAIN: Final = 0.2
#: ... but near empty slow drops grow as the cells fall, and pass for their slope: the truth is up
#: to this share further from level. Chosen here, on one week of packs of another physics library.
PULLED_SHARE: Final = 1.3
#: Charge that comes back while a pack rests, at most: a zero error. [Ah]
RISEN_AH: Final = 0.05
#: Amps below this are rest; the last seconds of a rest are looked at. [A], [s]
REST_A: Final = 1.0
REST_MIN_S, REST_TAIL_S = 60.0, 30.0
#: A cell is frozen if it stood still in this share of the steps in which its mates moved. [V]
FROZEN_SHARE: Final = 0.98
MOVE_V: Final = 0.003


@dataclass(frozen=True, slots=True)
class CellDigest:
    """One log's cells; every tuple has one figure a cell, NaN where the log cannot tell, and is
    empty where the log holds no cells or fewer than ``CELLS_MIN``."""

    #: Their numbers in the string.
    cells: tuple[int, ...]
    #: True where the volts slope over the whole range, so that rest millivolts tell charge.
    is_sloping: bool
    #: What the percent reckons with, as a scale only. [Ah]
    scale_ah: float
    #: Charge ahead of the median cell near full, and near empty; standard deviations. [Ah]
    top_ah: tuple[float, ...]
    top_sd_ah: tuple[float, ...]
    bottom_ah: tuple[float, ...]
    bottom_sd_ah: tuple[float, ...]
    #: Resistance felt within seconds, its cell's lead and busbar included. [mohm]
    resistance_mohm: tuple[float, ...]
    resistance_sd_mohm: tuple[float, ...]
    #: Above the median cell at rest, in the flat middle (anywhere if sloping). [mV]
    rest_mv: tuple[float, ...]
    #: Scatter that neither amps nor the other cells explain. [mV]
    noise_mv: tuple[float, ...]
    #: How that scatter goes with the next cell's, -1 to 1; 0 for the last.
    noise_with_next: tuple[float, ...]
    #: Numbers of cells whose figure stood still while the others moved, or is missing.
    frozen: tuple[int, ...]
    #: Mean temperature of the pack. [degC]
    temperature_c: float
    #: Longest time a cell stood above 3.40 V while charging, where boards bleed. [h]
    bleeding_h: float
    #: How much further ahead or behind it may be near empty; 0 of steady amps. [Ah]
    bottom_further_ah: tuple[float, ...] = ()
    #: Numbers of cells whose two sense wires are exchanged; they and their neighbours tell nothing.
    crossed: tuple[int, ...] = ()


def cell_digest(telemetry: Telemetry) -> CellDigest:
    """The cells of one log; amps in packhand's sign."""
    columns = [name for name in telemetry.cells if name in telemetry]
    if len(columns) < CELLS_MIN:
        return _nothing()
    every = np.array([telemetry[name] for name in columns])
    numbers = tuple(member_of(name) for name in columns)
    frozen, crossed = _frozen(every), crossed_cells(telemetry)
    wrong = touched_by(crossed)
    silent = frozen | np.array([name in wrong for name in columns])
    frozen_cells = tuple(n for n, is_still in zip(numbers, frozen, strict=True) if is_still)
    live = every[~silent] if silent.any() else every
    if len(live) < CELLS_MIN or "current_a" not in telemetry:
        return _nothing(frozen_cells, crossed)
    names = [name for name, is_silent in zip(columns, silent, strict=True) if not is_silent]
    seen = observe(telemetry, "current_a", *names)
    if len(seen.time_s) < 2:
        return _nothing(frozen_cells, crossed)
    part = _describe(telemetry, seen, seen.pick(telemetry["current_a"]),
                     live if seen.rows is None else live[:, seen.rows])
    return replace(_spread_out(part, numbers, ~silent, frozen_cells), crossed=crossed)


def _describe(telemetry: Telemetry, seen: Observed, amps: Floats, cell_v: Floats) -> CellDigest:
    """All of it but the numbers; ``cell_v`` at the observed rows, shape (cells, n)."""
    median = median_cell_v(cell_v)
    slopes = cell_slopes(amps, cell_v, median, seen)
    is_sloping = bool(np.quantile(median, 0.95) > SLOPING_V)
    scale = _scale_ah(telemetry)
    top, bottom = ((_none_of(cell_v), _none_of(cell_v)) if is_sloping else
                   _leads(seen, amps, cell_v, median, slopes, scale))
    celsius = telemetry["temp_1_c"]
    is_high = (cell_v.max(axis=0) > 3.40) & (amps > 0)
    return CellDigest(
        (), is_sloping, scale, _told(top.ahead_ah), _told(top.sd_ah), _told(bottom.ahead_ah),
        _told(bottom.sd_ah), _told(slopes.resistance_mohm), _told(slopes.sd_mohm),
        _told(_rest_mv(seen, amps, cell_v, median, is_sloping)), _told(slopes.noise_mv),
        _told(slopes.noise_with_next), (),
        float(np.nanmean(celsius)) if "temp_1_c" in telemetry else math.nan,
        float(seen.weights_s[is_high].sum()) / 3600, _told(bottom.further_ah))


def _scale_ah(telemetry: Telemetry) -> float:
    agreement = compare_percent(telemetry)
    if agreement and isinstance(agreement.implied_capacity_ah, Estimate):
        return agreement.implied_capacity_ah.value
    return math.nan


def _leads(seen: Observed, amps: Floats, cell_v: Floats, median: Floats, slopes: CellSlopes,
           scale_ah: float) -> tuple[Lead, Lead]:
    """The best lead near full and near empty that any stretch of the log offers."""
    if not math.isfinite(scale_ah):
        return _none_of(cell_v), _none_of(cell_v)
    charge = np.cumsum(seen.weights_s * amps) / 3600
    ends = [*_steady_ends(seen, amps, cell_v, median, charge, slopes, scale_ah),
            *_varying_ends(seen, amps, cell_v, charge, slopes, scale_ah)]
    top, bottom = _none_of(cell_v), _none_of(cell_v)
    for end in ends:
        if end.is_full and end.volts > TOP_V:
            top = _better(top, end.lead(), scale_ah)
        elif not end.is_full and end.volts < BOTTOM_V:
            bottom = _better(bottom, end.lead(), scale_ah)
    return top, bottom


@dataclass(frozen=True, slots=True)
class _End:
    """One stretch next to full or to empty, volts with the drop of the amps taken off."""

    charge_ah: Floats
    #: Shape (cells, n).
    rested_v: Floats
    is_full: bool
    #: Of the median cell at the extreme end. [V]
    volts: float
    is_varying: bool

    def lead(self) -> Lead:
        """The lead, its standard deviation widened by what shape and settling leave."""
        found = cell_lead(self.charge_ah, self.rested_v.T, is_varying=self.is_varying)
        gain = VARYING_GAIN if self.is_varying else LEAD_GAIN
        pulled = PULLED_SHARE if self.is_varying and not self.is_full else 0.0
        return Lead(found.ahead_ah, np.hypot(found.sd_ah, gain * np.abs(found.ahead_ah)),
                    pulled * found.ahead_ah)


def _steady_ends(seen: Observed, amps: Floats, cell_v: Floats, median: Floats, charge: Floats,
                 slopes: CellSlopes, scale_ah: float) -> Iterator[_End]:
    known = np.nan_to_num(slopes.resistance_mohm) / 1000
    after = relaxation(seen, amps, median)
    for stretch in steady_stretches(seen, amps):
        rows = stretch.rows
        drop = np.outer(known, amps[rows]) + after.built_up(stretch, seen)
        rested, moved = cell_v[:, rows] - drop, charge[rows]
        begun = int(np.searchsorted(seen.time_s[rows], stretch.begun_s + BUILT_UP_S))
        for at_start in (True, False):
            extreme = min(begun, len(moved) - 1) if at_start else len(moved) - 1
            place = np.abs(moved - moved[extreme]) <= STRETCH_SHARE * scale_ah
            place[:begun if at_start else 0] = False
            yield _End(moved[place], rested[:, place], (amps[rows][0] > 0) != at_start,
                       float(np.median(rested[:, 0 if at_start else extreme])), False)


def _varying_ends(seen: Observed, amps: Floats, cell_v: Floats, charge: Floats,
                  slopes: CellSlopes, scale_ah: float) -> Iterator[_End]:
    """The rows behind the fullest moment and before the emptiest, under driving amps."""
    if not np.isfinite(slopes.resistance_mohm).all():
        return
    quick = cell_v - np.outer(slopes.resistance_mohm / 1000, amps)
    fullest, emptiest = int(np.argmax(charge)), int(np.argmin(charge))
    away = STRETCH_SHARE * scale_ah
    behind = fullest + int(np.argmax(np.append(charge[fullest:] < charge[fullest] - away, True)))
    before = emptiest - int(np.argmax(np.append(
        charge[emptiest::-1] > charge[emptiest] + away, True)))
    # The rest behind the emptiest moment tells how much of its fall is settling.
    risen = emptiest + int(np.argmax(np.append(charge[emptiest:] > charge[emptiest] + RISEN_AH,
                                               True)))
    ends = [(rows, is_full) for rows, is_full in (
        (slice(fullest, behind), True), (slice(max(before, 0), max(risen, emptiest + 1)), False))
        if rows.stop - rows.start >= BINS]
    slow_a = slow_responses(seen, amps) if ends else []
    for rows, is_full in ends:
        part = quick[:, rows]
        rested = part - settling_v([a[rows] for a in slow_a], charge[rows], median_cell_v(part),
                                   is_deepening=not is_full)
        edge = rested[:, :BINS] if is_full else rested[:, -BINS:]
        yield _End(charge[rows], rested, is_full, float(np.median(edge)), True)


def _better(old: Lead, new: Lead, scale_ah: float) -> Lead:
    """Cell by cell the surer of two leads, none that is too unsure."""
    limit = LEAD_SD_MAX * scale_ah + VARYING_GAIN * np.abs(new.ahead_ah)
    old_sd, new_sd = (np.hypot(lead.sd_ah, lead.further_ah / 2) for lead in (old, new))
    is_better = (new.sd_ah < limit) & ~(new_sd >= old_sd)
    return Lead(np.where(is_better, new.ahead_ah, old.ahead_ah),
                np.where(is_better, new.sd_ah, old.sd_ah),
                np.where(is_better, new.further_ah, old.further_ah))


def _rest_mv(seen: Observed, amps: Floats, cell_v: Floats, median: Floats,
             is_sloping: bool) -> Floats:
    """Mean deviation at the ends of rests in the flat middle, shape (cells,). [mV]"""
    found = []
    for first, end in _rests(seen, amps):
        tail = slice(max(first, int(np.searchsorted(seen.time_s, seen.time_s[end - 1]
                                                    - REST_TAIL_S))), end)
        if is_sloping or MIDDLE_V[0] < float(median[tail].mean()) < MIDDLE_V[1]:
            found.append((cell_v[:, tail] - median[tail]).mean(axis=1) * 1000)
    return np.mean(found, axis=0) if found else np.full(len(cell_v), np.nan)


def _rests(seen: Observed, amps: Floats) -> list[tuple[int, int]]:
    still = np.concatenate(([False], np.abs(amps) < REST_A, [False]))
    still[1:-1][1:][seen.width_s == 0] = False  # a gap ends a rest
    edges = np.flatnonzero(np.diff(still.astype(int))).reshape(-1, 2)
    return [(int(a), int(b)) for a, b in edges
            if seen.time_s[b - 1] - seen.time_s[a] >= REST_MIN_S]


def _frozen(cell_v: Floats) -> NDArray[np.bool_]:
    """Cells that hold no figures, or the same while their mates move; shape (cells,)."""
    held = np.isfinite(cell_v)
    is_dead = held.mean(axis=1) < 0.02
    whole = cell_v
    if not held.all():
        whole = cell_v[~is_dead][:, held[~is_dead].all(axis=0)]
    if len(whole) < CELLS_MIN or whole.shape[1] < 2:
        return np.asarray(is_dead)
    moves = np.abs(np.diff(median_cell_v(whole))) > MOVE_V
    if moves.sum() < 20:
        return np.asarray(is_dead)
    stood = (whole[:, 1:] == whole[:, :-1])[:, moves].mean(axis=1) > FROZEN_SHARE
    is_dead[np.flatnonzero(~is_dead)[stood]] = True
    return np.asarray(is_dead)


def _none_of(cell_v: Floats) -> Lead:
    missing = np.full(len(cell_v), np.nan)
    return Lead(missing, missing, np.zeros(len(cell_v)))


def _told(values: Floats) -> tuple[float, ...]:
    return tuple(round(float(v), 4) for v in values)


def _spread_out(part: CellDigest, numbers: tuple[int, ...], live: NDArray[np.bool_],
                frozen: tuple[int, ...]) -> CellDigest:
    """The digest of the live cells with the frozen ones put back in their places as NaN."""
    def whole(values: tuple[float, ...]) -> tuple[float, ...]:
        filled = np.full(len(numbers), np.nan)
        filled[live] = values
        return tuple(filled.tolist())

    return CellDigest(
        numbers, part.is_sloping, part.scale_ah, whole(part.top_ah), whole(part.top_sd_ah),
        whole(part.bottom_ah), whole(part.bottom_sd_ah), whole(part.resistance_mohm),
        whole(part.resistance_sd_mohm), whole(part.rest_mv), whole(part.noise_mv),
        whole(part.noise_with_next), frozen, part.temperature_c, part.bleeding_h,
        whole(part.bottom_further_ah))


def _nothing(frozen: tuple[int, ...] = (), crossed: tuple[int, ...] = ()) -> CellDigest:
    return CellDigest((), False, math.nan, (), (), (), (), (), (), (), (), (), frozen,
                      math.nan, 0.0, crossed=crossed)
