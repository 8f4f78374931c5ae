"""Peukert's law in both conventions, against worked examples; wrong ones stay wrong."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.parts.peukert import OneAmpCapacity, RatedCapacity, exponent_of


@pytest.mark.parametrize(("one_amp_ah", "exponent", "amps", "hours"), [
    (100.0, 1.2, 5.0, 14.4956),         # electrotechnik.net, 2010: "14.5 h"
    (250.0, 1.3, 20.0, 5.088631644),    # a calculation tutorial
])
def test_one_amp_convention_vs_published_examples(
        one_amp_ah: float, exponent: float, amps: float, hours: float) -> None:
    """t = C_p / I^k."""
    battery = OneAmpCapacity(one_amp_ah, exponent)

    assert battery.hours_at(amps) == pytest.approx(hours, rel=1e-5)
    assert battery.capacity_at_ah(amps) == pytest.approx(amps * hours, rel=1e-5)


@pytest.mark.parametrize(("exponent", "gives"), [
    (1.05, (100, 96.59, 93.30, 89.13, 86.09)), (1.10, (100, 93.30, 87.06, 79.43, 74.11)),
    (1.20, (100, 87.06, 75.79, 63.10, 54.93)), (1.25, (100, 84.09, 70.71, 56.23, 47.29)),
    (1.30, (100, 81.23, 65.98, 50.12, 40.71))])
def test_rated_convention_is_anchored_at_its_rate(
        exponent: float, gives: tuple[float, ...]) -> None:
    """100 Ah over 20 h at 5, 10, 20, 50, 100 A: t = H (C / I H)^k, worked out apart."""
    battery = RatedCapacity(100.0, 20.0, exponent)

    assert [battery.capacity_at_ah(a) for a in (5.0, 10.0, 20.0, 50.0, 100.0)] == pytest.approx(
        gives, abs=0.006)
    assert battery.hours_at(5.0) == pytest.approx(20.0)


@pytest.mark.parametrize(("amps", "printed"), [(10, 89), (20, 79), (50, 65), (100, 58)])
def test_a_published_table_does_not_follow_its_own_exponent(amps: float, printed: float) -> None:
    """A page prints 89, 79, 65, 58 Ah for 100 Ah over 20 h and k = 1.1; its k would be 1.17 on."""
    ours = RatedCapacity(100.0, 20.0, 1.1).capacity_at_ah(amps)
    implied = 1 + math.log(100 / printed) / math.log(amps / 5)

    assert abs(ours - printed) > 4
    assert 1.16 < implied < 1.20


def test_a_published_formula_misses_the_rated_point() -> None:
    """t = C / I^k (C / C_rated)^(k - 1), as a page has it, does not give 20 h at the 20 h rate."""
    wrong = 100 / 5**1.2 * (100 / 100) ** 0.2

    assert abs(wrong - RatedCapacity(100.0, 20.0, 1.2).hours_at(5.0)) > 5


def test_the_conventions_differ_for_the_same_numbers() -> None:
    """100 Ah and k = 1.2 at 10 A: 6.3 h or 8.7 h, a third apart; so one must be named."""
    assert OneAmpCapacity(100.0, 1.2).hours_at(10.0) == pytest.approx(6.310, abs=1e-3)
    assert RatedCapacity(100.0, 20.0, 1.2).hours_at(10.0) == pytest.approx(8.7055, abs=1e-4)


@given(st.floats(10, 500), st.floats(1, 100), st.floats(1, 1.6), st.floats(0.1, 500))
@settings(derandomize=True)
def test_one_battery_in_both_conventions_lasts_as_long(
        rated_ah: float, rated_h: float, exponent: float, amps: float) -> None:
    """Converted, they agree at every rate."""
    rated = RatedCapacity(rated_ah, rated_h, exponent)

    assert rated.as_one_amp().hours_at(amps) == pytest.approx(rated.hours_at(amps))


def test_exponent_from_two_capacities() -> None:
    """225 Ah over 20 h and 185 Ah over 5 h: 1.1644; and both are met again."""
    found = exponent_of(225.0, 20.0, 185.0, 5.0)

    assert found == pytest.approx(1.16442, abs=1e-5)
    assert RatedCapacity(225.0, 20.0, found).capacity_at_ah(37.0) == pytest.approx(185.0)


def test_a_traders_observation_gives_a_worn_batterys_exponent() -> None:
    """100 Ah over 20 h that gave about 7.5 h at 10 A: k = 1.415, above most published ranges."""
    assert exponent_of(100.0, 20.0, 75.0, 7.5) == pytest.approx(1.415, abs=1e-3)


def test_two_capacities_of_one_rate_say_nothing() -> None:
    """And are refused."""
    with pytest.raises(ValueError, match="one rate"):
        exponent_of(100.0, 20.0, 50.0, 10.0)


@pytest.mark.parametrize("amps", [0.0, -5.0, math.nan])
def test_no_amps_no_law(amps: float) -> None:
    """At rest the law would last for ever."""
    with pytest.raises(ValueError, match="above 0"):
        RatedCapacity(100.0, 20.0, 1.2).hours_at(amps)
