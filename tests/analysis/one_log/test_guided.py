"""A guided drive: steps are told from the amps, one after the other."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.one_log.guided import Driven, Step, follow, sag_of

STEPS = (Step("stand", 10), Step("pull", 5), Step("ease", 5), Step("stand", 20))
TIME_S = np.arange(0.0, 100.0, 0.5)


def amps_of(*parts: tuple[float, float]) -> np.ndarray:
    """Amps until each moment."""
    amps = np.zeros_like(TIME_S)
    begin = 0.0
    for until, value in parts:
        amps[(begin <= TIME_S) & (until > TIME_S)] = value
        begin = until
    return amps


AMPS = amps_of((15, -0.4), (25, -64.0), (35, -20.0), (100, -0.4))


def test_each_step_is_found_in_its_turn() -> None:
    """Stand, pull, ease and park as they were driven; the end is when the time was full."""
    assert follow(STEPS, TIME_S, AMPS, 0.0) == (
        Driven(0.0, 10.0), Driven(15.0, 20.0), Driven(25.0, 30.0), Driven(35.0, 55.0))


@settings(derandomize=True)
@given(st.integers(1, len(TIME_S)))
def test_what_was_driven_stays_driven(rows: int) -> None:
    """As the log grows, steps are added and none is taken back."""
    early = follow(STEPS, TIME_S[:rows], AMPS[:rows], 0.0)

    assert follow(STEPS, TIME_S, AMPS, 0.0)[: len(early)] == early


@settings(derandomize=True)
@given(st.sampled_from([-1.0, 1.0]), st.floats(-1e6, 1e6))
def test_sign_and_clock_do_not_matter(sign: float, shift_s: float) -> None:
    """The sign may be unknown; time may be counted from anywhere."""
    moved = follow(STEPS, TIME_S + shift_s, sign * AMPS, shift_s)

    assert [(round(d.start_s - shift_s, 6), round(d.end_s - shift_s, 6)) for d in moved] == [
        (0, 10), (15, 20), (25, 30), (35, 55)]


def test_a_gap_is_a_break() -> None:
    """Ten seconds of standing with nothing heard in their midst are not ten seconds seen."""
    heard = (TIME_S < 4) | (TIME_S > 12)

    assert follow(STEPS, TIME_S[heard], AMPS[heard], 0.0)[0] == Driven(35.0, 45.0)


def test_nothing_before_the_beginning_counts() -> None:
    """A guide that begins in the middle of a drive begins with its first step."""
    assert follow(STEPS, TIME_S, AMPS, 20.0) == (Driven(35.0, 45.0),)


def test_the_sag_of_a_pull() -> None:
    """53.1 V at 1 A and 52.2 V at 64 A: 0.9 V over 63 A is 14.3 milliohm (Ohm's law)."""
    volts = np.where(np.abs(AMPS) > 60, 52.2, 53.1)
    current_a = np.where(np.abs(AMPS) < 1, -1.0, AMPS)
    sag = sag_of(Driven(0, 10), Driven(15, 20), TIME_S, current_a, volts)

    assert sag is not None
    assert sag.mohm == pytest.approx(900 / 63)


def test_no_volts_no_sag() -> None:
    """Missing volts give nothing rather than a figure."""
    assert sag_of(Driven(0, 10), Driven(15, 20), TIME_S, AMPS, np.full_like(AMPS, np.nan)) is None
