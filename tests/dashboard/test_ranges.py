"""Rows with a dot and its range, as a plotly figure."""

from __future__ import annotations

import math

import plotly.graph_objects as go
import pytest

from dashboard.figures.ranges import (
    ROW_PX,
    Ranged,
    Reference,
    by_value,
    extent,
    height_px,
    ranges,
)
from dashboard.theme import ANSWER_ROLES, stylesheet

ROWS = [Ranged("cell 6", 38.0, 31.0, 45.0, is_told=True), Ranged("cell 11", 8.0, 6.0, 11.0),
        Ranged("cell 3", math.nan, math.nan, math.nan)]


def trace(figure: go.Figure, name: str) -> go.Scatter:
    return next(part for part in figure.data if part.uid == name)


def test_each_row_has_its_dot_on_its_line() -> None:
    """The first row is on top; the dot lies on the line from the lower to the upper end."""
    figure = ranges(ROWS, "mV")

    assert trace(figure, "range-told").x == (31.0, 45.0, None)
    assert trace(figure, "dot-told").x == (38.0,)
    assert trace(figure, "dot-told").y == (0,)
    assert trace(figure, "dot").y == (1,)
    assert figure.layout.yaxis.range[0] > figure.layout.yaxis.range[1]
    assert list(figure.layout.yaxis.ticktext) == ["cell 6", "cell 11", "cell 3"]


def test_what_is_not_known_stays_blank() -> None:
    """A row without a figure keeps its label, and neither dot nor line."""
    figure = ranges(ROWS, "mV")
    drawn = [y for part in figure.data for y in part.y if y is not None]

    assert sorted(drawn) == [0, 0, 0, 1, 1, 1]
    assert len(figure.layout.yaxis.tickvals) == 3


def test_no_line_joins_two_rows() -> None:
    """Each range ends before the next begins."""
    figure = ranges(ROWS[1:2] * 2, "mV")

    assert trace(figure, "range").x == (6.0, 11.0, None, 6.0, 11.0, None)
    assert trace(figure, "range").connectgaps is False


def test_the_reference_is_a_dashed_line_within_the_scale() -> None:
    """What the figures are held against is named, and always in sight."""
    figure = ranges(ROWS, "mV", Reference(60.0, "limit <b>x</b>"))

    assert trace(figure, "reference").line.dash == "dash"
    assert figure.layout.xaxis.range[1] > 60.0
    assert trace(figure, "reference-name").text == ("limit &lt;b&gt;x&lt;/b&gt;",)


def test_labels_never_become_markup() -> None:
    """plotly reads a few tags; a label from a file is taken apart first, and kept short."""
    figure = ranges([Ranged("<a href='x'>joint</a>", 1.0, 0.9, 1.1),
                     Ranged("word " * 40, 1.0, 0.9, 1.1)], "mV")
    first, second = figure.layout.yaxis.ticktext

    assert "<a" not in first
    assert second.count("<br>") == 1
    assert second.endswith("…")


def test_sorting_puts_the_largest_first_and_the_unknown_last() -> None:
    """By the figure, or by its size."""
    rows = [ROWS[2], Ranged("low", -50.0, -60.0, -40.0), ROWS[1]]

    assert [row.label for row in by_value(rows)] == ["cell 11", "low", "cell 3"]
    assert [row.label for row in by_value(rows, abs)] == ["low", "cell 11", "cell 3"]


@pytest.mark.parametrize("rows", [[], ROWS[2:], [Ranged("one", 0.0, 0.0, 0.0)]])
def test_nothing_known_is_still_a_picture(rows: list[Ranged]) -> None:
    """Empty paper, a scale of some width."""
    low, high = extent(rows, None)

    assert low < high
    assert ranges(rows, "mV").layout.xaxis.range == (low, high)


def test_height_grows_with_the_rows() -> None:
    """Each row has the same room."""
    assert height_px(ROWS) - height_px(ROWS[:1]) == 2 * ROW_PX


def test_the_style_sheet_paints_lines_and_points_of_answers() -> None:
    """Every trace of an answer's picture follows the theme; hollow points are paper inside."""
    sheet = stylesheet()

    assert {part.uid for part in ranges(ROWS, "mV", Reference(1.0, "x")).data} - {
        "reference-name"} <= set(ANSWER_ROLES)
    assert ".trace" + "dot-told .point{fill:var(--lowest)!important" in sheet
    assert ".trace" + "open-point .point{fill:var(--paper)!important" in sheet


@pytest.mark.parametrize(("value", "side"), [(0.0, "left"), (-10.0, "right"), (-5.0, "center")])
def test_the_name_of_a_reference_stays_on_the_paper(value: float, side: str) -> None:
    """Near an end of the scale it is written towards the middle."""
    figure = ranges([Ranged("a", -10.0, -10.0, -10.0), Ranged("b", 0.0, 0.0, 0.0)], "%",
                    Reference(value, "no change"))
    name = next(trace for trace in figure.data if trace.name == "reference-name")

    assert name.textposition == f"top {side}"
