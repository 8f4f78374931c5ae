"""Alarms: figures beyond a limit for long enough, told once, and told to be over.

A pure state machine, driven by samples and their own clock. Chatter is kept out by an on-delay
(a figure must stay beyond the limit) and a band (it must come well back). A long stretch without
samples proves nothing: the delay begins again after it.

An alarm protects nothing. It may come late, or not at all.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from .alarm_limits import Limit
from .record import Sample

CAUTION: Final = ("an alarm protects nothing; the management board, the breaker and you do; follow "
                  "the maker's manual")
#: How long a shelved alarm keeps quiet. [s]
SHELF_S: Final = 600.0
#: More than this going in is charging. [A] Chosen here, above a usual zero error.
CHARGING_A: Final = 1.0
#: A figure beyond its limit before and after less than this was beyond it throughout. [s]
UNSEEN_MAX_S: Final = 60.0


@dataclass(frozen=True, slots=True)
class AlarmEvent:
    """An alarm began, is over, or still stands when its shelf time ends."""

    limit: Limit
    is_raised: bool
    #: The figure, in the limit's unit.
    value: float
    #: Shelved: it goes into the log without a sound.
    is_quiet: bool = False

    @property
    def words(self) -> str:
        """The alarm in one line, with what to do."""
        rule = self.limit.rule
        figure = f"{self.value:.{2 if rule.unit == 'V' else 0}f} {rule.unit}"
        if not self.is_raised:
            return f"over: {rule.words} {figure if math.isfinite(self.value) else ''}".rstrip()
        return (f"{rule.words} {figure}, {rule.beyond} {self.limit.value:g} {rule.unit} for "
                f"{self.limit.for_s:g} s — {rule.action}")


class Alarms:
    """The alarms of one pack.

    Parameters
    ----------
    convention
        How the amps' sign is meant, as in a log's sign decision. Where it is not known, amps
        count as going out, and nothing can be said about charging.
    """

    def __init__(self, limits: Iterable[Limit], convention: str = "") -> None:
        self._watched = [_Watched(limit) for limit in limits]
        self._convention = convention
        self._coldest: tuple[float, float] | None = None

    def unwatched(self, columns: Iterable[str]) -> list[Limit]:
        """The limits that a monitor with these columns says nothing about."""
        told = Alarms((), self._convention).figures(Sample(0, 0.0, dict.fromkeys(columns, 0.0)))
        return [each.limit for each in self._watched if each.limit.key not in told]

    def take(self, sample: Sample) -> list[AlarmEvent]:
        """What a sample changes."""
        figures = self.figures(sample)
        events = (each.take(figures[each.limit.key], sample.monotonic_s)
                  for each in self._watched if each.limit.key in figures)
        return [event for event in events if event is not None]

    def figures(self, sample: Sample) -> dict[str, float]:
        """What a sample, with the last temperature before it, says about each limit."""
        figures = figures_of(sample, self._convention)
        if "temp_low_c" in figures:
            self._coldest = (sample.monotonic_s, figures["temp_low_c"])
        if "in_a" in figures and self._coldest is not None:
            at_s, coldest_c = self._coldest
            if sample.monotonic_s - at_s <= UNSEEN_MAX_S:
                is_charging = figures["in_a"] > CHARGING_A
                figures["cold_charging_c"] = coldest_c if is_charging else math.inf
        return figures

    def shelve(self, monotonic_s: float) -> None:
        """Keep the alarms that sound quiet for ``SHELF_S``."""
        for each in self._watched:
            if each.is_raised:
                each.shelved_until_s = monotonic_s + SHELF_S

    def trial(self) -> list[AlarmEvent]:
        """Each alarm as it would sound just at its limit, for trying them."""
        return [AlarmEvent(each.limit, True, each.limit.value) for each in self._watched]


def figures_of(sample: Sample, convention: str) -> dict[str, float]:
    """What a sample alone says about each limit; what it does not say is absent."""
    numbers = {name: value for name, value in sample.values.items()
               if isinstance(value, float | int)}
    figures = _amps(numbers.get("current_a"), convention)
    for key, column in (("voltage_low_v", "voltage_v"), ("voltage_high_v", "voltage_v"),
                        ("soc_low_pct", "soc_pct")):
        if column in numbers:
            figures[key] = numbers[column]
    if cells := [value for name, value in numbers.items() if name.startswith("cell_")]:
        figures |= {"cell_low_v": min(cells), "cell_high_v": max(cells)}
    if temps := [value for name, value in numbers.items() if name.startswith("temp_")]:
        figures |= {"temp_low_c": min(temps), "temp_high_c": max(temps)}
    return figures


def _amps(amps: float | None, convention: str) -> dict[str, float]:
    if amps is None:
        return {}
    into = {"negative_is_discharge": amps, "positive_is_discharge": -amps}.get(convention)
    return {"out_a": abs(amps)} if into is None else {"out_a": -into, "in_a": into}


class _Watched:
    """One limit and how it stands."""

    def __init__(self, limit: Limit) -> None:
        self.limit = limit
        self.is_raised = False
        self.shelved_until_s = -math.inf
        self._beyond_since_s: float | None = None
        self._seen_s = -math.inf

    def take(self, value: float, now_s: float) -> AlarmEvent | None:
        was_shelved = self.shelved_until_s > -math.inf
        is_quiet = now_s < self.shelved_until_s
        if not is_quiet:
            self.shelved_until_s = -math.inf
        if not self.is_raised:
            self.is_raised = self._is_due(value, now_s)
            return AlarmEvent(self.limit, True, value, is_quiet) if self.is_raised else None
        if self._excess(value) <= -self.limit.band:
            self.is_raised = False
            return AlarmEvent(self.limit, False, value, is_quiet)
        return AlarmEvent(self.limit, True, value) if was_shelved and not is_quiet else None

    def _excess(self, value: float) -> float:
        """How far a figure is beyond the limit; negative on the right side."""
        above = value - self.limit.value
        return above if self.limit.rule.beyond == "above" else -above

    def _is_due(self, value: float, now_s: float) -> bool:
        """Whether the figure has been beyond the limit for long enough."""
        unseen_s, self._seen_s = now_s - self._seen_s, now_s
        if self._excess(value) <= 0:
            self._beyond_since_s = None
            return False
        if self._beyond_since_s is None or unseen_s > UNSEEN_MAX_S:
            self._beyond_since_s = now_s
        if now_s - self._beyond_since_s < self.limit.for_s:
            return False
        self._beyond_since_s = None
        return True
