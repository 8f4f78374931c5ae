"""Fade: lines, what can be told, and forecasts on cells that others aged."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest

from analysis.estimate import Estimate, NoEstimate
from analysis.season.fade import (
    YEAR_S,
    CapacityPoint,
    FadeLine,
    change_since_first,
    fade_line,
    forecast_crossing,
    group_size,
    slope_bound,
    years_until_told,
)
from analysis.telemetry import Floats
from tests.analysis.made_logs import DATA

DAY_S = 86400.0


def points(years: Floats, capacity: Floats, sd: float = 1.0,
           temp: Floats | None = None) -> list[CapacityPoint]:
    celsius = np.full(len(years), math.nan) if temp is None else temp
    return [CapacityPoint(float(t) * YEAR_S, float(c), sd, float(k))
            for t, c, k in zip(years, capacity, celsius, strict=True)]


def aged(name: str) -> pd.DataFrame:
    return pd.read_csv(DATA / "fade" / name)


def test_one_capacity_makes_no_change() -> None:
    """A single test cannot tell a change, and says what would."""
    found = change_since_first(points(np.array([0.0]), np.array([100.0])))

    assert isinstance(found, NoEstimate)
    assert "test again" in found.next


def test_two_capacities_make_a_difference_and_no_line() -> None:
    """Two tests give their difference with both errors; nothing is drawn through two points."""
    two = points(np.array([0.0, 1.0]), np.array([100.0, 98.0]), 0.6)

    change = change_since_first(two)

    assert isinstance(change, Estimate)
    assert change.value == pytest.approx(-2.0)
    assert change.half_width == pytest.approx(1.96 * 0.6 * math.sqrt(2), rel=1e-3)
    assert isinstance(fade_line(two), NoEstimate)


def test_three_tests_use_their_known_errors() -> None:
    """With three tests on a line the interval is that of their errors, not of their luck."""
    line = fade_line(points(np.array([0.0, 0.5, 1.0]), np.array([100.0, 99.0, 98.0]), 0.6))

    assert isinstance(line, FadeLine)
    slope = line.per_year()
    assert slope.value == pytest.approx(-2.0)
    assert slope.half_width == pytest.approx(1.96 * 0.6 / math.sqrt(0.5), rel=1e-3)


def test_slope_bound_is_the_published_one() -> None:
    """Twelve monthly figures with 0.5 % give a slope no better than 0.04181 % a month.

    Cramer-Rao bound of a slope (Kay, Estimation Theory, ex. 3.7; formula from memory).
    """
    assert slope_bound(12, 1.0, 0.5) == pytest.approx(0.04181, abs=5e-6)


@pytest.mark.parametrize(("sd", "needed"), [(0.5, 3), (1.0, 7), (1.5, 13), (2.0, 23)])
def test_tests_needed_to_see_two_percent(sd: float, needed: int) -> None:
    """Two percent at power 0.9 take 3, 7, 13, 23 tests on each side at 0.5 to 2 % scatter.

    Found independently by Monte Carlo.
    """
    assert group_size(2.0, sd, 0.9) == needed


def test_temperature_term_takes_the_season_off() -> None:
    """A yearly swing of 12 K does not pass for fade once the tests carry their temperature."""
    years = np.arange(24) / 12
    celsius = 20 + 12 * np.sin(2 * np.pi * years)
    capacity = 100 - 2 * years + 0.4 * (celsius - 20)

    line = fade_line(points(years, capacity, temp=celsius))

    assert isinstance(line, FadeLine)
    assert line.per_year().value == pytest.approx(-2.0, abs=1e-6)


def test_when_it_could_be_told_is_later_for_slower_fade() -> None:
    """Half the fade takes half as long again to tell: the bound falls with the span's 3/2."""
    three = points(np.array([0.0, 0.25, 0.5]), np.array([100.0, 99.6, 99.0]), 0.6)

    assert years_until_told(three, -1.0) >= 1.5 * years_until_told(three, -2.0)


def test_no_date_while_fade_cannot_be_told() -> None:
    """Without a fade there is no date of 80 %."""
    years = np.arange(12) / 12
    flat = points(years, 100 + np.tile([0.5, -0.5], 6))
    line = fade_line(flat)

    assert isinstance(line, FadeLine)
    assert isinstance(forecast_crossing(line, flat, 80.0), NoEstimate)


def test_no_date_beyond_twice_the_span() -> None:
    """One year of 2 % a year says nothing about the tenth year."""
    years = np.linspace(0, 1, 24)
    slow = points(years, 100 - 2 * years + 0.05 * np.tile([1, -1], 12))
    line = fade_line(slow)

    assert isinstance(line, FadeLine)
    found = forecast_crossing(line, slow, 80.0)
    assert isinstance(found, NoEstimate)
    assert "twice" in found.reason


@pytest.mark.parametrize("cell", [1, 4, 5, 6])
@pytest.mark.parametrize("part", [0.5, 0.6, 0.7])
def test_forecast_of_iron_phosphate_cells_holds(cell: int, part: float) -> None:
    """From the first half of a measured life the interval of the 80 % crossing holds it.

    Four 102 Ah cells (He and others 2026, data/fade/SOURCE.md). An end at twice the observed
    span stands for "or later".
    """
    table = aged("iron_phosphate_102_ah.csv.gz").query(f"cell == {cell}")
    level = 0.8 * float(table["initial_ah"].iloc[0])
    smooth = table["charge_ah"].rolling(5, center=True).median()
    truth = float(table["cycle"][smooth < level].iloc[0])

    assert holds(table["cycle"], table["charge_ah"], level, truth, part)


@pytest.mark.parametrize("part", [0.5, 0.6, 0.7])
def test_forecast_of_a_laboratory_cell_holds(part: float) -> None:
    """The 70 % crossing of cell B0006 lies in the interval told from its first half.

    Saha, Goebel, NASA Ames 2007 (data/fade/SOURCE.md); it regains capacity in its rests.
    """
    table = aged("B0006_capacity.csv")
    level = 0.7 * float(table["capacity_ah"].iloc[:5].median())
    smooth = table["capacity_ah"].rolling(5, center=True).median()
    truth = float(table["cycle"][smooth < level].iloc[0])

    assert holds(table["cycle"], table["capacity_ah"], level, truth, part)


def holds(cycle: pd.Series, capacity: pd.Series, level: float, truth: float, part: float) -> bool:
    """Whether the interval from the first part holds the truth; cycles stand for days."""
    seen = cycle <= part * truth
    early = [CapacityPoint(c * DAY_S, q, 0.005 * q)
             for c, q in zip(cycle[seen], capacity[seen], strict=True)]
    line = fade_line(early)
    assert isinstance(line, FadeLine)
    found = forecast_crossing(line, early, level)
    if isinstance(found, NoEstimate):
        return True
    first = float(cycle.iloc[0])
    low, high = (first + years * YEAR_S / DAY_S for years in (found.low, found.high))
    is_open = found.high >= 2 * line.span_years * (1 - 1e-9)
    return low <= truth and (truth <= high or is_open)


@pytest.mark.parametrize(("cycles", "is_told"), [(30, False), (60, True), (168, True)])
def test_a_cell_that_regains_capacity_is_not_judged_early(cycles: int, is_told: bool) -> None:
    """Cell B0005 rises after its rests: 30 cycles cannot tell its fade, 60 can.

    Its neighbours in time are alike, so thirty of them count for fewer.
    """
    table = aged("B0005_capacity.csv").head(cycles)

    line = fade_line([CapacityPoint(c * DAY_S, q, 0.005 * q) for c, q in zip(
        table["cycle"], table["capacity_ah"], strict=True)])

    assert isinstance(line, FadeLine)
    assert (line.per_year().high < 0) == is_told


def test_a_line_of_known_errors_is_surest_in_its_middle() -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods, 4.5.1.1 (from memory): the mean response
    of ``n`` figures has the standard deviation ``sd / sqrt(n)`` at their middle, more elsewhere."""
    line = fade_line(points(np.array([0.0, 1.0, 2.0]), np.array([100.0, 98.0, 96.0]), 0.6))

    assert isinstance(line, FadeLine)
    middle, ahead = line.between(1.0), line.between(4.0)
    assert middle.value == pytest.approx(98.0)
    assert middle.half_width == pytest.approx(1.96 * 0.6 / math.sqrt(3), rel=1e-3)
    assert ahead.half_width > 2 * middle.half_width
