"""Whether a forecast can be relied on."""

from __future__ import annotations

from math import comb

import pytest

from analysis.ahead.range_ahead import Backtest, Prediction
from analysis.ahead.trust import HELD_MIN, kept_word, kept_words, reaches
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
