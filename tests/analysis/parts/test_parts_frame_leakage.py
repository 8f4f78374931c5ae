"""Insulation to the frame."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.parts.frame_leakage import FrameLeakage, insulation_ohm, judge_frame_leakage
from tests.analysis.made_parts import flatbed_pack


def to_frame_v(pack_v: float, near_ohm: float, far_ohm: float, *across_ohm: float) -> float:
    """Volts from a pole to the frame, with what lies across that side."""
    near = 1 / (1 / near_ohm + sum(1 / ohm for ohm in across_ohm))
    return pack_v * near / (near + far_ohm)


@given(st.floats(12, 96), st.floats(1e3, 1e8), st.floats(1e3, 1e8), st.floats(1e6, 1e8),
       st.floats(1e4, 1e5))
@settings(derandomize=True)
def test_the_method_finds_the_weaker_side_of_a_circuit(
        pack_v: float, minus_ohm: float, plus_ohm: float, meter_ohm: float,
        resistor_ohm: float) -> None:
    """Two insulations, a meter, a resistor: Ohm's law gives the readings, the method the ohms."""
    strong, weak = max(minus_ohm, plus_ohm), min(minus_ohm, plus_ohm)
    shown = to_frame_v(pack_v, strong, weak, meter_ohm)
    loaded = to_frame_v(pack_v, strong, weak, meter_ohm, resistor_ohm)

    assert insulation_ohm(pack_v, shown, loaded, resistor_ohm) == pytest.approx(weak, rel=1e-3)


def readings(weak_ohm: float) -> FrameLeakage:
    """Of the flatbed, its minus side ten times as well kept apart as its plus side."""
    shown, other, loaded = (to_frame_v(53.0, *sides) for sides in (
        (10 * weak_ohm, weak_ohm, 1e7), (weak_ohm, 10 * weak_ohm, 1e7),
        (10 * weak_ohm, weak_ohm, 1e7, 3e4)))
    return FrameLeakage("x", 53.0, shown, other, 3e4, loaded)


@pytest.mark.parametrize(("weak_ohm", "verdict"), [
    (60e3, "yes"), (51e3, "yes"), (49e3, "cannot tell yet"), (6e3, "cannot tell yet"),
    (5.5e3, "no")])
def test_yardsticks_of_other_trades(weak_ohm: float, verdict: str) -> None:
    """50 kohm (lift trucks) and 500 ohm/V grant; 100 ohm/V, 5.84 kohm, is the least; no law."""
    judged = judge_frame_leakage(readings(weak_ohm), flatbed_pack())

    assert judged.verdict == verdict
    assert any("29.2 kΩ (road vehicles" in line and "5.8 kΩ" in line
               for line in judged.checks[0].arithmetic)
    assert any("on the plus side" in line for line in judged.checks[0].arithmetic)


@pytest.mark.parametrize(("shown_v", "verdict"), [(8.0, "yes"), (15.8, "yes"),
                                                  (16.0, "cannot tell yet")])
def test_two_readings_alone_show_only_that_a_pack_floats(shown_v: float, verdict: str) -> None:
    """Less than 30 % of 53 V to the frame (a lift truck's manual); more asks for a resistor."""
    judged = judge_frame_leakage(FrameLeakage("x", 53.0, 5.0, shown_v), flatbed_pack())

    assert judged.verdict == verdict
    # 500 ohm/V x 58.4 V
    assert ("about 29 kΩ" in judged.checks[0].acceptable_if) == (verdict != "yes")


@pytest.mark.parametrize("given_", [(3e4, None), (None, 5.0), (3e4, 30.0)])
def test_readings_that_do_not_go_together_are_refused(
        given_: tuple[float | None, float | None]) -> None:
    """A resistor without its reading, and one that raises the volts."""
    with pytest.raises(ValueError, match=r"belong together|must not be above"):
        FrameLeakage("x", 53.0, 20.0, 10.0, *given_)


@pytest.mark.parametrize("volts", [(-1.0, 20.0), (0.0, 0.0)])
def test_volts_that_cannot_be_meant_are_refused(volts: tuple[float, float]) -> None:
    """A sign, or a meter that was not connected."""
    with pytest.raises(ValueError, match="without a sign"):
        FrameLeakage("x", 53.0, *volts)


def test_a_pole_that_lies_on_the_frame_has_no_insulation() -> None:
    """0 V on one side, all volts on the other, which no resistor changes: 0 kohm."""
    judged = judge_frame_leakage(FrameLeakage("x", 53.0, 53.0, 0.0, 3e4, 53.0), flatbed_pack())

    assert judged.action == "find the leak and mend it"
    assert any("= 0.0 kΩ on the plus side" in line for line in judged.checks[0].arithmetic)
