"""How fast a pack loses capacity, whether that can be told yet, and when it would reach 80 %.

With few tests their known errors rule (a weighted line); from six tests on the scatter is learnt
and outliers are held down: ``C = a + f t + k (T - 20) + e`` with Huber's weights and Student's t.
Two points make no line. The forecast joins three shapes in equal parts, time to the power of a
half, one, and one and a half, because measured cells follow each of them; its interval is cut at
twice the span that was observed. A sudden turn (a knee) cannot be forecast, and the words say so.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np

from ..estimate import Answer, Estimate, NoEstimate
from ..fitting.line_fit import LineFit, huber_fit, least_squares
from ..fitting.student import t_quantile
from ..telemetry import Floats

YEAR_S: Final = 365.25 * 86400
REFERENCE_C: Final = 20.0
#: From this many tests on the scatter is learnt from them.
LEARNT_FROM: Final = 6
#: A temperature term needs tests this far apart. [K]
RANGE_MIN_K: Final = 4.0
#: Fade of a usual iron-phosphate pack, to say when it could be told. [parts a year]
#: (common practice, no source: one to three percent)
USUAL_PER_YEAR: Final = 0.02
#: A forecast reaches no further than this many times the observed span.
REACH: Final = 2.0
FORECAST_COVERAGE: Final = 0.90
#: Powers of time that fade may follow: slowing down, steady, speeding up.
SHAPES: Final = (0.5, 1.0, 1.5)
END_OF_LIFE: Final = 0.80
#: Left out at each end of the joined shapes. The end belongs to one shape of three, of which
#: this leaves out nine percent: each shape by itself is then held about nine times in ten.
TAIL: Final = 0.03
_DRAWS: Final = 4000
FIRST: Final = "fill fully, then use the pack until it is empty, logging all of it"
AGAIN: Final = "test again in three months or more, by the same meter"


@dataclass(frozen=True, slots=True)
class CapacityPoint:
    """One capacity of a pack."""

    #: When. [Unix s]
    moment_s: float
    #: As counted, at its own temperature. [Ah]
    capacity_ah: float
    #: Standard uncertainty by the same meter, gain left out. [Ah]
    sd_ah: float
    #: NaN if not known, or if the capacity is already brought to 20 degC. [degC]
    temp_c: float = math.nan
    #: Equivalent full cycles by then; NaN if not counted.
    cycles: float = math.nan


@dataclass(frozen=True, slots=True)
class FadeLine:
    """A fitted line of capacity over time, at 20 degC if there is a temperature term."""

    fit: LineFit
    #: Time 0 of the line, and the last test. [Unix s]
    first_s: float
    last_s: float

    @property
    def span_years(self) -> float:
        return (self.last_s - self.first_s) / YEAR_S

    def per_year(self) -> Estimate:
        """Change of capacity per year; negative is fade. [Ah/yr]"""
        return self.fit.coefficient(1, "Ah/yr")

    def at(self, years: float) -> tuple[float, float]:
        """Capacity after so many years, and its standard uncertainty. [Ah]"""
        return self.fit.at(*(1.0, years, 0.0)[: len(self.fit.coefficients)])

    def between(self, years: float, coverage: float = 0.95) -> Estimate:
        """Where the line lies after so many years, by its own uncertainty alone. [Ah]

        Student's t where the scatter was learnt, the normal one where it was known.
        """
        value, sd = self.at(years)
        half = t_quantile((1 + coverage) / 2, self.fit.freedom) * sd
        return Estimate.around(value, half, "Ah", coverage)


def fade_line(points: Sequence[CapacityPoint]) -> FadeLine | NoEstimate:
    """The line through three capacities or more, oldest first."""
    if len(points) < 3:
        return NoEstimate("a line needs three capacities", AGAIN if points else FIRST)
    moment, capacity, error, celsius = _columns(points)
    years = (moment - moment[0]) / YEAR_S
    if float(np.ptp(years)) <= 0:
        return NoEstimate("all tests are of one moment", AGAIN)
    return FadeLine(_fit(years, capacity, error, celsius), float(moment[0]), float(moment[-1]))


def _columns(points: Sequence[CapacityPoint]) -> list[Floats]:
    return [np.array([getattr(point, name) for point in points])
            for name in ("moment_s", "capacity_ah", "sd_ah", "temp_c")]


def _fit(years: Floats, capacity: Floats, error: Floats, celsius: Floats) -> LineFit:
    design = np.column_stack([np.ones(len(years)), years])
    if len(years) < LEARNT_FROM:
        return _weighted(design, capacity, error)
    if np.isfinite(celsius).all() and float(np.ptp(celsius)) >= RANGE_MIN_K:
        design = np.column_stack([design, celsius - REFERENCE_C])
    fit = huber_fit(design, capacity)
    stretch = _alike(capacity - design @ fit.coefficients)
    return LineFit(fit.coefficients, fit.covariance * stretch, fit.scatter, fit.freedom)


def _alike(residual: Floats) -> float:
    """How much wider neighbours' likeness makes the covariance: ``(1 + r) / (1 - r)``.

    ``r`` is the residuals' correlation at lag one, where it stands out of chance. Tests of every
    cycle share their days, their rests and the shape that the line lacks.
    """
    count = len(residual)
    power = float(residual @ residual)
    likeness = float(residual[1:] @ residual[:-1]) / power if power > 0 else 0.0
    if likeness <= 2 / math.sqrt(count):
        return 1.0
    return (1 + likeness) / max(1 - likeness, 1 / count)


def _weighted(design: Floats, capacity: Floats, error: Floats) -> LineFit:
    """Known errors; widened if the tests scatter by more than they allow."""
    fit = least_squares(design, capacity, error)
    residual = (capacity - design @ fit.coefficients) / error
    excess = float(residual @ residual) / max(len(capacity) - 2, 1)
    return LineFit(fit.coefficients, fit.covariance * max(1.0, excess), 1.0, math.inf)


def change_since_first(points: Sequence[CapacityPoint]) -> Answer:
    """Change from the first test to the last, by one meter; negative is loss. [Ah]

    Along the line if there is one, else the plain difference.
    """
    if len(points) < 2:
        return NoEstimate("one capacity only", AGAIN) if points else NoEstimate(
            "no capacity yet", FIRST)
    line = fade_line(points)
    if isinstance(line, FadeLine):
        return line.per_year().scaled(line.span_years, "Ah")
    half = NormalDist().inv_cdf(0.975) * math.hypot(points[0].sd_ah, points[-1].sd_ah)
    return Estimate.around(points[-1].capacity_ah - points[0].capacity_ah, half, "Ah")


def group_size(drop: float, sd: float, power: float = 0.9) -> int:
    """How many tests before, and as many after, would show a drop.

    The least ``n`` with ``n >= 2 (t_0.975 + t_power)^2 (sd / drop)^2``, Student's t with 2n - 2
    degrees of freedom (two-sample comparison of means; formula from memory).
    """
    count = 2
    while count < 2 * (t_quantile(0.975, 2 * count - 2) + t_quantile(power, 2 * count - 2))**2 * (
            sd / drop) ** 2:
        count += 1
    return count


def years_until_told(points: Sequence[CapacityPoint], per_year_ah: float) -> float:
    """Years after the first test when a fade could first be told, testing on at the same pace.

    The slope of ``n`` evenly spaced tests has at least the standard deviation
    ``sd sqrt(12 / (n (n^2 - 1))) / spacing`` (the Cramer-Rao bound; S. M. Kay, *Estimation
    Theory*, 1993, ex. 3.7, from memory); it can be told when that is half of the slope.
    """
    sd = float(np.median([p.sd_ah for p in points]))
    span = (points[-1].moment_s - points[0].moment_s) / YEAR_S
    spacing = span / (len(points) - 1) if len(points) > 1 and span > 0 else 0.25
    count = 3
    while slope_bound(count, spacing, sd) > abs(per_year_ah) / 1.96 and count < 400:
        count += 1
    return (count - 1) * spacing


def slope_bound(count: int, spacing: float, sd: float) -> float:
    """Least standard deviation of the slope of evenly spaced figures (Cramer-Rao)."""
    return sd * math.sqrt(12 / (count * (count * count - 1))) / spacing


def forecast_crossing(line: FadeLine, points: Sequence[CapacityPoint], level_ah: float) -> Answer:
    """Years after the first test at which capacity crosses a level. [yr]

    An interval of 90 % from all shapes in equal parts. Where its end lies beyond ``REACH`` times
    the observed span it is cut there and stands for "or later"; where its middle lies there, or
    the fade cannot be told from none, there is no date.
    """
    slope = line.per_year()
    if slope.high >= 0:
        return NoEstimate("fade cannot be told from none yet", "keep testing at the same pace")
    reach = REACH * line.span_years
    crossings = np.sort(np.concatenate(
        [_crossings(_shaped(points, power), level_ah, power) for power in SHAPES]))
    low, middle, high = (float(np.quantile(crossings, q, method="higher"))
                         for q in (TAIL, 0.5, 1 - TAIL))
    if middle >= reach:
        return NoEstimate(
            f"{level_ah:.0f} Ah lie further ahead than twice the {_span_words(line)} observed",
            "keep testing at the same pace")
    return Estimate(middle, low, min(high, reach), "yr", FORECAST_COVERAGE)


def _span_words(line: FadeLine) -> str:
    months = round(12 * line.span_years)
    return f"{months} months" if months >= 2 else f"{round(365.25 * line.span_years)} days"


def _shaped(points: Sequence[CapacityPoint], power: float) -> LineFit:
    """The line over a power of time."""
    moment, capacity, error, celsius = _columns(points)
    return _fit(((moment - moment[0]) / YEAR_S) ** power, capacity, error, celsius)


def _crossings(fit: LineFit, level_ah: float, power: float) -> Floats:
    """Times at which draws of ``a + f t^power`` reach a level; infinite where they never do."""
    rng = np.random.default_rng(0)
    normal = rng.multivariate_normal(fit.coefficients[:2], fit.covariance[:2, :2], _DRAWS)
    if math.isfinite(fit.freedom):
        stretch = np.sqrt(fit.freedom / rng.chisquare(fit.freedom, _DRAWS))[:, None]
        normal = fit.coefficients[:2] + (normal - fit.coefficients[:2]) * stretch
    start, slope = normal.T
    root = np.where(slope < 0, (level_ah - start) / np.minimum(slope, -1e-300), np.inf)
    times: Floats = np.maximum(root, 0.0) ** (1 / power)
    return times
