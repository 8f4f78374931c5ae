"""Coils at other volts than their marking."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.parts.coil import Coil, dropping_resistor, judge_coil, power_ratio
from tests.analysis.made_parts import asked, flatbed_pack


def test_the_flatbeds_coil_takes_more_than_twice_its_heat() -> None:
    """36 V marked, 54.4 V full: (54.4 / 36)^2 = 2.28 times; replace."""
    judged = judge_coil(Coil("main solenoid", 36.0, resistance_ohm=60.0), flatbed_pack())

    assert power_ratio(54.4, 36.0) == pytest.approx(2.283, abs=1e-3)
    assert judged.action == "replace"
    assert "= 2.3 times its heat" in asked(judged, "volts").arithmetic[0]
    assert "49 W instead of 22 W" in asked(judged, "volts").arithmetic[2]


@given(st.floats(40, 100), st.floats(12, 39), st.floats(10, 500))
@settings(derandomize=True)
def test_the_resistor_in_series_leaves_the_coil_its_volts(
        volts: float, marked_v: float, coil_ohm: float) -> None:
    """The divider gives the marking, and all watts are accounted for."""
    ohm, watts = dropping_resistor(volts, marked_v, coil_ohm)

    assert volts * coil_ohm / (coil_ohm + ohm) == pytest.approx(marked_v)
    assert watts + marked_v**2 / coil_ohm == pytest.approx(volts * marked_v / coil_ohm)


@pytest.mark.parametrize(("marked_v", "max_v", "verdict"), [
    (48.0, None, "no"), (48.0, 60.0, "yes"), (54.0, None, "yes"), (72.0, None, "yes")])
def test_a_coil_is_held_against_the_highest_volts(
        marked_v: float, max_v: float | None, verdict: str) -> None:
    """110 % of the marking, or what its maker allows, against 58.4 V."""
    judged = judge_coil(Coil("x", marked_v, max_v=max_v), flatbed_pack())

    assert asked(judged, "volts").verdict == verdict


@pytest.mark.parametrize(("lowest_v", "verdict"), [(46.0, "no"), (51.0, "yes"),
                                                   (None, "cannot tell yet")])
def test_a_coil_for_more_volts_may_not_pull_in(lowest_v: float | None, verdict: str) -> None:
    """A 72 V coil that needs 50 V chatters on a pack that falls to 46 V."""
    judged = judge_coil(Coil("x", 72.0, pull_in_v=50.0), flatbed_pack(lowest_v=lowest_v))

    assert asked(judged, "pull in").verdict == verdict
