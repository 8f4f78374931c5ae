"""Joints from millivolts and amps."""

from __future__ import annotations

import pytest

from analysis.cells.joints import (
    JointReading,
    before_and_after,
    joint_heat,
    joint_resistance,
    rank_joints,
)
from analysis.estimate import Estimate, NoEstimate


def reading(joint: str, millivolts: float, amps: float, time_s: float = 0.0) -> JointReading:
    return JointReading(joint, time_s, millivolts, amps, "lug")


def test_worked_example_of_a_hot_lug() -> None:
    """1.4 mohm at 85 A are 119 mV and 10 W (Ohm and Joule)."""
    resistance = joint_resistance([reading("main plus", 119.0, -85.0)])

    assert isinstance(resistance, Estimate)
    assert resistance.value == pytest.approx(1.4)
    assert resistance.low < 1.4 < resistance.high
    assert joint_heat(resistance, 85.0).value == pytest.approx(10.1, abs=0.05)


def test_half_a_milliohm_at_200_a_is_20_w() -> None:
    """Common practice, no source."""
    assert joint_heat(Estimate(0.5, 0.5, 0.5, "mohm"), 200.0).value == pytest.approx(20.0)


def test_two_readings_take_the_meters_zero_out() -> None:
    """2 mV of meter zero do not change the slope."""
    resistance = joint_resistance([reading("a", 16.0, 20.0), reading("a", 58.0, 80.0)])

    assert isinstance(resistance, Estimate)
    assert resistance.value == pytest.approx(0.7)


def test_no_amps_no_resistance() -> None:
    """A reading with the key off tells nothing, and the answer says what to do."""
    found = joint_resistance([reading("a", 0.1, 0.0)])

    assert isinstance(found, NoEstimate)
    assert "20 A" in found.next


def test_the_hot_lug_is_first_and_against_its_like() -> None:
    """1.4 mohm among lugs of about 0.1, at the worst RMS of 46 A."""
    ranked = rank_joints([reading("b", 6.0, 60.0), reading("main plus", 84.0, 60.0),
                          reading("c", 7.2, 60.0), reading("dead", 1.0, 0.0)], 46.0)

    assert [j.joint for j in ranked] == ["main plus", "c", "b", "dead"]
    assert (ranked[0].grade, ranked[0].is_suspect) == ("act", True)
    assert ranked[0].heat_w.value == pytest.approx(1.4e-3 * 46 ** 2)  # type: ignore[union-attr]
    assert ranked[0].times_usual == pytest.approx(1.4 / 0.11, rel=0.02)
    assert "times its like" in ranked[0].words
    assert (ranked[2].grade, ranked[2].is_suspect) == ("good", False)
    assert ranked[0].as_json()["grade"] == "act"


def test_before_and_after_making_it_anew() -> None:
    """1.4 mohm before, 0.12 after."""
    before, after = before_and_after(
        [reading("lug", 84.0, 60.0, 1.0), reading("lug", 7.2, 60.0, 3.0)], 2.0)

    assert isinstance(before, Estimate)
    assert isinstance(after, Estimate)
    assert (before.value, after.value) == pytest.approx((1.4, 0.12))
    assert after.high < before.low
