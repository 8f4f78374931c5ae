"""Fuses: the flatbed's 32 V one, and the distance to the pack."""

from __future__ import annotations

import pytest

from analysis.parts.fuse import BARE_REACH_M, SHEATHED_REACH_M, Fuse, judge_fuse
from tests.analysis.made_parts import asked, flatbed_pack


def test_the_flatbeds_accessory_fuse_is_for_other_volts() -> None:
    """32 V marked, 58.4 V present: replace, by 26.4 V."""
    judged = judge_fuse(Fuse("accessory fuse", 15.0, marked_v_dc=32.0, load_a=8.0),
                        flatbed_pack())

    assert judged.action == "replace"
    assert "26.4 V too low" in asked(judged, "volts").arithmetic[0]
    assert asked(judged, "long run").verdict == "yes"


def test_behind_a_converter_its_volts_count() -> None:
    """The same 32 V fuse on 14.4 V is within its marking; the pack's short circuit is not its."""
    judged = judge_fuse(Fuse("lamp fuse", 15.0, marked_v_dc=32.0, load_a=8.0, circuit_v=14.4),
                        flatbed_pack())

    assert judged.verdict == "yes"
    assert not any("short circuit" in one.question for one in judged.checks)


def test_reach_vs_33_cfr_183_455() -> None:
    """7 in from the source, 40 in where sheathed."""
    assert pytest.approx(0.1778) == BARE_REACH_M
    assert pytest.approx(1.016) == SHEATHED_REACH_M


@pytest.mark.parametrize(("distance_m", "is_sheathed", "verdict"), [
    (0.17, False, "yes"), (0.2, False, "no"), (0.2, True, "yes"), (1.1, True, "no")])
def test_a_fuse_belongs_at_the_pack(distance_m: float, is_sheathed: bool, verdict: str) -> None:
    """What lies before it is not protected."""
    fuse = Fuse("main", 100.0, marked_v_dc=80.0, distance_m=distance_m, is_sheathed=is_sheathed)

    found = asked(judge_fuse(fuse, flatbed_pack()), "close")

    assert found.verdict == verdict
    assert judge_fuse(fuse, flatbed_pack()).action != "replace"
    assert ("not sheathed" in found.arithmetic[0]) == (not is_sheathed)


def test_a_fuse_without_a_load_of_its_own_carries_the_packs() -> None:
    """35 A over ten minutes on 40 A: 32 A in the long run are too few."""
    found = asked(judge_fuse(Fuse("main", 40.0, marked_v_dc=80.0), flatbed_pack()), "long run")

    assert found.verdict == "no"
    assert "at least 44 A" in found.acceptable_if
