"""Alarms on the page: which stand, by the recorder's own words."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from collector.alarm_limits import Limit
from collector.alarms import Alarms
from collector.record import Sample
from dashboard.alarms import Alarm, Standing
from dashboard.live import LiveView
from dashboard.pages import now
from tests.dashboard.test_pages import text_of

LIMITS = (Limit("out_a", 100, 2, 5), Limit("out_a", 200, 1, 5), Limit("cell_low_v", 2.9, 2, 0.05),
          Limit("temp_low_c", -5, 1, 2), Limit("soc_low_pct", 20, 1, 2))


@settings(derandomize=True)
@given(st.lists(st.tuples(st.floats(-300, 50), st.floats(2.5, 3.4), st.integers(-20, 40),
                          st.integers(0, 100)), min_size=1, max_size=60))
def test_what_stands_is_what_the_recorder_holds(rows: list[tuple[float, ...]]) -> None:
    """Read back from the events alone, the page shows exactly the alarms that are raised."""
    alarms, standing = Alarms(LIMITS, "negative_is_discharge"), Standing()
    for second, (amps, cell, temp, percent) in enumerate(rows):
        events = alarms.take(Sample(second * 1000, float(second), {
            "current_a": amps, "cell_01_v": cell, "temp_1_c": temp, "soc_pct": percent}))
        for event in events:
            standing.take(event.words)
        raised = [each.limit for each in alarms._watched if each.is_raised]
        assert len(standing.alarms) == len(raised)
        assert all(any(f"{limit.rule.beyond} {limit.value:g} {limit.rule.unit}" in alarm.what
                       for alarm in standing.alarms) for limit in raised)


def test_an_alarm_says_what_to_do() -> None:
    """In words, with the usual caution; not by colour."""
    standing = Standing()
    standing.take("amps out 212 A, above 200 A for 2 s \N{EM DASH} ease off: heat grows")
    told = text_of(now.words(LiveView("recording", "a", alarms=standing.alarms)))

    assert standing.alarms == (Alarm("amps out 212 A, above 200 A for 2 s",
                                     "ease off: heat grows"),)
    assert "Alarm: amps out 212 A, above 200 A for 2 s." in told
    assert "Ease off: heat grows." in told
    assert "protects nothing" in told


def test_words_that_are_unknown_stand_as_they_are() -> None:
    """An event of a newer recorder is shown, not swallowed."""
    standing = Standing()
    standing.take("something new")

    assert standing.alarms == (Alarm("something new", ""),)
