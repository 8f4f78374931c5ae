"""Whether a forecast can be relied on."""

from __future__ import annotations

from math import comb, nan

import pytest

from analysis.ahead.range_ahead import Backtest, Prediction
from analysis.ahead.trust import (
    HELD_MIN,
    NEWEST_MIN,
    kept_word,
    kept_words,
    miss_words,
    off_lately,
    off_words,
    reaches,
)
from analysis.estimate import Estimate, NoEstimate


def made(hits: int, misses: int) -> Backtest:
    hit, miss = Prediction(3, 90.0, 80.0, 100.0, 85.0), Prediction(3, 90.0, 80.0, 100.0, 120.0)
    return Backtest(None, (hit,) * hits + (miss,) * misses)


@pytest.mark.parametrize(("wanted", "verdict"), [
    (30.0, "yes"), (35.0, "yes"), (36.0, "cannot tell yet"), (79.0, "cannot tell yet"),
    (80.0, "no")])
def test_a_way_fits_only_where_the_interval_says_so(wanted: float, verdict: str) -> None:
    """Within the interval nobody knows."""
    assert reaches(Estimate(52.0, 35.0, 79.0, "km"), wanted) == verdict


def test_without_an_answer_no_way_fits() -> None:
    """Nothing is known of what is not known."""
    assert reaches(NoEstimate("no drive", "log one"), 1.0) == "cannot tell yet"


@pytest.mark.parametrize(("hits", "misses", "verdict"), [
    (0, 0, "cannot tell yet"), (9, 0, "cannot tell yet"), (10, 0, "yes"), (258, 37, "yes"),
    (16, 4, "yes"), (15, 5, "no")])
def test_forecasts_are_trusted_by_how_they_held(hits: int, misses: int, verdict: str) -> None:
    """Few prove nothing; many that missed are not to be relied on."""
    assert kept_word(made(hits, misses)) == verdict


def test_chance_rarely_condemns_a_good_forecast() -> None:
    """Of 20 that hold with a chance of 0.9 fewer than 16 do so with a chance of 0.043 (binomial
    distribution, worked from its formula)."""
    fewer = sum(comb(20, k) * 0.9**k * 0.1 ** (20 - k) for k in range(round(HELD_MIN * 20)))

    assert fewer == pytest.approx(0.0432, abs=1e-4)


def test_the_words_count() -> None:
    """How many held, of how many, and how many were meant to."""
    assert kept_words(made(7, 3)).startswith("Foretold from the drives before it, 7 of 10")
    assert "90 %" in kept_words(made(7, 3))
    assert "yet" in kept_words(made(0, 0))
    assert miss_words(made(0, 0)) == ""


def test_misses_are_told_as_a_driver_has_them() -> None:
    """Half of the stretches came so near; never "less than 0 %"."""
    sure = [Prediction(3 + k, 100.0, 90.0, 110.0, actual)
            for k, actual in enumerate((100.1, 99.9, 100.0))]
    wide = [Prediction(3 + k, 104.2, 90.0, 110.0, 100.0) for k in range(3)]

    assert miss_words(Backtest(None, tuple(sure))) == (
        "Half of them came within 1 % of what was foretold.")
    assert "within 5 %" in miss_words(Backtest(None, tuple(wide)))


def ending(sides: str, without_oddest_day: float | None = None) -> Backtest:
    """Twenty that held, then one for each letter: above, below or within its interval."""
    actual = {"a": 120.0, "b": 60.0, "h": 85.0}
    told = tuple(Prediction(3, 90.0, 80.0, 100.0, actual[side],
                            actual[side] if without_oddest_day is None else without_oddest_day)
                 for side in sides)
    return Backtest(None, made(20, 0).made + told)


@pytest.mark.parametrize(("sides", "newest"), [
    ("aaa", 3), ("bbbb", -4), ("aa", 0), ("aaah", 0), ("aaab", 0), ("baaa", 3), ("haaah", 0),
    ("", 0)])
def test_newest_stretches_off_to_one_side_are_told(sides: str, newest: int) -> None:
    """Three in a row and the newest; another side or one that held begins anew."""
    assert off_lately(ending(sides)) == newest
    assert bool(off_words(ending(sides))) == bool(newest)
    assert kept_word(ending(sides)) == ("cannot tell yet" if newest else "yes")


@pytest.mark.parametrize("other", [95.0, nan])
def test_one_odd_day_is_no_change(other: float) -> None:
    """Stretches that overlap share a day with a heavy load: without it they held."""
    assert off_lately(ending("aaaaaaa", other)) == 0


def test_what_has_changed_is_told_with_its_side() -> None:
    """How many, and that they overlap."""
    assert off_words(ending("a" * NEWEST_MIN)).startswith("The last 3 stretches, which overlap, "
                                                         "took more than foretold")
    assert "took less" in off_words(ending("bbb"))
    assert off_words(made(0, 0)) == ""
