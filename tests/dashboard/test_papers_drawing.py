"""Charts on paper: scales, ticks, and SVG that a parser reads."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dashboard.papers.drawing import Area, Dot, Drawing, Label, Scale, Stroke, as_svg, ticks

SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize(("low", "high", "told"), [
    (0, 10, [0, 2, 4, 6, 8, 10]), (99.2, 107.3, [100, 102, 104, 106]),
    (-70, 4, [-60, -40, -20, 0]), (3.24, 3.36, [3.24, 3.26, 3.28, 3.3, 3.32, 3.34, 3.36]),
])
def test_ticks_are_round(low: float, high: float, told: list[float]) -> None:
    """Steps of 1, 2 or 5 times a power of ten, ends included."""
    assert ticks(low, high) == told


@settings(derandomize=True, max_examples=100)
@given(st.floats(-1e6, 1e6), st.floats(1e-3, 1e6))
def test_ticks_are_few_and_inside(low: float, width: float) -> None:
    """Never more than fit, never outside the axis by more than rounding."""
    found = ticks(low, low + width)

    assert len(found) <= 8
    assert all(low - width * 1e-6 - 1e-9 <= tick <= low + width * (1 + 1e-6) + 1e-9
               for tick in found)


def test_a_scale_is_a_straight_line() -> None:
    """Ends at the ends; upside down where the paper's y runs down."""
    y = Scale(0.0, 10.0, 100.0, 0.0)

    assert (y.at(0), y.at(10), y.at(2.5)) == (100, 0, 75)


def test_svg_is_well_formed_and_described() -> None:
    """Words are escaped, title and description are named by the picture."""
    drawing = Drawing(100, 50, "A & B", "<what> it shows", (
        Stroke(((0, 0), (10.04, -0.04)), is_dashed=True), Area(((0, 0), (1, 1), (2, 0)), "gap"),
        Dot(5, 5), Label(1, 2, "</text><script>", "end")))
    root = ElementTree.fromstring(as_svg(drawing, "c0").replace(
        "<svg ", '<svg xmlns="http://www.w3.org/2000/svg" '))

    assert [child.tag.removeprefix(SVG) for child in root] == [
        "title", "desc", "path", "path", "circle", "text"]
    assert root[0].text == "A & B"
    assert root[2].get("d") == "M0 0L10 0"
    assert root[5].text == "</text><script>"
    assert root.get("aria-labelledby") == "c0-t c0-d"
