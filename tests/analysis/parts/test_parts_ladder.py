"""The probe ladder: the fault lies between the last point with volts and the first without."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.parts.ladder import climb

POINTS = ("the pack", "the main fuse", "the key switch", "the pedal switch", "the coil")


def test_it_begins_at_the_pack() -> None:
    """Without a reading of the pack no other one means anything."""
    assert climb(POINTS, {}).next == "the pack"
    assert climb(POINTS, {"the coil": 0.0}).next == "the pack"


def test_a_silent_pack_is_the_answer() -> None:
    """A pack without volts is not to be woken by force."""
    found = climb(POINTS, {"the pack": 0.4})

    assert found.verdict == "yes"
    assert "never bypass the board" in found.words


@settings(derandomize=True)
@given(st.integers(2, 40), st.data())
def test_halving_finds_every_fault(count: int, data: st.DataObject) -> None:
    """Whatever the fault, the ladder ends on it, with no more probes than a binary search needs
    and the one at the pack (Knuth, The Art of Computer Programming 3, 6.2.1: floor(log2 n) + 1;
    from memory)."""
    points = [f"point {n}" for n in range(count)]
    broken = data.draw(st.integers(1, count - 1))
    volts: dict[str, float] = {}
    while True:
        found = climb(points, volts)
        if not found.next:
            break
        volts[found.next] = 52.4 if points.index(found.next) < broken else 0.0

    assert f"between point {broken - 1} " in found.words
    assert f"and point {broken} " in found.words
    assert len(volts) <= (count - 1).bit_length() + 1


def test_a_path_without_a_fault_says_so() -> None:
    """Volts at the far end clear the whole path."""
    volts = dict.fromkeys(POINTS, 52.0)

    assert climb(POINTS, volts).verdict == "no"


@pytest.mark.parametrize(("shown", "kind"), [(0.3, "open"), (38.0, "a poor joint")])
def test_how_much_comes_through_tells_the_kind(shown: float, kind: str) -> None:
    """Nothing behind an open point, something behind a poor joint."""
    found = climb(POINTS[:2], {POINTS[0]: 52.0, POINTS[1]: shown})

    assert kind in found.words


def test_readings_that_contradict_are_told() -> None:
    """Volts beyond a point without volts mean that one of both was misread."""
    found = climb(POINTS, {"the pack": 52.0, "the main fuse": 0.0, "the key switch": 52.0})

    assert found.verdict == "cannot tell yet"
    assert found.next == "the main fuse"
