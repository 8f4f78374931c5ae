"""Cables: sag both ways, heat, the reference, and whether the suggestion helps."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.parts.cable import Cable, judge_cable
from analysis.parts.conductor import by_gauge, parse_size
from tests.analysis.made_parts import asked, flatbed_pack

TEN_FEET_M = 3.048


@pytest.mark.parametrize(("number", "volts", "watts"), [
    ("6", 0.982, 98.2), ("4", 0.616, 61.6), ("2", 0.388, 38.8), ("2/0", 0.1934, 19.3)])
def test_sag_and_heat_from_nec_table_8(number: str, volts: float, watts: float) -> None:
    """100 A over 10 ft there and 10 ft back: V = 2 L I R with the table's ohms at 75 degC."""
    cable = Cable("x", by_gauge(number, "AWG"), TEN_FEET_M)

    assert cable.sag_v(100.0) == pytest.approx(volts, rel=3e-3)
    assert cable.heat_w(100.0) == pytest.approx(watts, rel=3e-3)


def test_the_flatbeds_cable_stays_within_both() -> None:
    """6 AWG, 1.2 m one way: 0.6 % at 77 A, 120 A by the reference."""
    judged = judge_cable(Cable("battery cable", parse_size("6 AWG"), 1.2, 105), flatbed_pack())

    assert judged.verdict == "yes"
    assert any("0.6 %" in line for line in asked(judged, "volts").arithmetic)
    assert any("120 A" in line for line in asked(judged, "reference").arithmetic)


def test_a_lamp_wire_may_sag_more_than_the_way_to_the_motor() -> None:
    """3 % where it matters, 10 % elsewhere."""
    thin = Cable("wire", parse_size("2.5 mm2"), 5.0, 105, load_a=20.0)
    strict, lenient = (judge_cable(replace(thin, is_critical=c), flatbed_pack())
                       for c in (True, False))

    assert asked(strict, "volts").verdict == "no"
    assert asked(lenient, "volts").verdict == "yes"


def test_the_limits_are_three_and_ten_percent() -> None:
    """A tenth more than the amps that reach the limit is too much, a tenth less is not."""
    for is_critical, percent in ((True, 3.0), (False, 10.0)):
        wire = Cable("x", parse_size("2.5 mm2"), 5.0, is_critical=is_critical)
        at_limit_a = percent / 100 * 51.2 / wire.sag_v(1.0)
        told = [asked(judge_cable(replace(wire, load_a=share * at_limit_a), flatbed_pack()),
                      "volts").verdict for share in (0.95, 1.05)]

        assert told == ["yes", "no"]


def test_twelve_volts_allow_less_than_the_pack() -> None:
    """0.45 V are 0.9 % of 51.2 V and 3.8 % of 12 V."""
    wire = Cable("x", parse_size("6 mm2"), 2.0, 105, load_a=30.0)
    on_pack, on_twelve = (asked(judge_cable(c, flatbed_pack()), "volts")
                          for c in (wire, replace(wire, circuit_v=12.0)))

    assert (on_pack.verdict, on_twelve.verdict) == ("yes", "no")


def test_an_unknown_insulation_cannot_be_judged() -> None:
    """The heat is shown, the reference is not guessed."""
    found = asked(judge_cable(Cable("x", parse_size("6 AWG"), 1.2), flatbed_pack()), "reference")

    assert found.verdict == "cannot tell yet"
    assert "insulation_c" in found.acceptable_if


def test_without_amps_nothing_is_said() -> None:
    """Both questions name the figure that is missing."""
    judged = judge_cable(Cable("x", parse_size("6 AWG"), 1.2, 105),
                         flatbed_pack(rms_10_s_a=None, rms_10_min_a=None))

    assert [one.verdict for one in judged.checks] == ["cannot tell yet"] * 2


@given(st.floats(10, 250), st.floats(0.5, 8), st.sampled_from(["AWG", "SAE", "mm2"]))
@settings(derandomize=True, max_examples=60)
def test_the_suggested_size_is_one_that_passes(amps: float, length_m: float, areas: str) -> None:
    """Whoever buys what is suggested gets a yes."""
    start = parse_size("1 mm2") if areas == "mm2" else by_gauge("18", areas)
    pack = flatbed_pack(rms_10_s_a=amps)
    cable = Cable("x", start, length_m)
    found = asked(judge_cable(cable, pack), "volts")
    if found.verdict == "no":
        advice = found.acceptable_if.split(" or more")[0].split(" (")[0]
        # Areas are printed to a tenth.
        size = parse_size(advice)
        bought = replace(cable, size=replace(size, area_mm2=size.area_mm2 + 0.05))

        assert asked(judge_cable(bought, pack), "volts").verdict == "yes"


def test_too_many_amps_ask_for_a_gauge_that_the_reference_lets_carry_them() -> None:
    """130 A: not 6 AWG with its 120 A, but 4 AWG with 160 A."""
    found = asked(judge_cable(Cable("x", parse_size("6 AWG"), 1.2, 105),
                              flatbed_pack(rms_10_min_a=130.0)), "reference")

    assert found.verdict == "no"
    assert found.acceptable_if.startswith("4 AWG")
