"""Cut-offs that were set for lead acid."""

from __future__ import annotations

import pytest

from analysis.parts.cutoff import Cutoff, judge_cutoff
from tests.analysis.made_parts import asked, flatbed_pack


@pytest.mark.parametrize(("cutoff_v", "before", "not_early"), [
    (42.0, "no", "yes"), (44.7, "no", "yes"), (44.8, "yes", "yes"), (46.8, "yes", "yes"),
    (50.0, "yes", "no"), (51.0, "yes", "no")])
def test_a_setting_has_two_sides(cutoff_v: float, before: str, not_early: str) -> None:
    """42 V is 1.75 V a lead cell and below the board's 2.70 V; 51 V leaves a fifth unused."""
    judged = judge_cutoff(Cutoff("x", cutoff_v), flatbed_pack())

    assert asked(judged, "before the board").verdict == before
    assert asked(judged, "unused").verdict == not_early


def test_amps_make_a_cutoff_earlier() -> None:
    """200 A sag 3.2 V more than none, and leave more behind."""
    told = [asked(judge_cutoff(Cutoff("x", 48.5), flatbed_pack(rms_10_s_a=amps)), "unused").verdict
            for amps in (10.0, 200.0)]

    assert told == ["yes", "no"]


def test_what_is_missing_is_named() -> None:
    """The board's figure, the amps."""
    judged = judge_cutoff(Cutoff("x", 44.8), flatbed_pack(low_cell_v=None, resistance_mohm=None))

    assert [one.verdict for one in judged.checks] == ["cannot tell yet"] * 2
    assert judged.checks[0].acceptable_if == "type low_cell_v"
