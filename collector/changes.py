"""Noticing that the figures are no longer those of the same pack, monitor or unit.

A column must not silently go on with the figures of another device. What no pack can do from one
sample to the next is told by an event in front of the first sample that shows it:

=======  ==================================================================================
changed  volts, amps or percent leave their range for good, or volts move by a power of ten;
         after a break, percent, cycles or cells are those of another pack
odd      another number of cells without a break, or a temperature that no pack has
=======  ==================================================================================

A sample in doubt is held back until enough like it followed, or one that fits: then it was a bad
reading that came alone, and stays. Another pack with the same percent, or amps in a unit that
differs by less than their range, is not noticed: a pedal does the same.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final, NamedTuple

from .gaps import GAP_KINDS
from .record import QUANTITIES, Sample, cell_columns, member_of

#: Samples that must agree before a change is told. Chosen here: a bad reading comes alone.
SURE: Final = 3
#: Volts that fall must agree for longer: behind an open path they fade away. Chosen here.
_SURE_OF_FALL: Final = 10
#: Held at most, those that say nothing of what is in doubt included.
_HELD_MAX: Final = 100
#: No pack of a vehicle has fewer volts: with less, the board has opened its path. Chosen here.
_PACK_MIN_V: Final = 6.0
#: A factor is a power of ten where its logarithm is so close to a whole number. Chosen here: load
#: and charge move the volts of a pack by a quarter at most (common practice, no source).
_NEAR_DECADE: Final = 0.12
#: So far percent may move while nobody listens, at once and in an hour. Chosen here: the rounding
#: of a display, and a charge in half an hour.
_PERCENT_AT_ONCE: Final = 3.0
_PERCENT_AN_HOUR: Final = 200.0

#: Figures by what they are called in an event. Cells are counted from the first one told, because
#: a monitor may tell them in several frames.
_Figures = dict[str, float]
_RANGES: Final = {
    "volts": "voltage_v", "amps": "current_a", "percent": "soc_pct", "volts a cell": "cell_{n}_v"}
_VOLTS: Final = ("volts", "volts a cell")
_COUNTS: Final = "cells counted from "
_WARMTH: Final = "degrees C at sensor "


class _Doubt(NamedTuple):
    """A figure that does not fit to what was told before."""

    name: str
    event: str
    sure: int = SURE


class Changes:
    """Watches the samples of one monitor, in their order."""

    def __init__(self) -> None:
        self._before: _Figures = {}
        self._held: list[Sample] = []
        self._doubt: _Doubt | None = None
        self._doubted = 0
        #: Figures told before a break, and not again since; when the break began. [s, steady]
        self._unproven: _Figures = {}
        self._last_s = self._broken_s = 0.0

    def take(self, sample: Sample) -> Iterator[Sample]:
        """What may go on: what was held back and this sample, or none of them yet."""
        if sample.event:
            yield from self.rest()
            if sample.event.startswith(GAP_KINDS) and not self._unproven:
                self._unproven, self._broken_s = dict(self._before), self._last_s
            yield sample
            return
        figures = _figures_of(sample)
        doubt = self._doubt_of(figures, sample.monotonic_s)
        if doubt:
            self._doubt = self._doubt or doubt
            self._doubted += 1
        self._held.append(sample)
        if doubt and self._doubted >= doubt.sure:
            yield Sample(self._held[0].time_ms, self._held[0].monotonic_s, event=doubt.event)
            yield from self.rest()
        elif not self._is_held_on(figures, doubt):
            yield from self.rest()

    def rest(self) -> Iterator[Sample]:
        """What is held back, to go on as it is."""
        held, self._held, self._doubt, self._doubted = self._held, [], None, 0
        for sample in held:
            figures = _figures_of(sample)
            self._before |= figures
            self._last_s = sample.monotonic_s
            for name in figures:
                self._unproven.pop(name, None)
        yield from held

    def _is_held_on(self, figures: _Figures, doubt: _Doubt | None) -> bool:
        """Whether the doubt lasts: this one is in doubt too, or says nothing of it."""
        if self._doubt is None or len(self._held) >= _HELD_MAX:
            return False
        return doubt is not None or self._doubt.name not in figures

    def _doubt_of(self, figures: _Figures, now_s: float) -> _Doubt | None:
        for name, value in figures.items():
            if name in self._before:
                before = self._before[name]
                gap_s = now_s - self._broken_s if name in self._unproven else None
                doubt = _unlike_after(name, before, value, gap_s) or _unlike(name, before, value)
                if doubt:
                    return doubt
        return None


def _figures_of(sample: Sample) -> _Figures:
    """What a sample says that is judged here."""
    numbers = {name: float(value) for name, value in sample.values.items()
               if not isinstance(value, str) and math.isfinite(value)}
    figures = {words: numbers[name] for words, name in _RANGES.items() if name in numbers}
    if "cycles" in numbers:
        figures["cycles"] = numbers["cycles"]
    if cells := cell_columns(list(numbers)):
        figures["volts a cell"] = sum(numbers[cell] for cell in cells) / len(cells)
        figures[f"{_COUNTS}{member_of(cells[0])}"] = float(member_of(cells[-1]))
    return figures | {f"{_WARMTH}{member_of(name)}": value for name, value in numbers.items()
                      if name.startswith("temp_")}


def _unlike(name: str, before: float, now: float) -> _Doubt | None:
    """A figure that cannot follow the one before, however long it took."""
    if name.startswith(_COUNTS):
        return _Doubt(name, f"odd: {_words(name, before, now)}") if now != before else None
    if name.startswith(_WARMTH):
        is_odd = _leaves_range("temp_{n}_c", before, now)
        return _Doubt(name, f"odd: {_words(name, before, now)}") if is_odd else None
    if name in _RANGES and _leaves_range(_RANGES[name], before, now):
        return _Doubt(name, _changed(name, before, now))
    if name in _VOLTS and _is_decade(name, before, now):
        return _Doubt(name, _changed(name, before, now), SURE if now > before else _SURE_OF_FALL)
    return None


def _unlike_after(name: str, before: float, now: float, gap_s: float | None) -> _Doubt | None:
    """A figure that cannot follow after a break of ``gap_s``; ``None`` for no break."""
    if gap_s is None:
        return None
    is_other = (name.startswith(_COUNTS) and now != before) or {
        "percent": abs(now - before) > _PERCENT_AT_ONCE + _PERCENT_AN_HOUR * gap_s / 3600,
        "cycles": not 0 <= now - before <= 1 + gap_s / 3600,
    }.get(name, False)
    return _Doubt(name, _changed(name, before, now)) if is_other else None


def _leaves_range(quantity: str, before: float, now: float) -> bool:
    low, high = QUANTITIES[quantity].plausible
    return low <= before <= high and not low <= now <= high


def _is_decade(name: str, before: float, now: float) -> bool:
    """Whether volts are ten, a hundred or a thousand times what they were, or that part of it."""
    if before < (_PACK_MIN_V if name == "volts" else 1.0) or now <= 0:
        return False
    decades = math.log10(now / before)
    return round(decades) != 0 and abs(decades - round(decades)) < _NEAR_DECADE


def _changed(name: str, before: float, now: float) -> str:
    return f"changed: {_words(name, before, now)}: another monitor, another pack or another unit"


def _words(name: str, before: float, now: float) -> str:
    if name.startswith(_COUNTS):
        return f"{now:g} cells are told, {before:g} before"
    return f"{name} {now:g}, {before:g} before"
