"""Chargers: end volts, profile, amps, hours."""

from __future__ import annotations

import pytest

from analysis.parts.charger import Charger, hours_to_fill, judge_charger
from tests.analysis.made_parts import SEEN, asked, flatbed_pack


@pytest.mark.parametrize(("end_v", "not_too_high", "fills"), [
    (54.4, "yes", "no"), (55.2, "yes", "yes"), (58.4, "yes", "yes"), (59.0, "no", "yes"),
    (62.0, "no", "yes")])
def test_end_volts_have_two_sides(end_v: float, not_too_high: str, fills: str) -> None:
    """3.45 to 3.65 V a cell for 16 cells: 55.2 to 58.4 V (common practice)."""
    judged = judge_charger(Charger("x", end_v, 20.0, False), flatbed_pack())

    assert asked(judged, "no higher").verdict == not_too_high
    assert asked(judged, "fill and level").verdict == fills


@pytest.mark.parametrize(("equalises", "verdict"), [(True, "no"), (False, "yes"),
                                                    (None, "cannot tell yet")])
def test_a_lead_profile_is_refused(equalises: bool | None, verdict: str) -> None:
    """An equalise stage lifts the volts for hours."""
    judged = judge_charger(Charger("x", 58.4, 20.0, equalises), flatbed_pack())

    assert asked(judged, "equalise").verdict == verdict


@pytest.mark.parametrize(("current_a", "limit_a", "verdict"), [
    (20.0, 50.0, "yes"), (60.0, 50.0, "no"), (20.0, None, "cannot tell yet")])
def test_amps_are_held_against_the_board(
        current_a: float, limit_a: float | None, verdict: str) -> None:
    """What the board does not let in opens its path."""
    judged = judge_charger(Charger("x", 58.4, current_a, False),
                           flatbed_pack(charge_max_a=limit_a))

    assert asked(judged, "board").verdict == verdict


def test_hours_are_at_least_capacity_over_amps() -> None:
    """105 Ah at 25 A: 4.2 h and the tail; without a capacity no hours are told."""
    with_capacity, without = (
        asked(judge_charger(Charger("x", 58.4, 25.0, False), flatbed_pack(capacity_ah=ah)), "board")
        for ah in (105.0, None))

    assert "4.2 h at least" in with_capacity.arithmetic[0]
    assert len(without.arithmetic) == 1
    assert hours_to_fill(105.0, 25.0) == pytest.approx(4.24, abs=0.01)


def test_a_pack_seen_above_its_charge_end_does_not_excuse_the_charger() -> None:
    """What was measured raises the volts for other parts, not what a charger may do."""
    judged = judge_charger(Charger("x", 59.0, 20.0, False), flatbed_pack(SEEN))

    assert asked(judged, "no higher").verdict == "no"
