"""The small current line of a list row."""

from __future__ import annotations

from urllib.parse import unquote

import numpy as np
import pytest

from dashboard.figures.spark import COLUMNS, EDGE, HEIGHT, mask, small_line, zero_level
from dashboard.reduce import Channel, TimeAxis


def amps(values: np.ndarray, elapsed_s: np.ndarray) -> Channel:
    breaks = np.flatnonzero(np.diff(elapsed_s) > 5) + 1
    return Channel.on(TimeAxis.of(elapsed_s, breaks), values)


def test_peaks_and_gaps_are_kept() -> None:
    """One spike is in the line; a gap leaves columns empty."""
    elapsed_s = np.append(np.arange(1000.0), 2000.0 + np.arange(1000))
    values = np.full(2000, -20.0)
    values[377] = -212.0

    line = small_line(amps(values, elapsed_s), 0.0, 2999.0)

    assert len(line) == COLUMNS
    assert min(pair[0] for pair in line if pair) == -212.0
    assert line[COLUMNS // 2] is None
    assert line[-1] == [-20.0, -20.0]


def test_zero_lies_between_out_and_in() -> None:
    """The style sheet paints above and below zero differently."""
    assert zero_level([[-30.0, 10.0]]) == pytest.approx((9 + EDGE) / (HEIGHT + 2 * EDGE))
    assert zero_level([[-30.0, -10.0]]) == EDGE / (HEIGHT + 2 * EDGE)
    assert zero_level([None]) == 0.5


def test_the_picture_is_one_closed_address() -> None:
    """The mask is an SVG inside the style, with nothing that could end it early."""
    picture = mask([[-10.0, 5.0], [-10.0, 5.0], None, [0.0, 0.0]])
    inside = picture.removeprefix('url("').removesuffix('")')

    assert '"' not in inside
    assert f"viewBox='0 -{EDGE} 4 {HEIGHT + 2 * EDGE}'" in unquote(inside)
    assert "d='M0 0h2v36h-2zM3 12h1v0h-1z'" in unquote(inside)
