"""The small current line of a list row."""

from __future__ import annotations

from urllib.parse import unquote

import pytest

from dashboard.figures.spark import EDGE, HEIGHT, mask, zero_level


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
