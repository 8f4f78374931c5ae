"""Breakers: the flatbed's, and what heat does to a rating."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.parts.breaker import Breaker, judge_breaker, rating_share
from tests.analysis.made_parts import asked, flatbed_pack

#: As found on the flatbed.
OLD = Breaker("main breaker", 50.0, marked_v_dc=48.0, enclosure_c=48.0)
#: A maker's table, invented.
TABLE = {40.0: 100.0, 60.0: 80.0}


def test_the_flatbeds_breaker_is_too_low_in_volts() -> None:
    """48 V DC marked, 58.4 V at the charge's end: replace, by 10.4 V."""
    judged = judge_breaker(OLD, flatbed_pack())

    assert judged.action == "replace"
    assert "10.4 V too low" in asked(judged, "volts").arithmetic[0]


def test_the_flatbeds_breaker_trips_at_its_worst_minutes() -> None:
    """55 A through a 50 A breaker at 48 degC: too small before heat is even counted."""
    found = asked(judge_breaker(OLD, flatbed_pack(rms_10_min_a=55.0)), "long run")

    assert found.verdict == "no"
    # 55 A / 0.8 / 0.968
    assert "at least 71 A" in found.acceptable_if


@pytest.mark.parametrize(("celsius", "percent"), [(40, 100), (60, 80), (45, 95), (20, 100),
                                                  (90, 80)])
def test_rating_share_runs_straight_between_a_makers_points(
        celsius: float, percent: float) -> None:
    """And stops at its ends; the order in which they were typed does not matter."""
    backwards = dict(reversed(TABLE.items()))

    assert rating_share(TABLE, celsius) == pytest.approx(percent / 100)
    assert rating_share(backwards, celsius) == pytest.approx(percent / 100)


@given(st.floats(1, 200), st.floats(41, 90))
@settings(derandomize=True)
def test_an_example_table_never_grants(amps: float, enclosure_c: float) -> None:
    """Hotter than its setting and without its maker's table, a breaker gets no yes."""
    hot = replace(OLD, enclosure_c=enclosure_c)
    found = asked(judge_breaker(hot, flatbed_pack(rms_10_min_a=amps)), "long run")

    assert found.verdict == ("no" if amps > 40.0 else "cannot tell yet")


@pytest.mark.parametrize(("amps", "verdict"), [(34.0, "yes"), (37.0, "no")])
def test_a_makers_table_settles_it(amps: float, verdict: str) -> None:
    """50 A x 80 % x 90 % = 36 A at 50 degC."""
    breaker = replace(OLD, enclosure_c=50.0, percent_at_c=TABLE)
    found = asked(judge_breaker(breaker, flatbed_pack(rms_10_min_a=amps)), "long run")

    assert found.verdict == verdict
    assert "90 % of the rating is left, by the maker's table" in found.arithmetic[0]


def test_beyond_the_makers_table_nothing_is_known() -> None:
    """Its last figure is not carried on into more heat."""
    breaker = replace(OLD, enclosure_c=70.0, percent_at_c=TABLE)

    assert asked(judge_breaker(breaker, flatbed_pack(rms_10_min_a=20.0)),
                 "long run").verdict == "cannot tell yet"


@pytest.mark.parametrize(("is_full_duty", "verdict"), [(False, "no"), (True, "yes")])
def test_a_device_marked_for_full_duty_may_carry_its_rating(
        is_full_duty: bool, verdict: str) -> None:
    """45 A on 50 A: above 80 %, below 100 %."""
    breaker = replace(OLD, enclosure_c=None, is_full_duty=is_full_duty)

    assert asked(judge_breaker(breaker, flatbed_pack(rms_10_min_a=45.0)),
                 "long run").verdict == verdict


def test_checks_come_in_the_order_of_their_weight() -> None:
    """Volts, long run, worst minute, short circuit, direction; behind a converter no short."""
    words = ["volts", "long run", "minute", "short circuit", "flow"]
    on_pack = [one.question for one in judge_breaker(OLD, flatbed_pack()).checks]
    behind = [one.question for one in judge_breaker(replace(OLD, circuit_v=14.4),
                                                    flatbed_pack()).checks]

    assert all(word in question for word, question in zip(words, on_pack, strict=True))
    assert behind == [question for question in on_pack if "short circuit" not in question]


@pytest.mark.parametrize(("polarised", "both_ways", "verdict"), [
    (True, True, "no"), (True, False, "yes"), (False, True, "yes")])
def test_a_polarised_device_takes_amps_one_way(
        polarised: bool, both_ways: bool, verdict: str) -> None:
    """Charging or regeneration through it turns the arc the wrong way."""
    breaker = replace(OLD, is_polarised=polarised, carries_both_ways=both_ways)

    assert asked(judge_breaker(breaker, flatbed_pack()), "flow").verdict == verdict
