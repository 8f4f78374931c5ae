"""Amps beyond the labels of board and breaker, over a logbook."""

from __future__ import annotations

from dataclasses import replace
from unittest.mock import ANY

import numpy as np
import pytest

from analysis.digest import LogDigest
from analysis.limits import Limits
from analysis.season.beyond_limits import beyond_limits
from tests.analysis.made_packs import digest, later, steady, telemetry

ALL = Limits(peak_a=200.0, continuous_a=100.0, breaker_a=150.0)


def drive(amps: float, hours: float = 0.5) -> LogDigest:
    """Steady amps out."""
    return digest(telemetry(steady(-amps, hours, step_s=1.0), 0.9, step_s=1.0))


def test_amps_within_every_label_say_nothing() -> None:
    """60 A for half an hour under a board of 100 A."""
    assert beyond_limits([drive(60.0)], ALL) == ()


def test_each_label_is_held_against_its_own_time() -> None:
    """120 A for half an hour is too much for good, not for a peak; for a minute it is neither."""
    calm, long = drive(120.0, 1 / 60), later(drive(120.0), 24)
    (found,) = beyond_limits([calm, long, later(long, 24)], ALL)

    assert (found.kind, found.verdict, found.start_s) == ("over_continuous", "yes", long.start_s)
    assert found.words == ("up to 120 A out over ten minutes; the board's label allows for good "
                           "100 A: 2 logs")


def test_a_pull_above_the_peak_is_found() -> None:
    """212 A for 11 s under a peak of 200 A."""
    kinds = [f.kind for f in beyond_limits([drive(212.0, 11 / 3600)], ALL)]

    assert kinds == ["over_peak"]


def test_a_breaker_that_is_too_small_is_found() -> None:
    """55 A over four minutes through 50 A; DC, local code and a licensed hand are named. The
    first log that did is named, not the calm one before it."""
    calm, hard = drive(20.0), later(drive(55.0), 24)
    (found,) = beyond_limits([calm, hard], Limits(peak_a=200.0, continuous_a=100.0,
                                                  breaker_a=50.0, breaker_c=48.0, breaker_v=12.0))

    assert (found.kind, found.start_s) == ("over_breaker", hard.start_s)
    assert found.words.startswith(
        "for minutes the amps were more than the breaker carries, in one log; the hardest: worst "
        "four minutes 55 A RMS; a 50 A thermal breaker at 48 °C carries 48 A")
    assert "too low in volts too" in found.words
    assert "licensed" in found.next


def test_a_charge_is_no_drive() -> None:
    """120 A in for half an hour: not beyond what the board gives, beyond what it lets in; which
    is not asked for where nobody typed it."""
    charge = digest(telemetry(steady(120.0, 0.5, step_s=1.0), 0.1, step_s=1.0))
    (found,) = beyond_limits([charge], replace(ALL, charge_a=60.0, charge_peak_a=200.0))

    assert beyond_limits([charge], ALL) == ()
    assert (found.kind, found.size) == ("over_charge", ANY)
    assert "120 A in over ten minutes; the board's label lets in for good 60 A" in found.words


def test_braking_beyond_its_peak_is_found() -> None:
    """30 s at 80 A in, under a peak of 50 A for what comes in."""
    brake = digest(telemetry(steady(80.0, 30 / 3600, step_s=1.0), 0.5, step_s=1.0))

    assert [f.kind for f in beyond_limits([brake], replace(ALL, charge_peak_a=50.0))] == [
        "over_charge_peak"]


def test_both_ways_warm_a_breaker() -> None:
    """70 A out and 70 A in by turns are 70 A RMS for the strip, half of that for the board."""
    amps = np.tile(np.repeat([-70.0, 70.0], 60), 8)
    turns = digest(telemetry(amps, 0.5, step_s=1.0))
    found = beyond_limits([turns], Limits(peak_a=200.0, continuous_a=55.0, breaker_a=60.0))

    assert [f.kind for f in found] == ["over_breaker"]
    assert "70 A RMS" in found[0].words


@pytest.mark.parametrize(("limits", "asked"), [
    (Limits(), "ten seconds; type the board's label under Pack & limits (peak_a, continuous_a of "
     "[pack.limits] in logbook.toml); list the breaker under Parts (parts.toml)"),
    (Limits(peak_a=200.0, breaker_a=150.0), "ten minutes; type the board's label under Pack & "
     "limits (continuous_a of [pack.limits] in logbook.toml)"),
    (Limits(peak_a=200.0, continuous_a=100.0),
     "ten minutes; list the breaker under Parts (parts.toml)")])
def test_labels_that_nobody_typed_are_asked_for(limits: Limits, asked: str) -> None:
    """What was measured is told; what is missing is named with where to type it; what the parts
    list has is not asked for again."""
    (found,) = beyond_limits([drive(60.0)], limits)

    assert (found.kind, found.verdict) == ("limits_untyped", "cannot tell yet")
    window, words = asked.split("; ", 1)
    assert f"60 A out over {window}" in found.words
    assert found.next == words


def test_logs_too_short_for_ten_minutes_still_tell_their_worst() -> None:
    """A single minute has no ten-minute figure; its ten seconds stand in."""
    short = digest(telemetry(steady(-60.0, 1 / 60, 60.0, 1.0), 0.9, step_s=1.0))
    (found,) = beyond_limits([short], Limits(peak_a=200.0, continuous_a=100.0))

    assert "60 A out over ten seconds" in found.words


def test_the_meters_own_doubt_is_no_excess() -> None:
    """100.5 A against 100 is within one percent."""
    assert beyond_limits([drive(100.5)], ALL) == ()


def test_without_amps_nothing_is_asked() -> None:
    """A logbook that holds no figure has no worst."""
    assert beyond_limits([], Limits()) == ()
