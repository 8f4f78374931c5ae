"""One tick a day, as a plotly figure."""

from __future__ import annotations

from dashboard.figures.day_ticks import day_ticks

DAY_S = 86_400.0


def test_each_day_stands_from_zero_and_by_itself() -> None:
    """Days are not joined, and a day without use is blank."""
    (ticks,) = day_ticks([(0.0, 30.0), (2 * DAY_S, 12.0)], "Ah out a day").data

    assert ticks.x == (0.0, 0.0, None, 2 * DAY_S, 2 * DAY_S, None)
    assert ticks.y == (0.0, 30.0, None, 0.0, 12.0, None)
    assert ticks.connectgaps is False


def test_the_scale_begins_at_zero() -> None:
    """A half is half as high."""
    assert day_ticks([(0.0, 30.0)], "Ah").layout.yaxis.range[0] == 0.0
    assert day_ticks([(0.0, 30.0)], "Ah").layout.yaxis.range[1] > 30.0


def test_no_day_is_still_a_picture() -> None:
    """Empty paper, a scale of some height."""
    assert day_ticks([], "Ah").layout.yaxis.range == (0.0, 1.0)
