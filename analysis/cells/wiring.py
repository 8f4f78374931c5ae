"""Findings that are not charge: a resistive cell or busbar, a loose sense lead, a dead figure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..estimate import Estimate, Verdict
from ..fitting.student import t_quantile
from ..one_log.crossed_leads import NEXT, crossed_words
from ..telemetry import Floats
from .day_pattern import without_day_pattern
from .features import CellDigest
from .story import CellFinding, Dated

Flags = NDArray[np.bool_]

#: A cell is resistive from this many times the median cell's, and this much more. [1], [mohm]
RESISTIVE_RATIO: Final = 1.3
RESISTIVE_MOHM: Final = 0.05
#: Growth against its own first logs that is told, against scatters of a single log.
GROWTH: Final = 0.06
GROWTH_SIGMAS: Final = 5.0
#: The same for a cell that is still no more resistive than its mates; scatters also for a lead.
SURE_GROWTH: Final = 0.08
SURE_SIGMAS: Final = 6.5
#: Logs that make a "before" and a "now".
HISTORY: Final = 6
#: Opposite changes of two neighbours' resistance that are one lead's, and how equal. [mohm]
LEAD_MOHM: Final = 0.03
#: Half widths for what scatter does not show: cells read up to half a row after the amps tell less
#: of a step; a cell near its knee changes by other shares than its mates. [parts of the figure],
#: [parts of the median cell]. Chosen here, on invented packs.
SLOPE_GAIN, SLOPE_FLOOR = 0.06, 0.006
#: A mirror: opposite errors of two neighbours of at least this size, far outside the others'
#: spread, that cancel but for this share. [mV]
MIRROR_MV: Final = 4.0
MIRROR_SPREADS: Final = 5.0
MIRROR_SHARE: Final = 0.35
#: A loose tap also rattles: its two cells scatter this many times more, against each other.
RATTLE: Final = 2.0
RATTLE_TOGETHER: Final = -0.6
_MAD: Final = 1.4826


@dataclass(frozen=True, slots=True)
class Mirror:
    """Opposite errors of neighbours in one log."""

    #: Number of the lower cell of the pair.
    cell: int
    #: Half the difference of their errors; positive if the lower-numbered reads high. [mV]
    size_mv: float
    is_rattling: bool


@dataclass(frozen=True, slots=True)
class Ratios:
    """Each cell's resistance against its log's median cell, so that cold drops out."""

    cells: tuple[int, ...]
    start_s: Floats
    #: Of the first logs and of the last, without what cells share from day to day, shape
    #: (``HISTORY``, cells); the last ones twice, as they are, where there are too few.
    before: Floats
    now: Floats
    #: Of all logs, as they are, shape (logs, cells).
    told: Floats
    #: Of the median cell. [mohm]
    median_mohm: Floats
    #: Of a single log's ratio, per cell.
    sd: Floats

    @property
    def change(self) -> Floats:
        """From before to now, shape (cells,)."""
        return _middle(self.now) - _middle(self.before)

    @property
    def scatter(self) -> Floats:
        """Of single logs about their median, shape (cells,)."""
        spread = [max(_spread(self.now[:, k]), _spread(self.before[:, k]), float(self.sd[k]))
                  for k in range(len(self.cells))]
        return np.array(spread)

    @property
    def level_mohm(self) -> float:
        return float(np.median(self.median_mohm[-HISTORY:]))


def resistance_ratios(logs: Sequence[Dated]) -> Ratios | None:
    """Of the logs that tell resistances of the same cells as the last; ``None`` without one."""
    usable = [log for log in logs if np.isfinite(log.digest.resistance_mohm).any()]
    if not usable:
        return None
    cells = usable[-1].digest.cells
    same = [log for log in usable if log.digest.cells == cells]
    table = np.array([log.digest.resistance_mohm for log in same])
    sd = np.array([log.digest.resistance_sd_mohm for log in same])
    told = np.isfinite(table).any(axis=0)
    cells, table, sd = tuple(np.array(cells)[told].tolist()), table[:, told], sd[:, told]
    # Against all cells in their pattern: where one changed, another may be the middle one.
    median = np.nanmedian(table, axis=1)
    pattern = np.nanmedian(table / median[:, None], axis=0)
    median = np.nanmedian(table / pattern, axis=1)
    ratio = table / median[:, None]
    before = now = ratio[-HISTORY:]
    if len(ratio) >= 2 * HISTORY:
        before, now = without_day_pattern(ratio[:HISTORY], now)
    return Ratios(cells, np.array([log.start_s for log in same]), before, now, ratio, median,
                  np.asarray(np.nanmedian(sd / median[:, None], axis=0)))


def resistive_cells(ratios: Ratios | None, rms_a: float | None = None) -> list[CellFinding]:
    """Cells that lose more volts under amps than their mates, now or by growth.

    Parameters
    ----------
    rms_a
        The worst RMS amps of ten minutes, for the watts. [A]
    """
    if ratios is None:
        return []
    by_lead = {k for pair in _lead_pairs(ratios) for k in (pair, pair + 1)}
    found = [_resistive(ratios, k, rms_a) for k in range(len(ratios.cells)) if k not in by_lead]
    return [finding for finding in found if finding]


def _resistive(ratios: Ratios, k: int, rms_a: float | None) -> CellFinding | None:
    cell, level, scatter = ratios.cells[k], ratios.level_mohm, float(ratios.scatter[k])
    ratio, change = float(_middle(ratios.now)[k]), float(ratios.change[k])
    extra, grown = (ratio - 1) * level, change / (ratio - change)
    standard = scatter / min(len(ratios.now), HISTORY) ** 0.5
    is_high = ratio >= RESISTIVE_RATIO and extra >= RESISTIVE_MOHM and ratio - 1 >= 4 * standard
    growth, sigmas = (GROWTH, GROWTH_SIGMAS) if ratio > 1 else (SURE_GROWTH, SURE_SIGMAS)
    is_grown = grown >= growth and change >= sigmas * standard
    if not (is_high or is_grown):
        return None
    # On first sight a cell that was always so is a hint only: packs differ.
    verdict: Verdict = "yes" if is_grown or len(ratios.start_s) >= HISTORY else "cannot tell yet"
    if extra <= 0:  # once the least resistive of all: what it grew by is what there is to tell
        extra = change * level
    against = "its mates" if ratio > 1 else "it had"
    history = f", {100 * grown:.0f} % more than at first" if is_grown else ""
    watts = (f" At the worst {rms_a:.0f} A that is {extra / 1000 * rms_a ** 2:.1f} W more "
             "heat in one place." if rms_a else "")
    return CellFinding(
        cell, "high_resistance", verdict,
        f"cell {cell} or its busbar has {extra:.2f} mΩ more than {against} "
        f"({ratio:.2f} times the middle one){history}: low under load, level at rest.{watts}",
        _mohm(extra, 2 * standard * level, ratios),
        "with everything switched off, check that cell's busbar and its bolts first, as the "
        "maker says; if they are good, the cell is worn",
        float(ratios.start_s[0]), float(ratios.start_s[-1]), True, {"ratio": ratio})


def _lead_pairs(ratios: Ratios) -> list[int]:
    """Places of pairs whose resistances changed by as much up as down: the lead between them."""
    change, standard = ratios.change, ratios.scatter / HISTORY ** 0.5
    apart, common = (change[:-1] - change[1:]) / 2, (change[:-1] + change[1:]) / 2
    noise = np.hypot(standard[:-1], standard[1:]) / 2
    is_far = np.abs(apart) >= np.maximum(LEAD_MOHM / ratios.level_mohm, SURE_SIGMAS * noise)
    is_mirror = np.abs(common) <= np.maximum(MIRROR_SHARE * np.abs(apart), 2 * noise)
    # Both must have moved: one resistive cell beside a quiet one is no mirror.
    both = np.minimum(np.abs(change[:-1]), np.abs(change[1:])) >= 0.5 * np.abs(apart)
    is_pair = is_far & is_mirror & both & (change[:-1] * change[1:] < 0)
    pairs: list[int] = []
    # A cell is in one pair only, in that of the better mirror.
    for k in sorted(np.flatnonzero(is_pair).tolist(), key=lambda k: abs(common[k] / apart[k])):
        if ratios.cells[k + 1] == ratios.cells[k] + 1 and not {k - 1, k + 1} & set(pairs):
            pairs.append(k)
    return sorted(pairs)


def resistive_leads(ratios: Ratios | None) -> list[CellFinding]:
    """Sense leads whose resistance shows as opposite slopes of two neighbours."""
    if ratios is None:
        return []
    found = []
    for k in _lead_pairs(ratios):
        size = _lead_size(ratios, k)
        low, high = ratios.cells[k], ratios.cells[k + 1]
        found.append(CellFinding(
            low, "sense_lead", "yes",
            f"cells {low} and {high} part by {size.value:.2f} mΩ in opposite ways under load, as "
            "they did not at first: the joint of the sense lead between them, not the cells",
            size,
            "with everything switched off, re-seat that tap; the maker says how",
            float(ratios.start_s[-HISTORY]), float(ratios.start_s[-1]), True,
            {"cells": [low, high]}))
    return found


def _lead_size(ratios: Ratios, k: int) -> Estimate:
    """What a pair of cells came to part by, each way. [mohm]

    Cold does not change a joint as it does cells, so it is counted in milliohms log by log, and
    taken off before its mates tell what the cells share that day. Means leave the highest and the
    lowest log out; their interval is Yuen's (Biometrika 61 (1974) 165; from memory), from the
    spread with those two held to the next.
    """
    level_mohm = ratios.median_mohm[-HISTORY:]
    before, now = ratios.told[:HISTORY], ratios.told[-HISTORY:].copy()
    first_mohm = float(_middle((_half(now, k) - _middle(_half(before, k))) * level_mohm))
    now[:, k:k + 2] -= np.outer(first_mohm / level_mohm, (1.0, -1.0))
    before, now = (_half(part, k) for part in without_day_pattern(before, now))
    came_mohm = first_mohm + (now - _middle(before)) * level_mohm
    squares = np.array([_mean_variance(came_mohm), _mean_variance(before * ratios.level_mohm)])
    freedom = (HISTORY - 3) * float(squares.sum() ** 2 / max(np.square(squares).sum(), 1e-300))
    size = abs(float(_middle(came_mohm)))
    half = t_quantile(0.975, max(1, round(freedom))) * math.sqrt(float(squares.sum()))
    # What both came to have is no lead's: one of the cells changed, too, and may be in the half.
    common_mohm = float(ratios.change[k:k + 2].mean()) * ratios.level_mohm
    return _mohm(size, math.hypot(half, common_mohm), ratios)


def _mohm(size: float, half: float, ratios: Ratios) -> Estimate:
    """With the half width that scatter shows, and what it does not show."""
    return Estimate.around(size, math.hypot(half, SLOPE_GAIN * size,
                                            SLOPE_FLOOR * ratios.level_mohm), "mohm")


def _half(ratio: Floats, k: int) -> Floats:
    """Half of what a cell has more than the next, log by log."""
    return np.asarray(ratio[:, k] - ratio[:, k + 1]) / 2


def _mean_variance(values: Floats) -> float:
    """Of ``_middle`` of ``HISTORY`` logs, from the values with the ends held to the next."""
    held = np.clip(values, *np.sort(values)[[1, -2]])
    kept = len(values) - 2
    return float(np.square(held - held.mean()).sum()) / (kept * (kept - 1))


def find_mirrors(digest: CellDigest) -> list[Mirror]:
    """Pairs of neighbours with opposite errors, in one log."""
    rest, noise = np.array(digest.rest_mv), np.array(digest.noise_mv)
    pairs = [k for k, (a, b) in enumerate(pairwise(digest.cells)) if b == a + 1]
    found = []
    for k in pairs:
        others = np.ones(len(digest.cells), bool)
        others[k:k + 2] = False
        is_rattling = digest.noise_with_next[k] < RATTLE_TOGETHER and _is_noisy(noise, k, others)
        size = _mirror_mv(rest, k, others)
        if size or is_rattling:
            found.append(Mirror(digest.cells[k], size, is_rattling))
    return found


def _is_noisy(noise: Floats, k: int, others: Flags) -> bool:
    """Whether both of a pair scatter far more than the others."""
    usual = float(np.nanmedian(noise[others])) if np.isfinite(noise[others]).any() else 1.0
    return bool((noise[k:k + 2] > RATTLE * usual).all())


def _mirror_mv(rest: Floats, k: int, others: Flags) -> float:
    """Half the difference of two opposite errors; 0 where there is no mirror."""
    first, second = float(rest[k]), float(rest[k + 1])
    half, common = (first - second) / 2, (first + second) / 2
    least_mv = min(abs(first), abs(second))
    # The others' spread is dear, and most pairs of a season are plainly no mirror.
    if not (math.isfinite(half) and least_mv >= MIRROR_MV
            and abs(common) <= MIRROR_SHARE * abs(half)):
        return 0.0
    return half if least_mv >= max(MIRROR_MV, MIRROR_SPREADS * _spread(rest[others])) else 0.0


def _spread(values: Floats) -> float:
    """Standard deviation from the median absolute one, for a few bad entries must not widen it."""
    known = values[np.isfinite(values)]
    return _MAD * float(np.median(np.abs(known - np.median(known)))) if len(known) else math.nan


def _middle(logs: Floats) -> Floats:
    """Mean over logs without the highest and the lowest, shape (cells,)."""
    ordered = np.sort(logs, axis=0)
    return np.asarray((ordered[1:-1] if len(ordered) > 4 else ordered).mean(axis=0))


def sense_leads(logs: Sequence[Dated]) -> list[CellFinding]:
    """Loose taps between neighbours: mirror errors at rest, with rattling or in several logs."""
    seen = [(log.start_s, mirror) for log in logs for mirror in find_mirrors(log.digest)]
    looks = [log.start_s for log in logs
             if np.isfinite(log.digest.rest_mv).any() or np.isfinite(log.digest.noise_mv).any()]
    return [_lead(cell, [(t, m) for t, m in seen if m.cell == cell], looks)
            for cell in sorted({m.cell for _, m in seen})]


def _lead(cell: int, seen: list[tuple[float, Mirror]], looks: list[float]) -> CellFinding:
    sizes = np.array([m.size_mv for _, m in seen if m.size_mv])
    size = float(np.median(sizes)) if len(sizes) else 0.0
    is_sure = any(m.is_rattling for _, m in seen) or len(seen) >= 3
    high, low = (cell, cell + 1) if size >= 0 else (cell + 1, cell)
    last_s = seen[-1][0]
    is_current = last_s >= looks[-min(3, len(looks))]
    mirror = (f"cell {high} reads {abs(size):.0f} mV high and cell {low} as much low" if size
              else f"cells {cell} and {cell + 1} rattle against each other")
    rattles = " and rattle" if size and any(m.is_rattling for _, m in seen) else ""
    return CellFinding(
        cell, "sense_lead", "yes" if is_sure else "cannot tell yet",
        f"{mirror}{rattles}: the sense lead between cells {cell} and {cell + 1} is loose, "
        "not the cells" + ("." if is_current else "; not seen any more."),
        Estimate.around(abs(size), 2 * max(_spread(sizes), 1.0) if len(sizes) else 2.0, "mV"),
        "with everything switched off, re-seat that tap; the maker says how",
        seen[0][0], last_s, is_current, {"cells": [cell, cell + 1]})


def frozen_figures(logs: Sequence[Dated]) -> list[CellFinding]:
    """Cells whose figure stands still while their mates move, or is missing."""
    looks = [log for log in logs if log.digest.cells or log.digest.frozen]
    found = []
    for cell in sorted({n for log in looks for n in log.digest.frozen}):
        times = [log.start_s for log in looks if cell in log.digest.frozen]
        found.append(CellFinding(
            cell, "frozen_sensor", "yes",
            f"the figure of cell {cell} is missing or stands still while the others move: "
            "it tells nothing", Estimate.around(float(len(times)), 0.0, "logs"),
            "check that cell's sense lead; no figure watches over it now",
            times[0], times[-1], times[-1] == looks[-1].start_s))
    return found


def crossed_leads(logs: Sequence[Dated]) -> list[CellFinding]:
    """Cells whose two sense wires are in each other's place."""
    found = []
    for cell in sorted({n for log in logs for n in log.digest.crossed}):
        times = [log.start_s for log in logs if cell in log.digest.crossed]
        is_current = times[-1] == logs[-1].start_s
        found.append(CellFinding(
            cell, "sense_lead", "yes",
            crossed_words(cell) + ("." if is_current else "; not seen any more."),
            Estimate.around(float(len(times)), 0.0, "logs"), NEXT, times[0], times[-1], is_current,
            {"cells": [cell - 1, cell, cell + 1]}))
    return found
