"""Do the figures agree: amps, percent, hours, capacity.

Hours left equal amp-hours over amps, and six blocks of 6 V in series make 36 V: common practice,
no source.
"""

from __future__ import annotations

import pytest

from analysis.drive.words import Moment
from analysis.estimate import Estimate, NoEstimate
from analysis.one_log.agreement import (
    Reading,
    check_figures,
    implied_capacity_ah,
    implied_current_a,
)

TYPED = Reading(current_a=-23.0, soc_pct=91.0, hours_left=3 + 10 / 60)


def test_hours_are_amp_hours_over_amps() -> None:
    """72 Ah at 24 A last three hours (common practice, no source)."""
    assert Moment(current_a=-24, mean_current_a=-24, left_ah=72).hours_left == pytest.approx(3.0)


def test_six_blocks_of_six_volts_are_36_volts() -> None:
    """In series volts add, amp-hours do not (common practice, no source): 36 V at 20 A is 720 W."""
    from analysis.drive.explain import explain_figures

    sentence = explain_figures(Reading(current_a=-20.0, voltage_v=sum([6.0] * 6))).sentences[0]

    assert sentence.startswith("20 A, 720 W")


def test_three_figures_imply_the_capacity() -> None:
    """23 A for 3 h 10 at 91 % is a pack of 80 Ah: 23 x 3.1667 / 0.91."""
    capacity = implied_capacity_ah(TYPED)

    assert isinstance(capacity, Estimate)
    assert capacity.value == pytest.approx(80.04, abs=0.01)
    assert capacity.low < 78
    assert capacity.high > 82


def test_a_capacity_implies_the_amps_behind_the_hours() -> None:
    """91 % of 105 Ah over 3 h 10 is 30.2 A."""
    amps = implied_current_a(Reading(soc_pct=91, hours_left=3 + 10 / 60, capacity_ah=105))

    assert isinstance(amps, Estimate)
    assert amps.value == pytest.approx(30.17, abs=0.01)


def test_figures_that_agree_within_their_rounding() -> None:
    """80 Ah explains them; nothing else is looked for."""
    found = check_figures(Reading(-23.0, 91.0, 3 + 10 / 60, capacity_ah=80.0))

    assert found.verdict == "yes"
    assert found.explanations == ()


def test_figures_that_do_not_agree_get_reasons() -> None:
    """With 105 Ah: a longer mean, a reserve, another setting, or a load past the shunt."""
    found = check_figures(Reading(-23.0, 91.0, 3 + 10 / 60, capacity_ah=105.0))

    assert found.verdict == "no"
    assert [e.kind for e in found.explanations] == [
        "averaging", "reserve", "capacity setting", "unmeasured load"]
    assert all(e.check for e in found.explanations)


def test_a_mean_of_the_log_that_fits_is_named_first() -> None:
    """The fifteen-minute mean of the log is what the hours were worked out with."""
    means = {"1 min": -23.5, "5 min": -26.0, "15 min": -30.0}
    found = check_figures(Reading(-23.0, 91.0, 3 + 10 / 60, capacity_ah=105.0,
                                  mean_current_a=means))

    assert "15 min, 30 A" in found.explanations[0].words


def test_three_figures_alone_are_no_verdict() -> None:
    """Without the capacity they agree with some pack; which is said."""
    found = check_figures(TYPED)

    assert found.verdict == "cannot tell yet"
    assert "about 80 Ah" in found.words


@pytest.mark.parametrize("reading", [
    Reading(), Reading(current_a=-23.0), Reading(-0.2, 50, 3.0), Reading(-23.0, 0.3, 3.0)])
def test_too_few_figures_give_no_capacity(reading: Reading) -> None:
    """Missing or almost no amps or percent: a reason and the next step."""
    answer = implied_capacity_ah(reading)

    assert isinstance(answer, NoEstimate)
    assert answer.next
