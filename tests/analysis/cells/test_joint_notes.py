"""Joints from notes: paired with the amps, ranked, compared with their like."""

from __future__ import annotations

import math
import random

import pytest

from analysis.cells.joint_notes import JointNote, NotedJoint, like_of, ranked_joints
from analysis.estimate import Estimate, NoEstimate

#: A hot lug and its twin at 85 A, both read by infra-red; 119 mV over 85 A is 1.4 mohm (Ohm's law),
#: and 1.4 mohm at 85 A gives off 10.1 W (Joule's law).
LUG = [JointNote("main minus lug", 0.0, "millivolts", 119.0, -85.0),
       JointNote("main minus lug", 30.0, "surface_c", 74.0, -85.0),
       JointNote("main plus lug", 60.0, "millivolts", 10.2, -85.0),
       JointNote("main plus lug", 90.0, "surface_c", 31.0, -85.0)]
ANEW = [JointNote("main minus lug", 9000.0, "made_anew"),
        JointNote("main minus lug", 9100.0, "millivolts", 10.4, -86.0)]


def by_name(notes: list[JointNote], rms_a: float = 46.0) -> dict[str, NotedJoint]:
    return {joint.joint.joint: joint for joint in ranked_joints(notes, rms_a).joints}


def value(answer: object) -> float:
    assert isinstance(answer, Estimate)
    return answer.value


def test_millivolts_meet_the_amps_of_their_minute() -> None:
    """119 mV at 85 A: 1.4 mohm, 10 W then, 3 W at the worst RMS of 46 A; 12 times its twin."""
    hot = by_name(LUG)["main minus lug"]

    assert value(hot.joint.resistance_mohm) == pytest.approx(1.4)
    assert value(hot.heat_then_w) == pytest.approx(10.1, abs=0.05)
    assert value(hot.joint.heat_w) == pytest.approx(1.4e-3 * 46**2, abs=0.05)
    assert hot.joint.times_usual == pytest.approx(119 / 10.2)
    assert hot.warmer_k == pytest.approx(43.0)
    assert hot.verdict == "no"
    assert "make main minus lug anew" in hot.next


def test_the_hottest_comes_first_whatever_the_order_of_notes() -> None:
    """Ranked by watts at the worst amps."""
    shuffled = LUG[:]
    random.Random(1).shuffle(shuffled)

    assert [j.joint.joint for j in ranked_joints(shuffled, 46.0).joints] == [
        "main minus lug", "main plus lug"]


def test_a_joint_made_anew_is_judged_by_what_came_after() -> None:
    """Good now, 1.4 mohm before; its old warmth counts no more."""
    lug = by_name(LUG + ANEW)["main minus lug"]

    assert value(lug.joint.resistance_mohm) == pytest.approx(10.4 / 86, rel=1e-3)
    assert lug.before_mohm is not None
    assert value(lug.before_mohm) == pytest.approx(1.4)
    assert lug.verdict == "yes"
    assert math.isnan(lug.surface_c)


def test_a_joint_just_made_asks_for_a_reading() -> None:
    """Nothing is known of it until it is read again."""
    lug = by_name(LUG + ANEW[:1])["main minus lug"]

    assert isinstance(lug.joint.resistance_mohm, NoEstimate)
    assert lug.verdict == "cannot tell yet"
    assert "20 A or more" in lug.next


def test_a_reading_that_no_log_covers_stays_open() -> None:
    """Without amps there is no resistance, and none is made up."""
    alone = by_name([JointNote("busbar 3", 0.0, "millivolts", 12.0)])["busbar 3"]

    assert alone.verdict == "cannot tell yet"
    assert "while recording" in alone.next


def test_only_like_joints_read_together_are_compared() -> None:
    """A post is no lug, and yesterday's warmth says nothing of today's."""
    notes = [LUG[1], JointNote("main plus lug", 90_000.0, "surface_c", 20.0),
             JointNote("main minus post", 40.0, "surface_c", 20.0)]

    assert math.isnan(by_name(notes)["main minus lug"].warmer_k)
    assert like_of("Main minus LUG") == "lug"
    assert like_of("") == ""


def test_a_warm_joint_without_millivolts_is_told() -> None:
    """43 K above its twin is no good joint, whatever its millivolts are."""
    hot = by_name([LUG[1], LUG[3]])["main minus lug"]

    assert hot.verdict == "no"


def test_without_logs_joints_are_ranked_by_resistance() -> None:
    """No worst amps known: the order stands, the watts are those of the reading."""
    report = ranked_joints(LUG, math.nan)

    assert report.joints[0].joint.joint == "main minus lug"
    assert value(report.joints[0].heat_then_w) == pytest.approx(10.1, abs=0.05)


def test_no_notes_are_no_joints() -> None:
    """A torque alone, or nothing, makes no row."""
    assert ranked_joints([], 46.0).joints == ()
    assert ranked_joints([JointNote("a", 0.0, "torque_nm", 12.0)], 46.0).joints == ()
