"""What was claimed of a vehicle, held against what its own logs say.

A claim is judged only where its interval decides: ``yes`` if all of it is on the good side, ``no``
if all of it is on the bad side, else ``cannot tell yet`` with the number of further runs that
would decide it if the figures stay as they are. A ``no`` speaks of this vehicle in this use; the
claim may hold at another speed, load or road.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Final, Literal

import numpy as np

from ..estimate import Answer, Estimate, NoEstimate, Verdict
from ..fitting.line_fit import least_squares
from ..fitting.student import t_quantile
from ..one_log.use import LogUse
from .consumption import RECENT_RUNS, RUNS_MIN, Run, typical_rate

KM_PER_MI: Final = 1.609344
Quantity = Literal["range", "capacity", "peak", "charge time", "consumption"]

#: Unit -> the quantity it claims if nobody says, the unit inside, and the factor.
UNITS: Final[Mapping[str, tuple[Quantity, str, float]]] = {
    "km": ("range", "km", 1.0), "mi": ("range", "km", KM_PER_MI),
    "Wh/km": ("consumption", "Wh/km", 1.0), "Wh/mi": ("consumption", "Wh/km", 1 / KM_PER_MI),
    "Ah": ("capacity", "Ah", 1.0), "A": ("peak", "A", 1.0),
    "h": ("charge time", "h", 1.0), "min": ("charge time", "h", 1 / 60),
}
#: Units as people write them, in small letters -> as in ``UNITS``.
_SPELLED: Final[Mapping[str, str]] = {unit.lower(): unit for unit in UNITS} | {
    "mile": "mi", "miles": "mi", "amp": "A", "amps": "A", "hour": "h", "hours": "h",
    "minutes": "min", "kilometres": "km", "kilometers": "km"}
#: A claim of these holds if the figure is no more than claimed.
AT_MOST: Final = ("charge time", "consumption")
#: A peak counts if it was held for this long, as the worst RMS tells. [s]
PEAK_HELD_S: Final = 10.0
#: More runs than this are not asked for.
RUNS_MAX: Final = 200
#: A charge is told from this much put in. [Ah]
CHARGE_MIN_AH: Final = 5.0
#: A line needs charges that differ by this part of the largest.
ALIKE: Final = 0.1
#: A line of charging hours is not drawn further than this times the largest charge seen.
REACH: Final = 1.25
#: ... and needs so many.
CHARGES_MIN: Final = 4
#: What a claim that fails here may still be true of.
_MAY_HOLD: Final[Mapping[Quantity, str]] = {
    "range": "At another speed, load or road it may.",
    "consumption": "At another speed, load or road it may.",
    "capacity": "Warmer or at fewer amps it may.", "charge time": "With another charger it may.",
}
#: What would decide a claim that more runs cannot.
_DECIDES: Final[Mapping[Quantity, str]] = {
    "range": "what decides it is a better capacity: a test from full to empty",
    "consumption": "it is too near to tell",
    "capacity": "a test from full to empty with a checked meter would narrow it",
    "charge time": "log more charges from nearly empty to full",
}
_CLAIM: Final = re.compile(r"([0-9]+(?:[.,][0-9]+)?)\s*([A-Za-z]+(?:/[A-Za-z]+)?)")


@dataclass(frozen=True, slots=True)
class Claim:
    """What somebody said."""

    text: str
    quantity: Quantity
    #: In ``unit``: km, Ah, A, h or Wh/km.
    value: float
    unit: str
    #: As typed: ``mi``, and how many of ``unit`` one is; the digits of the figure that count.
    typed_unit: str
    typed_factor: float
    digits: int = 2
    date: date | None = None

    def shown(self, found: Estimate) -> str:
        """A figure in the unit that was typed, with its interval."""
        typed = found.scaled(1 / self.typed_factor, self.typed_unit)
        digits = 0 if typed.value >= 20 else 1
        value, low, high = (f"{x:.{digits}f}" for x in (typed.value, typed.low, typed.high))
        return f"{value} {typed.unit}" + (f" ({low} to {high})" if high != low else "")


@dataclass(frozen=True, slots=True)
class Need:
    """Something that a verdict needs, and whether it is there."""

    words: str
    is_met: bool


@dataclass(frozen=True, slots=True)
class Judged:
    """A claim, its verdict, and what it rests on."""

    claim: Claim
    verdict: Verdict
    #: Further runs that would decide; 0 if decided, ``None`` if runs cannot.
    runs_needed: int | None
    found: Answer
    #: Peak amps that are typed of the board, where more than that flowed.
    beyond_a: float | None = None
    #: What ``found`` is from: ``30 drives``.
    rests_on: str = ""
    needs: tuple[Need, ...] = ()
    #: The best estimate where a verdict needs more than there is; ``None`` if there is none.
    so_far: Estimate | None = None

    @property
    def words(self) -> str:
        """The verdict in a sentence, figures in the unit that was typed."""
        return words_of(self, self.claim.shown)

    def as_json(self) -> dict[str, Any]:
        return {"text": self.claim.text, "quantity": self.claim.quantity, "verdict": self.verdict,
                "words": self.words, "runs_needed": self.runs_needed,
                "claimed": {"value": self.claim.value, "unit": self.claim.unit},
                "found": self.found.as_json(), "rests_on": self.rests_on,
                "needs": [{"words": need.words, "is_met": need.is_met} for need in self.needs],
                "so_far": self.so_far and self.so_far.as_json()}


def parse_claim(text: str) -> Claim:
    """A claim as typed: ``40 mi``, ``105 Ah``, ``200 A peak``, ``full in 5 h``, ``85 Wh/mi``.

    Raises
    ------
    ValueError
        If it is not a number above 0 and a known unit.
    """
    match = _CLAIM.search(text)
    typed_unit = _SPELLED.get(match[2].lower()) if match else None
    if not match or not typed_unit:
        raise ValueError(f"{text!r} is not a number with one of the units {', '.join(UNITS)}")
    quantity, unit, factor = UNITS[typed_unit]
    value = float(match[1].replace(",", ".")) * factor
    if not value:
        raise ValueError(f"{text!r} claims nothing")
    digits = len(re.sub(r"[.,]", "", match[1]).lstrip("0"))
    return Claim(text.strip(), quantity, value, unit, typed_unit, factor, digits)


def claims_of(config: Mapping[str, Any]) -> tuple[Claim, ...]:
    """The ``[[claim]]`` tables of a logbook.

    Raises
    ------
    ValueError
        If one lacks a value, or has a unit that nobody knows; names it.
    """
    claims = []
    for number, table in enumerate(config.get("claim", []), start=1):
        try:
            claim = parse_claim(f"{table['value']} {table['unit']}")
        except KeyError as error:
            raise ValueError(f"claim {number} has no {error.args[0]}") from error
        told = table.get("quantity", claim.quantity)
        if told != claim.quantity:
            raise ValueError(f"claim {number}: {table['unit']} is not a unit of {told!r}")
        claims.append(replace(claim, text=str(table.get("text", claim.text)),
                              date=table.get("date")))
    return tuple(claims)


def judge(claim: Claim, found: Answer, *, runs: int = 0, fixed: float = 0.0) -> Judged:
    """Hold one claim against what was found.

    Parameters
    ----------
    found
        In the claim's unit.
    runs
        How many runs ``found`` is the mean of; 0 if more runs would not sharpen it.
    fixed
        Half width of ``found``, as a part of its value, that more runs do not shrink.
    """
    if isinstance(found, NoEstimate):
        is_of_runs = claim.quantity in ("range", "consumption") and runs < RUNS_MIN
        return Judged(claim, "cannot tell yet", RUNS_MIN - runs if is_of_runs else None, found)
    verdict = _verdict(claim, found)
    return Judged(claim, verdict, _runs_needed(claim, found, runs, fixed)
                  if verdict == "cannot tell yet" else 0, found)


def _verdict(claim: Claim, found: Estimate) -> Verdict:
    above, below = found.low >= claim.value, found.high < claim.value
    if claim.quantity in AT_MOST:
        above, below = found.high <= claim.value, found.low > claim.value
    return "yes" if above else "no" if below else "cannot tell yet"


def _runs_needed(claim: Claim, found: Estimate, runs: int, fixed: float) -> int | None:
    """How many more until the interval, shrinking with the root of their number, leaves the
    claim out; ``None`` if they never would."""
    gap = abs(math.log(found.value / claim.value))
    if runs < 2 or gap <= fixed:
        return None
    half = math.log(found.high / found.low) / 2
    free = math.sqrt(max(half**2 - fixed**2, 0.0))
    needed = math.ceil(runs * free**2 / (gap**2 - fixed**2)) - runs
    return max(1, needed) if needed <= RUNS_MAX else None


def words_of(judged: Judged, shown: Callable[[Estimate], str]) -> str:
    """The verdict in a sentence; ``shown`` tells a figure with its unit and interval."""
    claim, found, quoted = judged.claim, judged.found, f"“{judged.claim.text}”"
    if isinstance(found, NoEstimate):
        return f"{quoted} cannot be judged yet: {found.reason}. Next: {found.next}."
    if claim.quantity == "peak":
        return f"{quoted} {_peak_words(judged, shown(found))}"
    if judged.verdict == "yes":
        return f"{quoted} holds: your own logs say {shown(found)}."
    if judged.verdict == "no":
        return (f"{quoted} does not hold in your use: your own logs say {shown(found)}. "
                f"{_MAY_HOLD[claim.quantity]}")
    more = (f"about {judged.runs_needed} more drives would decide it" if judged.runs_needed
            else _DECIDES[claim.quantity])
    return f"{quoted} cannot be judged yet: your own logs say {shown(found)}; {more}."


def _peak_words(judged: Judged, shown: str) -> str:
    if judged.verdict != "yes":
        return (f"cannot be judged yet: at most {shown} flowed for {PEAK_HELD_S:.0f} s so far, "
                "and the pack may be able to do more. Do not force it: stay within the maker's "
                "limits.")
    words = f"holds: {shown} flowed for {PEAK_HELD_S:.0f} s."
    if judged.beyond_a is None:
        return words
    return (f"{words} That is beyond the {judged.beyond_a:.0f} A that are typed of the board, "
            "where it may cut out: do not ask for as much again.")


def full_charge_range(runs: Sequence[Run], full: Answer) -> tuple[Answer, int, float]:
    """Distance from full to empty at the usual consumption of the last drives. [km, 95 %]

    ``full`` is what a full pack gives, in what ``Run.used`` counts: Wh, or 100 percent.

    Returns
    -------
    tuple
        The range; how many runs its consumption is the mean of; the part of its relative half
        width that is the battery's.
    """
    rate = typical_rate(runs, f"{full.unit if isinstance(full, Estimate) else 'Wh'}/km")
    count = min(len(runs), RECENT_RUNS)
    if isinstance(rate, NoEstimate):
        return rate, count, 0.0
    if isinstance(full, NoEstimate):
        return full, count, 0.0
    battery = math.log(full.high / full.low) / 2
    half = math.hypot(battery, math.log(rate.high / rate.low) / 2)
    value = full.value / rate.value
    found = Estimate(value, value * math.exp(-half), value * math.exp(half), "km")
    return found, count, battery


def held_peak(uses: Iterable[LogUse]) -> Answer:
    """The largest amps out held for ten seconds, as an RMS; the pack may be able to do more. [A]"""
    held = [use.rms_a[0] for use in uses
            if math.isfinite(use.rms_a[0]) and use.peak_out_a > use.peak_in_a]
    if not held:
        return NoEstimate("no log holds amps over ten seconds", "log a hard pull")
    return Estimate(max(held), max(held), max(held), "A")


def judge_peak(claim: Claim, held: Answer, board_a: float | None = None) -> Judged:
    """A peak is proven by having flowed; that it never did proves nothing against it.

    ``board_a`` is the peak that is typed of the board, if any.
    """
    if isinstance(held, NoEstimate) or held.value < claim.value:
        return Judged(claim, "cannot tell yet", None, held)
    is_beyond = board_a is not None and held.value > board_a
    return replace(judge(claim, held), beyond_a=board_a if is_beyond else None)


def full_charge_hours(charges: Sequence[tuple[float, float]], capacity_ah: Answer) -> Answer:
    """Hours from empty to full: a line of hours against amp-hours put in, at the capacity. [95 %]

    Parameters
    ----------
    charges
        Of each charge that ended full: amp-hours put in, hours.
    """
    known = np.array([c for c in charges if c[0] >= CHARGE_MIN_AH])
    if isinstance(capacity_ah, NoEstimate):
        return capacity_ah
    if len(known) < CHARGES_MIN:
        return NoEstimate(f"{len(known)} full charges are too few", "log charges to the end")
    most = float(known[:, 0].max())
    if capacity_ah.value > REACH * most:
        return NoEstimate(f"the largest charge put in {most:.0f} Ah of {capacity_ah.value:.0f}",
                          "log a charge from nearly empty to full")
    if most - float(known[:, 0].min()) < ALIKE * most:
        return NoEstimate("the full charges were all of one size", "log a smaller one, too")
    fit = least_squares(np.stack([np.ones(len(known)), known[:, 0]], axis=1), known[:, 1])
    hours, sd = fit.at(1.0, capacity_ah.value)
    slope = float(fit.coefficients[1])
    half = math.hypot(t_quantile(0.975, fit.freedom) * math.hypot(sd, fit.scatter),
                      slope * capacity_ah.half_width)
    return Estimate.around(hours, half, "h")
