"""The course of a figure over months, as a plotly figure."""

from __future__ import annotations

from datetime import UTC, datetime

import plotly.graph_objects as go
import pytest

from dashboard.figures.course import DAY_S, LABELS_MAX, Line, Point, course, month_axis
from dashboard.figures.ranges import Reference
from dashboard.theme import ANSWER_ROLES

APRIL_S = datetime(2026, 4, 1, tzinfo=UTC).timestamp()
POINTS = [Point(APRIL_S, 104.0, 102.0, 106.0), Point(APRIL_S + 90 * DAY_S, 102.0, 100.5, 103.5),
          Point(APRIL_S + 100 * DAY_S, 102.5, 99.0, 106.0, is_open=True)]
LINE = Line(tuple(APRIL_S + d * DAY_S for d in (0, 50, 100, 200)), (104.0, 103.0, 102.0, 100.0),
            (102.0, 101.5, 100.0, 96.0), (106.0, 104.5, 104.0, 104.0), APRIL_S + 100 * DAY_S)


def trace(figure: go.Figure, name: str) -> go.Scatter:
    return next(part for part in figure.data if part.uid == name)


def test_points_carry_their_intervals() -> None:
    """A dot and an upright line for each; what is known less directly is hollow."""
    figure = course(POINTS, "Ah")

    assert trace(figure, "point").y == (104.0, 102.0)
    assert trace(figure, "open-point").y == (102.5,)
    assert trace(figure, "interval").y == (102.0, 106.0, None, 100.5, 103.5, None, 99.0, 106.0,
                                           None)
    assert trace(figure, "interval").connectgaps is False


def test_points_alone_make_no_line() -> None:
    """Without a fitted line nothing is drawn from dot to dot."""
    assert {part.mode for part in course(POINTS, "Ah").data if "point" in part.uid} == {"markers"}
    assert not [part for part in course(POINTS, "Ah").data if part.uid in ("middle", "ahead")]


def test_a_line_comes_with_its_band_and_is_dotted_ahead() -> None:
    """The solid part ends with what was seen; the dotted part joins it there."""
    figure = course(POINTS, "Ah", LINE)

    assert trace(figure, "band").fill == "toself"
    assert trace(figure, "middle").x[-1] == trace(figure, "ahead").x[0] == LINE.moment_s[2]
    assert trace(figure, "ahead").line.dash == "dot"
    assert trace(figure, "ahead").x[-1] == LINE.moment_s[-1]


def test_the_level_is_in_sight() -> None:
    """80 percent of new widens the scale as far as itself."""
    figure = course(POINTS, "Ah", reference=Reference(84.0, "80 % of rated"))

    assert figure.layout.yaxis.range[0] < 84.0
    assert trace(figure, "reference").line.dash == "dash"


@pytest.mark.parametrize(("days", "labels"), [
    (10, ("Apr 2026",)), (100, ("Apr 2026", "May", "Jun", "Jul")),
    (400, ("Apr 2026", "Jul", "Oct", "Jan 2027", "Apr")),
])
def test_the_axis_names_months(days: int, labels: tuple[str, ...]) -> None:
    """The first of months, fewer where there are many; the year where it changes."""
    axis = month_axis(APRIL_S, APRIL_S + days * DAY_S)

    assert axis.labels == labels
    assert axis.ticks_s[0] == APRIL_S
    assert axis.start_s < APRIL_S < axis.end_s


@pytest.mark.parametrize("years", [3, 30, 300])
def test_long_courses_have_few_labels(years: int) -> None:
    """Whatever the span, labels never touch."""
    assert len(month_axis(APRIL_S, APRIL_S + years * 365 * DAY_S).labels) <= max(
        LABELS_MAX, years // 10 + 1)


def test_no_points_are_still_a_picture() -> None:
    """Empty paper."""
    figure = course([], "Ah")

    assert figure.layout.yaxis.range[0] < figure.layout.yaxis.range[1]
    assert {part.uid for part in figure.data} <= set(ANSWER_ROLES)
