"""How far, how long: from usable energy and own consumption, with intervals that kept their word.

Each prediction is made from earlier runs only. The interval is Student's t of
``rate_model.RateModel``, brought to how earlier predictions of the same kind missed: adaptive
conformal prediction (I. Gibbs, E. Candes, *NeurIPS* 2021) on the misses in units of the predicted
scale. The more of them have come due the more they count; ``CONFORMAL_ALONE`` set the interval
alone. Predictions of overlapping stretches may widen it each, but narrow it only by the part that
is new in each. The battery's side is added in quadrature.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Final, Self

import numpy as np

from ..estimate import Answer, Estimate, NoEstimate
from ..fitting.student import t_quantile
from ..local_days import local
from .consumption import RUNS_MIN, Conditions, Run, too_few
from .rate_model import LEARNING_RUNS, RateModel

COVERAGE: Final = 0.9
#: From this many predictions that came due on, their misses alone set the interval. Chosen here:
#: with fewer a lucky start narrows it too soon.
CONFORMAL_ALONE: Final = 15
#: ... but it is never narrower than this part of Student's t.
NARROWEST: Final = 0.3
#: The way that is left must fit this often into the way that is known, else the predictions that
#: are tried are of the next run.
BLOCKS_MIN: Final = 3
#: The misses of the last so many predictions count.
MISSES_KEPT: Final = 200
#: How fast the wanted share of misses is corrected.
ADAPTING: Final = 0.02
#: Rounding of summed extents.
_SLACK: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Prediction:
    """What was predicted at a moment for the next stretch, and what it came to."""

    #: Runs known then.
    known: int
    #: Of the rate.
    value: float
    low: float
    high: float
    #: NaN if it has not come due.
    actual: float
    #: Of a stretch beyond the interval: its rate without the day that is most at odds with what
    #: was predicted. NaN where nothing is left then.
    without_oddest_day: float = math.nan

    @property
    def is_hit(self) -> bool:
        return self.low <= self.actual <= self.high

    @property
    def side(self) -> int:
        """1 where it took more than the interval and does so without its oddest day, -1 where it
        took less, else 0."""
        rates = self.actual, self.without_oddest_day
        return int(all(rate > self.high for rate in rates)) - int(
            all(rate < self.low for rate in rates))


@dataclass(frozen=True, slots=True)
class Backtest:
    """How predictions made from earlier runs only have held."""

    #: What each predicted: the next run, or the next so many km (or h).
    horizon: float | None
    made: tuple[Prediction, ...]

    @property
    def coverage(self) -> float:
        return float(np.mean([p.is_hit for p in self.made])) if self.made else math.nan

    @property
    def median_abs_error_pct(self) -> float:
        errors = [abs(p.value / p.actual - 1) for p in self.made]
        return 100 * float(np.median(errors)) if errors else math.nan

    @property
    def newest_misses(self) -> int:
        """The newest predictions in a row that were off to one side: how many took more than
        foretold, negative if they took less.

        Stretches overlap and share their days, so one odd day puts many beyond their intervals: a
        prediction counts only if it is off without its oddest day, too.
        """
        sides = [p.side for p in self.made]
        count = next((k for k, side in enumerate(reversed(sides)) if side != sides[-1]),
                     len(sides))
        return count * sides[-1] if sides else 0

    def as_json(self) -> dict[str, Any]:
        known = bool(self.made)
        return {"predictions": len(self.made), "coverage": self.coverage if known else None,
                "median_abs_error_pct": self.median_abs_error_pct if known else None,
                "stated_coverage": COVERAGE, "horizon": self.horizon,
                "newest_misses": self.newest_misses}


class _Misses:
    """Earlier misses in units of their scale, and the share of misses that is aimed at."""

    def __init__(self, coverage: float) -> None:
        self.aim = self.share = 1 - coverage
        #: Size, and the part of its stretch that no earlier prediction reached.
        self.known: list[tuple[float, float]] = []
        #: Where each comes due, its size, its new part, and whether it missed.
        self.waiting: list[tuple[float, float, float, bool]] = []

    def width(self, freedom: float) -> float:
        """How many scales wide each side is."""
        plain = t_quantile(1 - self.aim / 2, freedom)
        if not self.known:
            return plain
        count = len(self.known)
        rank = math.ceil((count + 1) * (1 - self.share))
        own = max(sorted(size for size, _ in self.known)[min(rank, count) - 1], NARROWEST * plain)
        proof = count if own > plain else sum(new for _, new in self.known)
        trust = min(1.0, proof / CONFORMAL_ALONE)
        return float(plain ** (1 - trust) * own**trust)

    def await_one(self, due: float, made: Prediction, scale: float, new: float) -> None:
        size = abs(math.log(made.actual / made.value)) / scale
        self.waiting.append((due, size, new, not made.is_hit))

    def learn_until(self, at: float) -> None:
        """Take in the predictions that have come due; their order is that of being made."""
        while self.waiting and self.waiting[0][0] <= at + _SLACK:
            _, size, new, is_miss = self.waiting.pop(0)
            self.known = [*self.known, (size, new)][-MISSES_KEPT:]
            moved = self.share + ADAPTING * new * (self.aim - is_miss)
            self.share = min(max(moved, self.aim / 4), 2 * self.aim)


def predict_rates(runs: Sequence[Run], horizon: float | None = None, *,
                  met: Conditions | None = None, mass_kg: float | None = None,
                  coverage: float = COVERAGE) -> tuple[Backtest, Prediction | None]:
    """Predict the rate of each next stretch from the runs before it, and of the one to come.

    Parameters
    ----------
    runs
        Oldest first.
    horizon
        Extent of the stretch; the next run, whatever its extent, if ``None``.
    met
        What the stretch to come meets with; by default the air of the last run, load and wind as
        usual.
    mass_kg
        Of the vehicle, for what load costs before own drives tell.

    Returns
    -------
    tuple
        The predictions that came due, and the one for the stretch after the last run; it is
        ``None`` with fewer than ``RUNS_MIN`` runs.
    """
    if len(runs) < RUNS_MIN:
        return Backtest(horizon, ()), None
    misses = _Misses(coverage)
    ends = np.concatenate(([0.0], np.cumsum([run.extent for run in runs])))
    used = np.concatenate(([0.0], np.cumsum([run.used for run in runs])))
    model = RateModel.learnt(runs[:RUNS_MIN], mass_kg)
    told: list[Prediction] = []
    for known in range(RUNS_MIN, len(runs)):
        span, at = horizon or runs[known].extent, ends[known]
        misses.learn_until(at)
        actual = float(np.interp(at + span, ends, used) - used[known]) / span
        if at + span <= ends[-1] + _SLACK and actual > 0:
            ahead = model.ahead(span, runs[known].met, is_one_run=horizon is None)
            made = _prediction(ahead, misses.width(model.freedom), known, actual)
            told.append(made if made.is_hit else replace(
                made, without_oddest_day=_without_oddest_day(runs[known:], span, made.value)))
            misses.await_one(at + span, told[-1], ahead[1], min(1.0, runs[known].extent / span))
        # Up to here what is usual is learnt anew, so that it comes from earlier runs only.
        model = (RateModel.learnt(runs[:known + 1], mass_kg) if known < LEARNING_RUNS
                 else model.after(runs[known]))
    misses.learn_until(math.inf)
    coming = model.ahead(horizon or model.usual_extent, _expected(met, runs[-1]),
                         is_one_run=horizon is None)
    return Backtest(horizon, tuple(told)), _prediction(coming, misses.width(model.freedom),
                                                       len(runs), math.nan)


def _expected(met: Conditions | None, last: Run) -> Conditions:
    """What is asked for; the air of the last run where nobody said another."""
    if met is None:
        return Conditions(last.met.temp_c)
    return met if math.isfinite(met.temp_c) else replace(met, temp_c=last.met.temp_c)


def _prediction(ahead: tuple[float, float], width: float, known: int,
                actual: float) -> Prediction:
    level, scale = ahead
    value, factor = math.exp(level), math.exp(width * scale)
    return Prediction(known, value, value / factor, value * factor, actual)


def _without_oddest_day(runs: Sequence[Run], span: float, value: float) -> float:
    """The rate over the next ``span`` less the day that adds most to what it is off by."""
    days: dict[date, tuple[float, float]] = {}
    for run in runs:
        day = local(run.start_s).date()
        extent, used = days.get(day, (0.0, 0.0))
        driven = min(run.extent, span)
        days[day] = extent + driven, used + driven * run.rate
        span -= driven
        if span <= _SLACK:
            break
    off = {day: used - value * extent for day, (extent, used) in days.items()}
    side = math.copysign(1.0, sum(off.values()))
    oddest = max(off, key=lambda day: side * off[day])
    kept = [days[day] for day in days if day != oddest]
    return sum(used for _, used in kept) / sum(extent for extent, _ in kept) if kept else math.nan


@dataclass(frozen=True, slots=True)
class Ahead:
    """What is left, in one measure."""

    left: Answer
    rate: Answer
    backtest: Backtest

    @classmethod
    def missing(cls, why: NoEstimate) -> Self:
        """Nothing, and why."""
        return cls(why, why, Backtest(None, ()))


def look_ahead(runs: Sequence[Run], usable: Answer, *, unit: str, rate_unit: str,
               met: Conditions | None = None, mass_kg: float | None = None) -> Ahead:
    """How much of a measure is left: usable over the rate, 90 %.

    Parameters
    ----------
    runs
        Of one measure: km, h or drives.
    usable
        Energy or percent left above the reserve, in what ``Run.used`` counts.
    met, mass_kg
        As in ``predict_rates``.
    """
    _, rough = predict_rates(runs, met=met, mass_kg=mass_kg)
    if rough is None:
        return Ahead.missing(too_few(len(runs)))
    reach = usable.value / rough.value if isinstance(usable, Estimate) else math.inf
    horizon = reach if reach <= sum(run.extent for run in runs) / BLOCKS_MIN else None
    backtest, coming = predict_rates(runs, horizon, met=met, mass_kg=mass_kg)
    assumed = coming or rough
    rate = Estimate(assumed.value, assumed.low, assumed.high, rate_unit, COVERAGE)
    if isinstance(usable, NoEstimate):
        return Ahead(usable, rate, backtest)
    return Ahead(quotient(usable, rate, unit), rate, backtest)


def quotient(usable: Estimate, rate: Estimate, unit: str) -> Estimate:
    """Relative half widths in quadrature; both sides at the rate's coverage."""
    value = usable.value / rate.value
    shrink = _normal(rate.coverage) / _normal(usable.coverage)
    down = math.hypot(math.log(rate.high / rate.value),
                      shrink * math.log(usable.value / max(usable.low, 1e-9 * usable.value)))
    up = math.hypot(math.log(rate.value / rate.low),
                    shrink * math.log(usable.high / usable.value))
    return Estimate(value, value * math.exp(-down), value * math.exp(up), unit, rate.coverage)


def _normal(coverage: float) -> float:
    return t_quantile((1 + coverage) / 2, math.inf)
