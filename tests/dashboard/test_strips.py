"""The sheet of strips as a plotly figure."""

from __future__ import annotations

import base64
from datetime import UTC, datetime
from itertools import pairwise

import numpy as np
import pytest

from analysis.timebase import Gap
from dashboard.figures.strips import (
    LANES,
    ago_axis,
    clock_axis,
    config,
    domains,
    lanes_of,
    packed,
    span_of,
    strips,
)
from dashboard.reduce import Curve
from dashboard.theme import TRACE_ROLES

NINE = datetime(2026, 4, 2, 9, 0, 30, tzinfo=UTC)


def curve(*values: float) -> Curve:
    return Curve(np.arange(float(len(values))), np.array(values, np.float32))


def test_only_lanes_with_figures_are_drawn() -> None:
    """A log without cells has no cells lane, and no empty axis."""
    figure = strips({"volts": curve(52, 53), "percent": curve(80, 79)}, ago_axis(60))

    assert [lane.name for lane in lanes_of(["volts", "percent"])] == ["volts", "percent"]
    assert [trace.yaxis for trace in figure.data] == ["y", "y2"]
    assert [trace.uid for trace in figure.data] == ["volts", "percent"]


def test_every_trace_of_every_lane_has_a_colour() -> None:
    """The style sheet paints traces by their role."""
    assert {trace for lane in LANES for trace in lane.traces} == set(TRACE_ROLES)


def test_no_line_bridges_a_gap_by_itself() -> None:
    """plotly must not connect what the curves leave apart."""
    figure = strips({"volts": curve(52, np.nan, 53)}, ago_axis(60))

    assert all(trace.connectgaps is False for trace in figure.data)


@pytest.mark.parametrize("count", [1, 3, len(LANES)])
def test_lanes_fill_the_sheet_without_touching(count: int) -> None:
    """From the top down, each lane below the last, within the sheet."""
    found = domains(LANES[:count])

    assert all(low < high for low, high in found)
    assert all(below[1] < above[0] for above, below in pairwise(found))
    assert found[-1][0] == pytest.approx(0.0, abs=1e-5)
    assert found[0][1] < 1.0


@pytest.mark.parametrize(("span_s", "labels"), [
    (3600.0, ("09:15", "09:30", "09:45", "10:00")),
    (60.0, ("09:00:30", "09:00:45", "09:01:00", "09:01:15", "09:01:30")),
])
def test_times_are_round_clock_times(span_s: float, labels: tuple[str, ...]) -> None:
    """Labels stand at round times of the person's clock, not of the log."""
    axis = clock_axis(NINE, 0.0, span_s)

    assert axis.labels == labels
    assert len(axis.ticks_s) == len(labels)
    assert all(0 <= s <= span_s for s in axis.ticks_s)


def test_a_live_axis_ends_now() -> None:
    """Minutes count back from the right edge."""
    axis = ago_axis(300.0)

    assert axis.labels == ("5 min ago", "4", "3", "2", "1", "now")
    assert axis.ticks_s[-1] == axis.end_s == 0.0


@pytest.mark.parametrize("lane", LANES, ids=lambda lane: lane.name)
def test_a_scale_holds_its_line_with_room(lane: object) -> None:
    """The line never touches the lane's edges, and a flat line is not blown up to noise."""
    low, high = span_of(lane, {lane.traces[0]: curve(3.0, 3.001)})  # type: ignore[attr-defined]

    assert low < 3.0
    assert high > 3.001
    assert high - low >= lane.span_min  # type: ignore[attr-defined]


def test_gaps_and_marks_are_drawn() -> None:
    """A gap that can be seen is a shaded stretch over all lanes, a mark a named line."""
    figure = strips({"volts": curve(52, 53)}, ago_axis(60),
                    gaps=[Gap(-40.0, -20.0, "silent"), Gap(-15.0, -14.9, "too short to see"),
                          Gap(-90.0, -70.0, "before the view")], marks=[(-10.0, "mark 1")])

    shade, flag = figure.layout.shapes
    assert (shade.type, shade.x0, shade.x1, shade.yref) == ("rect", -40.0, -20.0, "paper")
    assert (flag.type, flag.x0) == ("line", -10.0)
    assert [note.text for note in figure.layout.annotations] == ["mark 1"]


@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_packed_arrays_read_back(kind: type) -> None:
    """Base64 arrays hold the same figures, gaps included."""
    values = np.array([1.5, np.nan, -3.25], kind)
    box = packed(values)

    back = np.frombuffer(base64.b64decode(box["bdata"]), f"<{box['dtype']}")
    assert np.array_equal(back, values, equal_nan=True)


def test_no_graph_can_send_data_away() -> None:
    """The library's share button and its address are off."""
    assert config()["showSendToCloud"] is False
    assert config()["plotlyServerURL"] == ""
    assert config()["displayModeBar"] is False
