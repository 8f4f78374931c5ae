"""Amps beyond the labels of board and breaker, over a logbook."""

from __future__ import annotations

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
    assert "120 A over ten minutes; the board's label allows for good 100 A: 2 logs" in found.words


def test_a_pull_above_the_peak_is_found() -> None:
    """212 A for 11 s under a peak of 200 A."""
    kinds = [f.kind for f in beyond_limits([drive(212.0, 11 / 3600)], ALL)]

    assert kinds == ["over_peak"]


def test_a_breaker_that_is_too_small_is_found() -> None:
    """55 A over ten minutes through 50 A; DC, local code and a licensed hand are named."""
    (found,) = beyond_limits([drive(55.0)], Limits(peak_a=200.0, continuous_a=100.0,
                                                   breaker_a=50.0))

    assert found.kind == "over_breaker"
    assert "licensed" in found.next


@pytest.mark.parametrize(("limits", "asked"), [
    (Limits(), "ten seconds; peak_a, continuous_a, breaker_a"),
    (Limits(peak_a=200.0, continuous_a=100.0), "ten minutes; breaker_a")])
def test_labels_that_nobody_typed_are_asked_for(limits: Limits, asked: str) -> None:
    """What was measured is told; what is missing is named with where to type it."""
    (found,) = beyond_limits([drive(60.0)], limits)

    assert (found.kind, found.verdict) == ("limits_untyped", "cannot tell yet")
    window, names = asked.split("; ")
    assert f"60 A over {window}" in found.words
    assert f"breaker: {names} under [pack.limits]" in found.next


def test_logs_too_short_for_ten_minutes_still_tell_their_worst() -> None:
    """A single minute has no ten-minute figure; its ten seconds stand in."""
    short = digest(telemetry(steady(-60.0, 1 / 60, 60.0, 1.0), 0.9, step_s=1.0))
    (found,) = beyond_limits([short], Limits(peak_a=200.0, continuous_a=100.0))

    assert "60 A over ten seconds" in found.words


def test_the_meters_own_doubt_is_no_excess() -> None:
    """100.5 A against 100 is within one percent."""
    assert beyond_limits([drive(100.5)], ALL) == ()


def test_without_amps_nothing_is_asked() -> None:
    """A logbook that holds no figure has no worst."""
    assert beyond_limits([], Limits()) == ()
