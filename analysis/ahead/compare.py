"""Did a change help? Days before and after it, the same ways driven, joined in pairs (``pairing``).

The change is the mean log ratio of the pairs with Student's t, beside it the chance of a mean as
large if signs were tossed (permutation test: R. A. Fisher, *The Design of Experiments*, 1935,
sec. 21; from memory). Trips of one day share load, wind and driver, so the day counts, not the
trip.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from ..digest import LogDigest
from ..estimate import Answer, Estimate, NoEstimate, Verdict
from ..fitting.line_fit import MAD_TO_SD, least_squares
from ..fitting.student import t_quantile
from ..telemetry import Floats
from ..timebase import Rows
from .consumption import Conditions, is_drive, zero_error_w
from .pairing import (
    PAIRS_MIN,
    DayFigure,
    DayPair,
    PairedOn,
    mean_of_known,
    pair_trips,
)
from .routes import RoutedTrip, route_trips

#: Parts of a digest that a comparison needs.
PARTS_NEEDED: Final = ("use", "trips", "zero", "bands")
#: Paired days that differ by more are told: temperature [K], speed [parts].
TEMP_TOLD_K, SPEED_TOLD = 3.0, 0.03
#: ... and by their notes: load [kg], wind [m/s]. Chosen here: each makes two or three percent.
LOAD_TOLD_KG, WIND_TOLD_M_S = 20.0, 2.0
#: From so many pairs on odd ones are left out: those further from the middle one than so many
#: standard deviations, unless they are more than this share. Chosen here.
ROBUST_PAIRS: Final = 12
ODD_SPREADS: Final = 3.5
ODD_SHARE: Final = 0.2
#: What is asked of a comparison: found with this chance ... (power 0.8, two sides of 5 %)
_Z_SUM: Final = 1.96 + 0.84
#: ... and at most so many pairs.
PAIRS_ASKED_MAX: Final = 200
#: Up to so many pairs every toss is tried, from there on so many.
EXACT_PAIRS, TOSSES = 12, 20_000


@dataclass(frozen=True, slots=True)
class Side:
    """One side of a comparison: how many days it has on the common ways, and the means over those
    that were paired."""

    days: int
    consumption: Answer
    temp_c: float
    speed_m_s: float
    #: As noted on at least ``PAIRS_MIN`` of them: load above the usual, wind; else NaN.
    load_kg: float
    wind_m_s: float

    def as_json(self) -> dict[str, Any]:
        return {"days": self.days, "consumption": self.consumption.as_json(),
                "temp_c": _or_none(self.temp_c), "speed_m_s": _or_none(self.speed_m_s),
                "load_kg": _or_none(self.load_kg), "wind_m_s": _or_none(self.wind_m_s)}


@dataclass(frozen=True, slots=True)
class Comparison:
    """What a change did to the consumption."""

    before: Side
    after: Side
    change_pct: Answer
    pairs: int
    #: Chance of a mean as large if nothing had changed; NaN without pairs.
    chance: float
    #: Further pairs that would decide a change of this size; 0 if it is decided, ``None`` if more
    #: than are worth it.
    pairs_needed: int | None
    #: Ways that both sides have in common; 0 if the ways differ.
    routes: int
    confounders: tuple[str, ...]
    #: The pairs themselves, by the day before.
    paired: tuple[DayPair, ...] = ()
    #: By what they were joined, and how many by each.
    paired_on: tuple[PairedOn, ...] = ()

    @property
    def verdict(self) -> Verdict:
        """Whether the change helped."""
        return _verdict(self.change_pct)

    @property
    def words(self) -> str:
        return _words(self)

    @property
    def paired_words(self) -> str:
        """By what the days were joined, how many by each; empty without pairs."""
        parts = "; ".join(each.words for each in self.paired_on)
        return f"Pairs of days: {parts}." if parts else ""

    def as_json(self) -> dict[str, Any]:
        return {"before": self.before.as_json(), "after": self.after.as_json(),
                "change_pct": self.change_pct.as_json(), "pairs": self.pairs,
                "chance": _or_none(self.chance), "pairs_needed": self.pairs_needed,
                "routes": self.routes, "verdict": self.verdict, "words": self.words,
                "confounders": list(self.confounders),
                "paired": [asdict(pair) for pair in self.paired],
                "paired_on": [each.as_json() for each in self.paired_on]}


def compare_digests(before: Sequence[LogDigest], after: Sequence[LogDigest],
                    noted: Mapping[str, Conditions] | None = None) -> Comparison:
    """Compare the drives of two sets of logs, which must have the parts in ``PARTS_NEEDED``.

    ``noted`` is what was noted by hand of a log, by its file name.
    """
    both = [*before, *after]
    drives = [(digest, error_w) for digest, error_w in zip(both, zero_error_w(both), strict=True)
              if is_drive(digest)]
    routed = route_trips(drives, noted)
    border = sum(is_drive(d) for d in before)
    return compare_trips([t for log in routed[:border] for t in log],
                         [t for log in routed[border:] for t in log])


def compare_trips(old: Sequence[RoutedTrip], new: Sequence[RoutedTrip]) -> Comparison:
    """Compare the trips of two sides, day against day."""
    found = pair_trips(old, new)
    pairs = sorted((each.pair(*days) for each in found for days in each.pairs),
                   key=lambda pair: pair.before)
    ratios = np.array([math.log(pair.after_rate / pair.before_rate) for pair in pairs])
    unit = "Wh/km" if found[0].kind == "speed" else "Wh per trip"
    sides = (_side(set().union(*(each.before for each in found)),
                   [each.before[a] for each in found for a, _ in each.pairs], unit),
             _side(set().union(*(each.after for each in found)),
                   [each.after[b] for each in found for _, b in each.pairs], unit))
    change = change_of_pairs(ratios, np.argsort([pair.after for pair in pairs]))
    needed = 0 if _verdict(change) != "cannot tell yet" else pairs_still_needed(ratios)
    routes = sum(each.on.routes for each in found)
    return Comparison(*sides, change, len(pairs), toss_chance(ratios), needed, routes,
                      _confounders(*sides, routes), tuple(pairs),
                      tuple(each.on for each in found if each.pairs))


def _verdict(change_pct: Answer) -> Verdict:
    if isinstance(change_pct, NoEstimate):
        return "cannot tell yet"
    if change_pct.high < 0:
        return "yes"
    return "no" if change_pct.low > 0 else "cannot tell yet"


def change_of_pairs(log_ratios: Floats, by_after: Rows | None = None) -> Answer:
    """The mean change of pairs with Student's t. [%, 95 %]

    From ``ROBUST_PAIRS`` on a pair with a dragging brake or a gale is left out: such days lie to
    one side, and pulled in they would move the mean still. Neighbouring days share weather and
    driver, so that pairs tell less than as many days apart: with ``r`` the correlation of
    neighbours (not below 0) the interval is ``sqrt((1 + r) / (1 - r))`` times as wide (G. V.
    Bayley, J. M. Hammersley, Suppl. J. R. Stat. Soc. 8 (1946) 184; from memory).

    Parameters
    ----------
    log_ratios
        By the days before.
    by_after
        Their places by the days after; by default the same.
    """
    count = len(log_ratios)
    if count < PAIRS_MIN:
        return NoEstimate(
            f"pairs of days on the same ways: {count}, too few",
            f"drive the same ways on {PAIRS_MIN - count} more days of the side that has fewer")
    is_usual, wider = np.ones(count, bool), 1.0
    if count >= ROBUST_PAIRS:
        is_usual = _is_usual(log_ratios)
        orders = (np.arange(count), np.arange(count) if by_after is None else by_after)
        likeness = max(_likeness(log_ratios[order][is_usual[order]]) for order in orders)
        wider = math.sqrt((1 + likeness) / (1 - likeness))
    usual = log_ratios[is_usual]
    mean = least_squares(np.ones((len(usual), 1)), usual).coefficient(0, "%")
    low, value, high = (100 * math.expm1(mean.value + wider * half)
                        for half in (-mean.half_width, 0.0, mean.half_width))
    return Estimate(value, low, high, "%")


def _is_usual(log_ratios: Floats) -> NDArray[np.bool_]:
    far = np.abs(log_ratios - np.median(log_ratios))
    is_usual = far <= ODD_SPREADS * MAD_TO_SD * float(np.median(far))
    return is_usual if is_usual.mean() >= 1 - ODD_SHARE else np.ones(len(far), bool)


def _likeness(values: Floats) -> float:
    """Correlation of neighbours, from 0 to 0.9, without the bias of a short series (F. H. C.
    Marriott, J. A. Pope, Biometrika 41 (1954) 390; from memory)."""
    apart = values - values.mean()
    power = float(apart @ apart)
    told = float(apart[1:] @ apart[:-1]) / power if power > 0 else 0.0
    return min(max(told + (1 + 3 * told) / len(values), 0.0), 0.9)


def toss_chance(log_ratios: Floats) -> float:
    """Chance of a mean as far from 0 if each pair's sign were tossed; NaN without pairs."""
    count = len(log_ratios)
    if not count:
        return math.nan
    if count <= EXACT_PAIRS:
        tosses = 1 - 2 * ((np.arange(2**count)[:, None] >> np.arange(count)) & 1)
    else:
        tosses = np.random.default_rng(0).choice([-1, 1], size=(TOSSES, count))
        tosses[0] = 1
    means = np.abs(tosses @ log_ratios)
    return float(np.mean(means >= means[0] * (1 - 1e-9)))


def pairs_still_needed(log_ratios: Floats) -> int | None:
    """Further pairs until a change of the mean's size is found with a chance of 0.8.

    In all ``n = (s (1.96 + 0.84) / d)^2 + 2`` with ``s`` the scatter of the pairs' log ratios and
    ``d`` their mean; the 2 makes up for Student's t. ``None`` above ``PAIRS_ASKED_MAX``.
    """
    count = len(log_ratios)
    if count < PAIRS_MIN:
        return PAIRS_MIN - count
    scatter, mean = float(log_ratios.std(ddof=1)), abs(float(log_ratios.mean()))
    whole = (_Z_SUM * scatter / mean) ** 2 + 2 if mean else math.inf
    return max(1, math.ceil(whole) - count) if whole <= PAIRS_ASKED_MAX else None


def _side(days: Collection[str], paired: Sequence[DayFigure], unit: str) -> Side:
    rates = np.array([figure.rate for figure in paired])
    consumption: Answer = NoEstimate("fewer than two pairs of days", "log more drives")
    if len(rates) >= 2:
        half = t_quantile(0.975, len(rates) - 1) * float(rates.std(ddof=1)) / math.sqrt(len(rates))
        consumption = Estimate.around(float(rates.mean()), half, unit)
    temp, speed = (float(np.mean([getattr(f, name) for f in paired])) if paired else math.nan
                   for name in ("temp_c", "speed_m_s"))
    load, wind = (mean_of_known([getattr(f, name) for f in paired], PAIRS_MIN)
                  for name in ("load_kg", "wind_m_s"))
    return Side(len(days), consumption, temp, speed, load, wind)


def _confounders(before: Side, after: Side, routes: int) -> tuple[str, ...]:
    if not (before.days and after.days):
        return ()
    told = [] if routes else ["no way is common to both sides: the ways may make the difference"]
    kelvin = after.temp_c - before.temp_c
    if abs(kelvin) > TEMP_TOLD_K:
        told.append(f"the paired days after were {abs(kelvin):.0f} degrees "
                    f"{'warmer' if kelvin > 0 else 'colder'}")
    faster = after.speed_m_s / before.speed_m_s - 1
    if abs(faster) > SPEED_TOLD:
        told.append(f"driven {abs(faster):.0%} {'faster' if faster > 0 else 'slower'} after")
    return (*told, *_noted(before, after))


def _noted(before: Side, after: Side) -> list[str]:
    """What notes say of load and wind, and that they say nothing."""
    told, unknown = [], []
    for name, differ, unit, more, less, least in (
            ("load", after.load_kg - before.load_kg, "kg", "more on board", "less on board",
             LOAD_TOLD_KG),
            ("wind", after.wind_m_s - before.wind_m_s, "m/s", "more wind", "less wind",
             WIND_TOLD_M_S)):
        if math.isnan(differ):
            unknown.append(name)
        elif abs(differ) > least:
            told.append(f"{abs(differ):.0f} {unit} {more if differ > 0 else less} after, by your "
                        "notes")
    if unknown:
        told.append(f"{' and '.join(unknown)} {'are' if len(unknown) > 1 else 'is'} not in the "
                    f"logs: {'they' if len(unknown) > 1 else 'it'} should have been the same")
    return told


def _words(found: Comparison) -> str:
    change = found.change_pct
    if isinstance(change, NoEstimate):
        return f"Cannot tell yet: {change.reason}. Next: {change.next}."
    ends = (change.value, change.low, change.high)
    # "+0" would hide the side of an end, and whole points a narrow interval.
    digits = 1 if min(map(abs, ends)) < 1 or change.high - change.low < 2 else 0
    value, low, high = (f"{end:+.{digits}f}".replace("-", "−") for end in ends)
    size = f"{value} % ({low} to {high})"
    over = f"over {found.pairs} pairs of days" + (" on the same ways" if found.routes else "")
    if found.verdict == "cannot tell yet":
        more = (f"about {found.pairs_needed} more would decide a change of this size"
                if found.pairs_needed else "a change this small would need very many more")
        return f"Cannot tell yet: {size} {over}; {more}."
    did = "It helped" if found.verdict == "yes" else "It did not help"
    return f"{did}: consumption {size} {over}."


def _or_none(value: float) -> float | None:
    return value if math.isfinite(value) else None
