"""The zero error over a logbook: sized, dated, and not hidden by an interlude."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.season.zero import (
    LogZero,
    ZeroFinding,
    ZeroHistory,
    find_zero_errors,
    zero_digest,
    zero_history,
)
from tests.analysis.made_logs import log

DAY_S = 86400.0


def rests(*levels: tuple[float, int]) -> list[tuple[float, LogZero]]:
    """One log a day, so many at each level."""
    amps = [level for level, count in levels for _ in range(count)]
    return [(day * DAY_S, LogZero(a, 600.0, 0.1)) for day, a in enumerate(amps)]


def only(history: ZeroHistory) -> ZeroFinding:
    (found,) = find_zero_errors(history)
    return found


def test_rest_is_read_from_the_quiet_minutes() -> None:
    """Ten minutes at 0.3 A after a drive are the rest; the drive is not."""
    time_s = np.arange(0.0, 1200.0)
    amps = np.where(time_s < 600, -40.0 + 10 * np.sin(time_s), 0.3)

    found = zero_digest(log(time_s, current_a=amps))

    assert found.rest_a == pytest.approx(0.3)
    assert found.rest_s >= 540


def test_error_is_dated_to_its_first_log() -> None:
    """+0.33 A from day 20 on: 0.33 A, about 8 Ah a day, and a correction from that day."""
    found = only(zero_history(rests((0.0, 20), (0.33, 30))))

    assert found.from_s == 20 * DAY_S
    assert found.verdict == "yes"
    assert found.error_a.low < 0.35 < found.error_a.high
    assert found.per_day_ah.low < 8.4 < found.per_day_ah.high
    assert found.correction()["value"] == pytest.approx(-0.33)
    assert found.correction()["from"] == "1970-01-21T00:00:00Z"


def test_amps_out_at_rest_may_be_a_load() -> None:
    """A steady reading out of the pack is not called a zero error outright."""
    found = only(zero_history(rests((-0.3, 30))))

    assert found.verdict == "cannot tell yet"
    assert found.per_day_ah.value == pytest.approx(7.2)


def test_interlude_does_not_end_the_error() -> None:
    """Ten logs at 0.0 A between two levels of 0.33 A: the error stands, and is dated before them.

    A drain of the same size hides it at rest, not under load.
    """
    history = zero_history(rests((0.0, 20), (0.33, 30), (0.0, 10), (0.33, 30)))
    found = only(history)

    assert found.from_s == 20 * DAY_S
    assert "went back to 0.0 A" in found.words
    assert history.level_at(55 * DAY_S) == pytest.approx(0.33)
    assert history.level_at(5 * DAY_S) == 0.0


def test_an_error_that_is_over_keeps_its_days() -> None:
    """Set right on day 50: the days between are told, for a correction that ends."""
    found = only(zero_history(rests((0.0, 20), (0.33, 30), (0.0, 5))))

    assert (found.from_s, found.until_s) == (20 * DAY_S, 50 * DAY_S)
    assert found.words.startswith("the amps read +0.33 A at rest until 20 February 1970")
    assert found.correction()["until"] == "1970-02-20T00:00:00Z"
    assert "from the first to the last" in found.next


def test_an_odd_log_makes_no_level() -> None:
    """One rest with a lamp left on changes nothing."""
    odd = rests((0.0, 10), (-0.5, 1), (0.0, 10))

    assert find_zero_errors(zero_history(odd)) == ()
    assert len(zero_history(odd).levels) == 1


def test_no_rest_gives_no_level() -> None:
    """Without a minute of rest nothing is known."""
    history = zero_history([(0.0, LogZero(math.nan, 0.0, 0.1))])

    assert math.isnan(history.level_at(0.0))
    assert find_zero_errors(history) == ()
