"""A monitor's own running number: what was lost, late or said twice."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.record import Sample
from collector.running_number import RunningNumber


def counted(numbers: list[int], step_s: float = 0.1) -> dict[str, int]:
    number = RunningNumber()
    for n, value in enumerate(numbers):
        number.is_repeat(Sample(0, n * step_s, {"sequence": float(value), "voltage_v": 52.0}))
    return {name: count for name, count in number.counts.items() if count}


@pytest.mark.parametrize(("numbers", "counts"), [
    ([1, 2, 3, 4], {}),
    ([1, 2, 3, 5, 6], {"lost_frames": 1}),
    ([1, 2, 4, 3, 5], {"late_frames": 1}),
    ([253, 254, 255, 0, 1], {}),
    ([253, 254, 255, 1, 2], {"lost_frames": 1}),
    ([65533, 65534, 65535, 0, 1], {}),
    ([10, 20, 30, 50, 60], {"lost_frames": 1}),
    ([40_000, 40_001, 40_002, 0, 1, 2], {}),
    ([7, 7, 7, 7], {}),
])
def test_steps_are_told_apart(numbers: list[int], counts: dict[str, int]) -> None:
    """A loss, a late frame, a wrap at 8 and 16 bits, a number that counts by tens, a restart, one
    that stands still."""
    assert counted(numbers) == counts


@settings(derandomize=True, deadline=None)
@given(st.integers(0, 65_535), st.lists(st.booleans(), min_size=3, max_size=80))
def test_every_gap_in_a_stream_is_counted(first: int, is_heard: list[bool]) -> None:
    """Frames of 16 bits from any number on: heard and lost add up between the first and last."""
    heard = [True, True, True, *is_heard, True]
    numbers = [(first + n) % 65_536 for n, is_there in enumerate(heard) if is_there]

    assert counted(numbers).get("lost_frames", 0) == heard.count(False)


def test_the_same_under_the_same_number_at_once_is_a_repeat() -> None:
    """Within a moment, and only if all figures are the same; without a number nothing is."""
    def repeats(gap_s: float, volts: float, **number: float) -> bool:
        follower = RunningNumber()
        follower.is_repeat(Sample(0, 5.0, {"voltage_v": 52.0, **number}))
        return follower.is_repeat(Sample(0, 5.0 + gap_s, {"voltage_v": volts, **number}))

    assert repeats(0.005, 52.0, sequence=9.0)
    assert not repeats(0.1, 52.0, sequence=9.0)
    assert not repeats(0.005, 52.1, sequence=9.0)
    assert not repeats(0.005, 52.0)
