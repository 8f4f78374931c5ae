"""Every place, type and scale whose trace agrees with what was typed."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import numpy as np

from ..record import quantity_of
from .codings import BYTE_ORDERS, Figures, Form
from .columns import Columns, Flag, Habits, Spot, alive
from .plausible import SCALES, SLOW, Band, band, could_be, is_continuous, zero_points
from .windows import Window, log10_chance

#: What a coding costs in belief beside a plain integer. [log10]
_CODING_COST: Final[Mapping[str, float]] = {
    "unsigned": 0.0, "signed": 0.0, "offset-binary": 0.3, "sign-magnitude": 0.5, "bcd": 0.7,
    "digits": 0.0, "float": 0.3}
_LENGTH_COST: Final = {1: 0.0, 2: 0.0, 3: 0.6, 4: 0.2}


class Found(NamedTuple):
    """Something that agrees with the readings."""

    form: Form | None
    place: int
    scale: float
    offset: float
    #: How unusual a choice it would be. [log10]
    cost: float
    #: How likely chance makes an offset as round as this. [log10]
    log10_round: float = 0.0


#: More agree only where the readings say next to nothing.
_TRACED_MOST: Final = 1500


@dataclass(frozen=True)
class Candidate:
    """A place, type, scale and offset that agree with all typed figures."""

    spot: Spot
    scale: float
    offset: float
    #: What it says at every frame, in the unit of the quantity.
    values: Figures
    #: How likely it is to agree by chance, and how unusual a choice it would be. [log10]
    log10_p: float
    cost: float
    #: What the rest of the capture says for it. [log10]
    support: float = 0.0
    #: What makes an unsigned size negative.
    flag: Flag | None = None

    @property
    def score(self) -> float:
        """Log odds against the other candidates, up to a constant. [log10]"""
        return self.support - self.log10_p - self.cost

    def supported(self, more: float) -> Candidate:
        """The same with more evidence. [log10]"""
        return replace(self, support=self.support + more)


@dataclass(frozen=True)
class Hunt:
    """What a search found, and how much it tried."""

    candidates: list[Candidate]
    #: Hypotheses whose trace could have been this quantity at all, each by how usual it is.
    tried: float
    #: True where so many agree that only the plainest were looked at: nothing can be decided.
    is_crowded: bool = False


def hunt(columns: Columns, column: str, windows: Sequence[Window]) -> Hunt:
    """Candidates with no offset; for temperatures also with the usual zero points."""
    limits = band(column, [window.value for window in windows])
    name = quantity_of(column).name
    turns = (1, -1) if name == "current_a" else (1,)
    tried: dict[tuple[object, ...], float] = {}
    found = []
    for form, raws in _looks(columns, windows):
        habits = columns.habits(form)
        for size, cost in SCALES[name].items():
            for scale in (turn * size for turn in turns):
                for offset, offset_cost in zero_points(name, size).items():
                    if offset and not _has_zero_point(form):
                        continue
                    fits = could_be(limits, habits, scale, offset)
                    weight = 10.0 ** -(cost + offset_cost)
                    tried |= {_trace_key(habits, int(n), scale, offset): weight
                              for n in np.flatnonzero(fits)}
                    for window, raw in zip(windows, raws, strict=True):
                        fits[fits] = window.shows(raw[:, fits] * scale + offset)
                    found += [Found(form, int(n), scale, offset, cost + offset_cost)
                              for n in np.flatnonzero(fits)]
    if name == "temp_{n}_c":
        # Most numbers are near zero: how far from the typed ones they lie tells nothing.
        moving = _moving_so(columns, windows, limits.high - limits.low)
        return _looked_at(columns, windows, found, limits, moving, is_placed=False)
    return _looked_at(columns, windows, found, limits, max(sum(tried.values()), 1.0))


def _has_zero_point(form: Form | None) -> bool:
    """Whether a zero below the lowest figure is of use: a form with a sign has its own."""
    return form is not None and form.coding == "unsigned" and not form.mask


def _moving_so(columns: Columns, windows: Sequence[Window], extent: float) -> float:
    """Slow columns that move as the typed temperatures do, at whatever level.

    Each counts by how usual its wordings are, and by how likely a zero point anywhere within
    ``extent`` makes it agree: what chance has to offer.
    """
    limits = Band(-np.inf, np.inf, *SLOW)
    weights: dict[tuple[float, ...], float] = {}
    for form, raws in _looks(columns, windows):
        habits = columns.habits(form)
        lows = np.array([np.min(raw, axis=0) for raw in raws])
        highs = np.array([np.max(raw, axis=0) for raw in raws])
        for scale, cost in SCALES["temp_{n}_c"].items():
            zeros = zero_points("temp_{n}_c", scale) if _has_zero_point(form) else {0.0: 0.0}
            weight = sum(10.0 ** -(cost + zero_cost) for zero_cost in zeros.values())
            calm = could_be(limits, habits, scale, 0) & (
                (habits.high - habits.low) * scale <= extent)
            first = np.max([w.value - w.tolerance - high * scale
                            for w, high in zip(windows, highs, strict=True)], axis=0)
            last = np.min([w.value + w.tolerance - low * scale
                           for w, low in zip(windows, lows, strict=True)], axis=0)
            for n in np.flatnonzero(calm & (last >= first)):
                share = min(1.0, float(last[n] - first[n]) / extent)
                key = _trace_key(habits, int(n), scale, 0)
                weights[key] = max(weights.get(key, 0.0),
                                   weight * share * 10.0 ** -_static_cost(form))
    return max(sum(weights.values()), 1e-3)


def _trace_key(habits: Habits, place: int, scale: float, offset: float) -> tuple[float, ...]:
    """The same for forms that differ only in what they make of upper bytes, which stand still."""
    return (float(habits.low[place]), float(habits.high[place]), float(habits.step[place]),
            scale, offset)


def _looks(columns: Columns,
           windows: Sequence[Window]) -> Iterator[tuple[Form | None, list[Figures]]]:
    """For each form the numbers at all places, window by window."""
    rows = np.concatenate([window.rows for window in windows])
    cuts = np.cumsum([len(window.rows) for window in windows])[:-1]
    for form, _ in alive(columns):
        yield form, np.split(columns.sweep(form, rows), cuts)


def _looked_at(columns: Columns, windows: Sequence[Window], found: Sequence[Found],
               limits: Band, tried: float, is_placed: bool = True) -> Hunt:
    plainest = sorted(found, key=lambda one: one.cost)[:_TRACED_MOST]
    return Hunt(list(_traced(columns, windows, plainest, limits, is_placed)), tried,
                len(found) > len(plainest))


def _traced(columns: Columns, windows: Sequence[Window], found: Sequence[Found],
            limits: Band, is_placed: bool) -> Iterator[Candidate]:
    """The finds whose whole trace holds, with their odds."""
    for form, place, scale, offset, cost, log10_round in found:
        values = columns.trace(form, place) * scale + offset
        if (_ends_idle(columns, form, place, values)
                or not is_continuous(values, full_scale(form) * abs(scale))
                or _lacks_sign(columns, form, place, values / scale)):
            continue
        places = (limits.high - limits.low) / _reach(values, windows, abs(scale)) \
            if is_placed else 1.0
        yield Candidate(columns.spot(form, place), scale, offset, values,
                        log10_chance(values, windows, places) + log10_round,
                        cost + _form_cost(form, values, scale))


def _reach(values: Figures, windows: Sequence[Window], step: float) -> float:
    """How many of all figures would have agreed with the window that tells most."""
    shown = [(values[window.rows], max(2 * window.tolerance, step)) for window in windows]
    return min(float(np.ptp(figures[np.isfinite(figures)])) + width
               for figures, width in shown if np.isfinite(figures).any())


def _ends_idle(columns: Columns, form: Form | None, place: int, values: Figures) -> bool:
    """Whether the last byte hardly moves while the figure does: then it is no part of it."""
    if form is None or form.length == 1 or form.mask:
        return False
    last = place if form.order == "little" else place + form.length - 1
    kinds = len(np.unique(columns.trace(Form("unsigned", 1), last)))
    return kinds == 1 or (kinds < 4 and len(np.unique(values)) > 5 * kinds)


def _lacks_sign(columns: Columns, form: Form | None, place: int, figures: Figures) -> bool:
    """Whether a minus stands right before these digits in some frames, but not in all."""
    if form is None or form.coding != "digits" or place == 0:
        return False
    longer = columns.trace(Form("digits", form.length + 1), place - 1)
    has_minus = (longer == -figures)[figures != 0]
    return bool(has_minus.any() and not has_minus.all())


def full_scale(form: Form | None) -> float:
    """Steps from the lowest to the highest number that fits."""
    if form is None:
        return math.inf
    low, high = form.span()
    return high - low


def _static_cost(form: Form | None) -> float:
    """How unusual a form is, whatever it says. [log10]"""
    if form is None:
        return 0.0
    return (_CODING_COST[form.coding] + _LENGTH_COST.get(form.length, 0.5)
            + (1.0 if form.mask else 0.0))


def _form_cost(form: Form | None, values: Figures, scale: float) -> float:
    cost = _static_cost(form)
    if form is not None and form.coding == "bcd":
        # Only 100 of 256 bytes are two digits: each new last byte that is says so again.
        last = np.unique(np.mod(values, 100 * abs(scale)))
        cost -= min(2.4, 0.4 * len(last))
    return cost


# ------------------------------------------------ amps with a zero point of their own

#: Forms whose zero may lie anywhere; the signed ones have theirs.
_ZERO_FORMS: Final = (
    Form("unsigned", 1), *(Form("unsigned", length, order) for length in (2, 3, 4)
                           for order in BYTE_ORDERS))


def hunt_zero_point(columns: Columns, column: str, windows: Sequence[Window]) -> Hunt:
    """Candidates whose raw value for zero comes from the data: unsigned with an offset.

    The window with the calmest frames gives the offset, the others have to agree with it.
    """
    limits = band(column, [window.value for window in windows])
    tried: set[tuple[object, ...]] = set()
    found = []
    for form, raws in _looks(columns, windows):
        if form is not None and form not in _ZERO_FORMS:
            continue
        habits = columns.habits(form)
        wide = Band(-np.inf, np.inf, limits.step_share)
        seen: dict[int, list[Figures]] = {}
        for size, cost in SCALES[quantity_of(column).name].items():
            for scale in (size, -size):
                extent = (habits.high - habits.low) * size
                fits = could_be(wide, habits, scale, 0) & (extent <= limits.high - limits.low)
                tried |= {_trace_key(habits, int(n), scale, 0) for n in np.flatnonzero(fits)}
                for place in np.flatnonzero(fits):
                    if int(place) not in seen:
                        seen[int(place)] = [np.unique(raw[:, place]) for raw in raws]
                    zero = _zero_point(seen[int(place)], windows, scale)
                    if zero is not None:
                        found.append(Found(form, int(place), scale, -zero.raw * scale,
                                           cost + _zero_cost(zero.raw), zero.log10_round))
    return _looked_at(columns, windows, found, limits, max(len(tried), 1),
                      is_placed=False)


@dataclass(frozen=True)
class _Zero:
    """The raw value that stands for no amps."""

    raw: int
    #: How likely as round a one is among all that agree. [log10]
    log10_round: float


def _zero_point(raws: Sequence[Figures], windows: Sequence[Window],
                scale: float) -> _Zero | None:
    """The roundest raw value that, taken as zero, agrees with every window.

    ``raws`` holds the different numbers of each window.
    """
    size = abs(scale)
    spans = []
    for raw, window in zip(raws, windows, strict=True):
        middle = raw - window.value / scale
        reach = window.tolerance / size
        spans.append((np.ceil(middle - reach - 1e-6), np.floor(middle + reach + 1e-6)))
    first = min(range(len(spans)), key=lambda n: len(spans[n][0]))
    best: int | None = None
    for low, high in zip(*spans[first], strict=True):
        # A wide span holds more integers than need to be looked at: the roundest ones do.
        for zero in _round_integers(int(low), int(high)):
            if zero and all(((s[0] <= zero) & (s[1] >= zero)).any() for s in spans) and (
                    best is None or _zero_cost(zero) < _zero_cost(best)):
                best = zero
    if best is None:
        return None
    return _Zero(best, min(0.0, math.log10(max(_agreeing(spans), 1) / _roundness(best))))


def _agreeing(spans: Sequence[tuple[Figures, Figures]]) -> int:
    """How many integers lie within a span of every window."""
    lowest = max(float(low.min()) for low, _ in spans)
    count = int(min(float(high.max()) for _, high in spans) - lowest) + 1
    agree = np.ones(max(count, 0), dtype=bool)
    for low, high in spans:
        begins, stops = np.clip(low - lowest, 0, count), np.clip(high - lowest + 1, 0, count)
        edges = np.zeros(count + 1)
        np.add.at(edges, begins.astype(int), 1)
        np.add.at(edges, stops.astype(int), -1)
        agree &= np.cumsum(edges)[:-1] > 0
    return int(agree.sum())


def _round_integers(low: int, high: int) -> list[int]:
    """Integers within the span, those that are multiples of the largest steps."""
    for step in (*_ROUND_COST, 16, 5, 1):
        first = -(-low // step) * step
        if first <= high:
            return list(range(first, high + 1, step))[:40]
    return []


#: Round zero points are likelier than others: what multiples of each step cost. [log10]
_ROUND_COST: Final = {10000: 0.3, 5000: 0.5, 1000: 0.7, 500: 1.0, 100: 1.3, 50: 1.8, 10: 2.5}
#: About as far apart as the powers of two of 16 bits are on average, which are round as well.
_POWER_STEP: Final = 4096


def _roundness(zero: int) -> int:
    """How far apart zeros as round as this are; 1 for any."""
    if _is_power(zero):
        return _POWER_STEP
    return next((step for step in _ROUND_COST if zero % step == 0), 1)


def _zero_cost(zero: int) -> float:
    return 0.3 if _is_power(zero) else _ROUND_COST.get(_roundness(zero), 3.5)


def _is_power(zero: int) -> bool:
    return zero >= 64 and zero & (zero - 1) == 0
