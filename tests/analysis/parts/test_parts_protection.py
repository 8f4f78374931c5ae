"""What breakers and fuses are asked alike, against the codes that state it."""

from __future__ import annotations

import pytest

from analysis.parts.cable import Cable
from analysis.parts.conductor import parse_size
from analysis.parts.protection import (
    Marking,
    cable_check,
    interrupt_check,
    minute_check,
    needed_rating_a,
    prospective_a,
    reference_limit_a,
    volts_check,
)
from tests.analysis.made_parts import flatbed_pack

#: 2/0 with 105 degC insulation: 330 A by 33 CFR 183.425 Table 5.
HEAVY = Cable("main", parse_size("2/0 AWG"), 2.0, 105)


def marking(**marked: float | None) -> Marking:
    return Marking(**({"rating_a": 50.0, "dc_v": None, "ac_v": None, "interrupt_a": None}
                      | marked))


def test_needed_rating_vs_nec_210_20() -> None:
    """80 A continuous beside 20 A that is not: at least 120 A."""
    assert needed_rating_a(80.0) + 20.0 == pytest.approx(120.0)


def test_short_circuit_from_the_flatbeds_figures() -> None:
    """54.4 V over 16 mohm: 3.4 kA at the least."""
    assert prospective_a(54.4, 0.016) == pytest.approx(3400)


@pytest.mark.parametrize(("pack_v", "limit"), [(36.0, 495.0), (49.9, 495.0), (50.0, 330.0),
                                               (51.2, 330.0)])
def test_cable_limit_vs_33_cfr_183_455(pack_v: float, limit: float) -> None:
    """150 % of the table below 50 V, 100 % from there on."""
    assert reference_limit_a(330.0, pack_v) == pytest.approx(limit)


@pytest.mark.parametrize(("rating_a", "verdict"), [(300, "yes"), (330, "yes"),
                                                   (350, "cannot tell yet"), (500, "no")])
def test_a_rating_above_its_cable(rating_a: float, verdict: str) -> None:
    """Up to the reference; 350 A as the next standard size is the code's to grant; never 500 A."""
    assert cable_check(rating_a, HEAVY, flatbed_pack().highest_v).verdict == verdict


def test_an_unknown_cable_cannot_be_judged() -> None:
    """Neither a missing cable nor a missing insulation passes."""
    bare = Cable("main", parse_size("2/0 AWG"), 2.0)

    assert cable_check(50.0, None, flatbed_pack().highest_v).verdict == "cannot tell yet"
    assert cable_check(50.0, bare, flatbed_pack().highest_v).verdict == "cannot tell yet"


@pytest.mark.parametrize(("dc_v", "ac_v", "verdict"), [
    (32.0, None, "no"), (48.0, None, "no"), (58.3, None, "no"), (58.4, None, "yes"),
    (80.0, 230.0, "yes"), (None, 230.0, "no"), (None, None, "cannot tell yet")])
def test_marked_volts_are_held_against_the_charge_end(
        dc_v: float | None, ac_v: float | None, verdict: str) -> None:
    """Not the nominal 51.2 V but 58.4 V count, as DC; an AC marking says nothing for DC."""
    assert volts_check(marking(dc_v=dc_v, ac_v=ac_v), flatbed_pack().highest_v).verdict == verdict


@pytest.mark.parametrize(("interrupt_a", "stated_a", "verdict"), [
    (3000, None, "no"), (10000, None, "cannot tell yet"), (None, None, "cannot tell yet"),
    (10000, 8000, "yes"), (5000, 8000, "no"), (None, 8000, "cannot tell yet")])
def test_a_lower_bound_refuses_but_never_grants(
        interrupt_a: float | None, stated_a: float | None, verdict: str) -> None:
    """Only short-circuit amps that the pack's maker states can end in a yes."""
    pack = flatbed_pack(short_circuit_a=stated_a)

    assert interrupt_check(marking(interrupt_a=interrupt_a), pack).verdict == verdict


@pytest.mark.parametrize(("amps", "holds_a", "verdict"), [
    (50.0, None, "yes"), (75.0, None, "cannot tell yet"), (75.0, 80.0, "yes"),
    (75.0, 70.0, "no"), (None, 80.0, "cannot tell yet")])
def test_a_worst_minute_above_the_rating_needs_the_trip_curve(
        amps: float | None, holds_a: float | None, verdict: str) -> None:
    """75 A on a 50 A device are 150 %: some hold that for a minute, some do not."""
    worst = flatbed_pack(rms_1_min_a=amps).rms_1_min_a

    assert minute_check(50.0, worst, holds_a).verdict == verdict


def test_without_resistance_there_is_no_bound() -> None:
    """And no verdict."""
    found = interrupt_check(marking(interrupt_a=10000), flatbed_pack(resistance_mohm=None))

    assert found.verdict == "cannot tell yet"
    assert "the pack's resistance is not known" in found.arithmetic
