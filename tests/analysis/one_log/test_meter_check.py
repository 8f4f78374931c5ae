"""A monitor against a meter, by pairs of readings."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.estimate import NoEstimate
from analysis.one_log.meter_check import CLAMP, VOLTMETER, Meter, MeterCheck, check_against_meter

PERFECT = Meter("A", 0.0, 0.0, 1e-3)


def checked(shown: list[float], measured: list[float], meter: Meter = CLAMP) -> MeterCheck:
    found = check_against_meter(np.array(shown), np.array(measured), meter)
    assert isinstance(found, MeterCheck)
    return found


def test_line_and_its_interval_vs_gum_h3() -> None:
    """JCGM 100:2008, H.3, calibration of a thermometer: y1 = -0.1712 (u 0.0029), y2 = 0.00218
    (u 0.00067), 9 degrees of freedom; the zero of the line and its u follow from y1, y2 and their
    correlation of -0.930. The slope is set on 1 so that it is a gain."""
    t = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010,
                  26.511]) - 20
    b = np.array([-.171, -.169, -.166, -.159, -.164, -.165, -.156, -.157, -.159, -.161, -.160])
    found = checked(list(t), list(b + t), PERFECT)
    y1, u1, y2, u2, r = -0.1712, 0.0029, 0.00218, 0.00067, -0.930
    zero = -y1 / (1 + y2)
    u_zero = math.sqrt(u1**2 + (zero * u2) ** 2 + 2 * r * u1 * zero * u2) / (1 + y2)
    t_95 = 2.262  # Student's t, 9 degrees of freedom, JCGM 100:2008, table G.2

    assert found.gain.value - 1 == pytest.approx(y2, abs=0.5e-5)
    assert found.gain.half_width == pytest.approx(t_95 * u2, rel=0.01)
    assert found.zero.value == pytest.approx(zero, abs=1e-4)
    assert found.zero.half_width == pytest.approx(t_95 * u_zero, rel=0.02)


@settings(derandomize=True, max_examples=200)
@given(zero=st.floats(-3, 3), gain=st.floats(0.7, 1.4), is_turned=st.booleans(),
       shown=st.lists(st.integers(-90, 40), min_size=2, max_size=8, unique=True))
def test_exact_pairs_give_back_zero_and_gain(
        zero: float, gain: float, is_turned: bool, shown: list[int]) -> None:
    """Whichever way round the clamp lay."""
    way = -1 if is_turned else 1
    found = checked([float(x) for x in shown], [way * gain * (x - zero) for x in shown], PERFECT)

    assert found.is_turned == is_turned
    assert found.zero.value == pytest.approx(zero, abs=1e-6)
    assert found.gain.value == pytest.approx(gain, abs=1e-8)


def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    """500 drawn meters and readings: the truth lies inside about 95 of 100 times, and where
    nothing is wrong a correction is hardly ever proposed."""
    rng = np.random.default_rng(7)
    zero, gain, inside, needless = 0.35, 1.06, np.zeros(2), 0
    for _ in range(500):
        truth = rng.uniform(-90, 20, 6)
        meter = truth * (1 + rng.uniform(-1, 1) * CLAMP.gain) + rng.uniform(-1, 1) * CLAMP.zero
        meter += rng.normal(0, CLAMP.pair_sd, 6)
        found = checked(list(truth / gain + zero), list(meter))
        inside += (found.zero.low <= zero <= found.zero.high,
                   found.gain.low <= gain <= found.gain.high)
        needless += checked(list(truth), list(meter)).verdict == "yes"

    assert (inside >= 0.94 * 500).all()
    assert needless <= 0.08 * 500


def test_only_what_is_told_from_nothing_is_corrected() -> None:
    """A zero error alone leaves the gain at one; a gain alone leaves the zero at nothing."""
    shown = [-80.0, -40.0, 0.0, 10.0]
    zero_only = checked(shown, [x - 1.5 for x in shown])
    gain_only = checked(shown, [1.2 * x for x in shown])
    neither = checked(shown, [x * 1.01 + 0.1 for x in shown])

    assert (zero_only.verdict, zero_only.proposed_gain) == ("yes", 1.0)
    assert zero_only.proposed_zero == pytest.approx(1.5)
    assert (gain_only.proposed_zero, gain_only.proposed_gain) == (0.0, pytest.approx(1.2))
    assert (neither.verdict, neither.proposed_zero, neither.proposed_gain) == ("no", 0.0, 1.0)
    assert "nothing to correct" in neither.words


def test_pairs_on_a_line_by_luck_are_no_better_than_the_meter_can_be_read() -> None:
    """Three readings may lie on a line by chance; their interval does not shrink to nothing."""
    found = checked([0.0, -30.0, -60.0], [0.0, -30.0, -60.0], Meter("A", 0.0, 0.0, 0.2))

    assert found.zero.half_width > 1.96 * 0.2 / math.sqrt(3)


def test_two_pairs_are_enough_for_a_zero() -> None:
    """Their interval is that of meter and reading alone, for there is no scatter to learn from."""
    found = checked([0.35, -60.0], [0.0, -60.3])

    assert found.zero.low < 0.35 < found.zero.high
    assert 0.3 < found.zero.half_width < 0.8


@pytest.mark.parametrize(("shown", "measured", "reason"), [
    ([], [], "no reading by meter was noted"), ([5.0], [5.0], "one pair that spans 0.0 A"),
    ([5.0, 5.5], [5.0, 5.4], "2 pairs that span 0.5 A"),
    ([0.0, -20.0], [0.0, -90.0], "the meter shows 4.50 times"),
    ([0.0, -20.0, -40.0], [0.0, -30.0, -40.0], "the pairs scatter by"),
])
def test_what_pairs_cannot_tell_is_said(
        shown: list[float], measured: list[float], reason: str) -> None:
    """With the next thing to measure."""
    found = check_against_meter(np.array(shown), np.array(measured), CLAMP)

    assert isinstance(found, NoEstimate)
    assert reason in found.reason
    assert "read" in found.next or "look" in found.next


def test_volts_go_the_same_way() -> None:
    """A voltmeter is better than a clamp, and so is the interval."""
    found = checked([48.0, 52.0, 54.0], [48.4, 52.43, 54.45], VOLTMETER)

    assert found.unit == "V"
    assert found.gain.half_width < 0.05
