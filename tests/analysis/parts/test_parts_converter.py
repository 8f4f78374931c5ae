"""12 V converters."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.parts.converter import (
    Converter,
    input_current_a,
    judge_converter,
    standby_ah_per_day,
)
from tests.analysis.made_parts import asked, flatbed_pack

GOOD = Converter("x", input_max_v=90.0, input_min_v=30.0, output_w=120.0, load_w=60.0)


def test_a_converter_within_its_window_stays() -> None:
    """Both ends, watts and place."""
    assert judge_converter(GOOD, flatbed_pack()).verdict == "yes"


def test_a_converter_on_part_of_the_string_is_moved_not_replaced() -> None:
    """Its place is wrong, not the device."""
    judged = judge_converter(replace(GOOD, is_on_whole_pack=False), flatbed_pack())

    assert judged.action == "connect it to the whole pack"


@pytest.mark.parametrize(("changed", "words"), [
    ({"input_max_v": 58.0}, "highest"), ({"input_min_v": 47.0}, "lowest"),
    ({"load_w": 100.0}, "load"), ({"is_on_whole_pack": False}, "whole pack")])
def test_each_fault_is_refused_by_its_own_question(
        changed: dict[str, float], words: str) -> None:
    """And by no other."""
    judged = judge_converter(replace(GOOD, **changed), flatbed_pack())

    assert asked(judged, words).verdict == "no"
    assert [one.verdict for one in judged.checks].count("no") == 1


def test_unknown_lowest_volts_cannot_be_judged() -> None:
    """A converter may drop out on the ramp."""
    judged = judge_converter(GOOD, flatbed_pack(lowest_v=None))

    assert asked(judged, "lowest").verdict == "cannot tell yet"


def test_amps_in_and_standby() -> None:
    """60 W at 46 V and 90 %: 1.45 A; 1.5 W on 51.2 V: 0.70 Ah a day."""
    assert input_current_a(60.0, 46.0, 0.9) == pytest.approx(1.449, abs=1e-3)
    assert standby_ah_per_day(1.5, 51.2) == pytest.approx(0.703, abs=1e-3)
