"""Every place, type and scale whose trace agrees with what was typed."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import numpy as np

from ..record import quantity_of
from .codings import BYTE_ORDERS, Figures, Form
from .columns import Columns, Flag, Spot, alive
from .plausible import DEGREE_OFFSETS, SCALES, Band, band, could_be, is_continuous
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
    #: Hypotheses whose trace could have been this quantity at all.
    tried: int
    #: True where so many agree that only the plainest were looked at: nothing can be decided.
    is_crowded: bool = False


def hunt(columns: Columns, column: str, windows: Sequence[Window]) -> Hunt:
    """Candidates with no offset; for temperatures also with the usual zero points."""
    limits = band(column, [window.value for window in windows])
    name = quantity_of(column).name
    offsets = {0.0: 0.0, **(DEGREE_OFFSETS if name == "temp_{n}_c" else {})}
    turns = (1, -1) if name == "current_a" else (1,)
    tried: set[tuple[object, ...]] = set()
    found = []
    for form, raws in _looks(columns, windows):
        habits = columns.habits(form)
        for size, cost in SCALES[name].items():
            for scale in (turn * size for turn in turns):
                for offset, offset_cost in offsets.items():
                    fits = could_be(limits, habits, scale, offset)
                    tried |= {_trace_key(form, int(n), scale, offset)
                              for n in np.flatnonzero(fits)}
                    for window, raw in zip(windows, raws, strict=True):
                        fits[fits] = window.shows(raw[:, fits] * scale + offset)
                    found += [Found(form, int(n), scale, offset, cost + offset_cost)
                              for n in np.flatnonzero(fits)]
    return _looked_at(columns, windows, found, limits, len(tried))


def _trace_key(form: Form | None, place: int, scale: float, offset: float) -> tuple[object, ...]:
    """The same for forms that differ only in what they make of the upper bytes or the sign."""
    if form is None:
        return place, scale, offset
    lowest = place if form.order == "little" else place + form.length - 1
    shift = (form.mask & -form.mask).bit_length()
    return lowest, form.order if form.length > 1 else "", shift, form.coding == "bcd", scale, offset


def _looks(columns: Columns,
           windows: Sequence[Window]) -> Iterator[tuple[Form | None, list[Figures]]]:
    """For each form the numbers at all places, window by window."""
    rows = np.concatenate([window.rows for window in windows])
    cuts = np.cumsum([len(window.rows) for window in windows])[:-1]
    for form, _ in alive(columns):
        yield form, np.split(columns.sweep(form, rows), cuts)


def _looked_at(columns: Columns, windows: Sequence[Window], found: Sequence[Found],
               limits: Band, tried: int, is_placed: bool = True) -> Hunt:
    plainest = sorted(found, key=lambda one: one.cost)[:_TRACED_MOST]
    return Hunt(list(_traced(columns, windows, plainest, limits, is_placed)), max(tried, 1),
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
        resolution = 2 * min(window.tolerance for window in windows) + abs(scale)
        places = (limits.high - limits.low) / resolution if is_placed else 1.0
        yield Candidate(columns.spot(form, place), scale, offset, values,
                        log10_chance(values, windows, places) + log10_round,
                        cost + _form_cost(form, values, scale))


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


def _form_cost(form: Form | None, values: Figures, scale: float) -> float:
    if form is None:
        return 0.0
    cost = (_CODING_COST[form.coding] + _LENGTH_COST.get(form.length, 0.5)
            + (1.0 if form.mask else 0.0))
    if form.coding == "bcd":
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
                tried |= {_trace_key(form, int(n), scale, 0) for n in np.flatnonzero(fits)}
                for place in np.flatnonzero(fits):
                    if int(place) not in seen:
                        seen[int(place)] = [np.unique(raw[:, place]) for raw in raws]
                    zero = _zero_point(seen[int(place)], windows, scale)
                    if zero is not None:
                        found.append(Found(form, int(place), scale, -zero.raw * scale,
                                           cost + _zero_cost(zero.raw), zero.log10_round))
    return _looked_at(columns, windows, found, limits, len(tried), is_placed=False)


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
