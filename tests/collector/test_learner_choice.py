"""Which of several readings of percent is the answer, and when two places cannot be told apart."""

import numpy as np
import pytest

from collector.learner import Lesson, Reading, learn
from collector.learner.asking import ask_for
from collector.learner.candidates import Candidate
from collector.learner.choice import decide, families
from collector.learner.codings import Form
from collector.learner.columns import BinaryColumns, Spot
from tests.benchmarks.invented_protocols import invent

#: A pack driven from 80 to 70 percent.
TRUE_PCT = np.linspace(80.0, 70.0, 200)
#: Which of these frames have a flag set that has nothing to do with percent.
FLAG = np.arange(200) // 7 % 2


def percent(at: int, form: Form, scale: float, values: np.ndarray, log10_p: float = -4.0,
            support: float = 3.4) -> Candidate:
    """One place that agrees with what was typed."""
    return Candidate(Spot(at, form), scale, 0.0, values, log10_p, 0.0, support)


def decided(*candidates: Candidate) -> tuple[int | str, Form | None, float] | None:
    """Place, form and scale of the answer, if there is one."""
    chosen = decide("soc_pct", 1.0, families(candidates, lambda _: (0.0, 99.0))).chosen
    return None if chosen is None else (chosen.spot.at, chosen.spot.form, chosen.scale)


BYTE, SEVEN_BITS = Form("unsigned", 1), Form("unsigned", 1, mask=0xFE)


def test_a_last_bit_that_follows_charge_is_part_of_percent() -> None:
    """Halves of a percent, though the display's whole ones fit the upper bits a little better."""
    halves = np.round(2 * TRUE_PCT)
    fine = percent(6, BYTE, 0.5, halves / 2, log10_p=-3.5)
    coarse = percent(6, SEVEN_BITS, 1.0, halves // 2, log10_p=-4.5)

    assert decided(coarse, fine) == (6, BYTE, 0.5)


def test_a_last_bit_that_does_not_is_a_flag() -> None:
    """Whole percent in seven bits; read as halves it wavers, which its support says."""
    whole = np.round(TRUE_PCT)
    coarse = percent(5, SEVEN_BITS, 1.0, whole)
    wavering = percent(5, BYTE, 0.5, whole + FLAG / 2, support=2.1)

    assert decided(coarse, wavering) == (5, SEVEN_BITS, 1.0)


def test_a_byte_that_no_zero_byte_widens_is_percent_beside_amp_hours() -> None:
    """A pack of 100 amp-hours: two bytes say amp-hours left, one byte percent.

    Some bits of the next byte may be zero: they are no part of a figure.
    """
    whole, left_ah = np.round(TRUE_PCT), np.round(TRUE_PCT + 0.01)
    left_ah[100] += 1
    alone = [percent(30, form, 1.0, whole) for form in (BYTE, Form("unsigned", 2, "little", 0x3FF))]
    wide = [percent(37, BYTE, 1.0, left_ah), percent(36, Form("unsigned", 2), 1.0, left_ah)]

    assert decided(*wide, *alone) == (30, BYTE, 1.0)


def test_two_places_that_say_the_same_are_told_apart_by_a_full_pack() -> None:
    """Percent or amp-hours of a pack that holds about 100: nothing heard so far can tell."""
    whole = [percent(12, BYTE, 1.0, np.round(TRUE_PCT)),
             percent(11, Form("unsigned", 2), 1.0, np.round(TRUE_PCT))]
    fine = percent(23, Form("unsigned", 2), 0.01, np.round(TRUE_PCT, 2))
    verdict = decide("soc_pct", 1.0, families([*whole, fine], lambda _: (0.0, 99.0)))
    readings = [Reading.from_texts(1000 * second, {"current_a": amps, "soc_pct": f"{soc:.0f}"})
                for second, amps, soc in ((20, "-1", 79), (90, "-40", 75), (150, "9", 72))]
    columns = BinaryColumns(np.zeros((200, 30), np.uint8), np.arange(200.0), set())

    asked = ask_for(Lesson(None, columns, {"soc_pct": verdict}), "soc_pct", readings)

    assert not verdict.is_decided
    assert "bytes 12 and 23..24 say the same" in asked
    assert "with the pack full" in asked


#: A monitor whose percent read the same at all five looks, and moved between them.
SAME_FIVE_TIMES = 40_033


@pytest.mark.parametrize(("typed", "is_found"), [
    (("voltage_v", "current_a", "soc_pct"), True), (("voltage_v", "soc_pct"), False)])
def test_percent_that_follows_counted_amps_needs_no_second_figure(
        typed: tuple[str, ...], is_found: bool) -> None:
    """76, five times: the byte that fell as amp-hours left; without amps nothing is claimed."""
    invented = invent(SAME_FIVE_TIMES)
    readings = [Reading(reading.time_ms, {name: reading.values[name] for name in typed},
                        reading.steps) for reading in invented.readings]

    assert {reading.values["soc_pct"] for reading in readings} == {76.0}
    assert ("soc_pct" in learn(invented.chunks, readings).found) == is_found
