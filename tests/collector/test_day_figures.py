"""A day's figures in the words in which somebody types them."""

from __future__ import annotations

import math
from dataclasses import asdict

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.day_figures import read_day


def told(text: str) -> dict[str, float]:
    return {name: value for name, value in asdict(read_day(text)).items() if not math.isnan(value)}


@pytest.mark.parametrize(("text", "figures"), [
    ("52.4 Ah out, 53 Ah in, 2.71 kWh out, 9.5 km, 41 to 100 %",
     {"out_ah": 52.4, "in_ah": 53.0, "out_wh": 2710.0, "distance_m": 9500.0, "low_pct": 41.0,
      "high_pct": 100.0}),
    ("18 Ah out, 3.5 h, 60-100%", {"out_ah": 18.0, "used_h": 3.5, "low_pct": 60.0,
                                   "high_pct": 100.0}),
    ("out 52 Ah; 6 mi; low 41 %; full", {"out_ah": 52.0, "distance_m": 9656.064, "low_pct": 41.0,
                                         "high_pct": 100.0}),
    ("52,5 Ah out, 9,5 km.", {"out_ah": 52.5, "distance_m": 9500.0})])
def test_words_of_an_evening(text: str, figures: dict[str, float]) -> None:
    """Ah and Wh with their direction, way, hours, percent; a comma may be the decimal mark.
    A mile is 1609.344 m (NIST SP 811, appendix B.8)."""
    assert told(text) == pytest.approx(figures)


@pytest.mark.parametrize(("text", "where"), [
    ("", "no figure"), ("52 Ah", "'52 Ah'"), ("1,950 m", "'1,950 m'"), ("rain", "'rain'"),
    ("41 to 140 %", "'41 to 140 %'"), ("3 km, 4 km", "once more"), ("full, 40 to 90 %", "once")])
def test_what_cannot_be_read_is_refused(text: str, where: str) -> None:
    """A part that is no figure, could be two, or comes twice is named, with what is allowed."""
    with pytest.raises(ValueError, match=where):
        read_day(text)


@settings(derandomize=True)
@given(out=st.floats(0, 400), way=st.floats(0, 300), low=st.integers(0, 100),
       high=st.integers(0, 100))
def test_typed_figures_come_back(out: float, way: float, low: int, high: int) -> None:
    """Whatever order the percent ends come in, low is the lower."""
    figures = read_day(f"{low} to {high} %, {out:.1f} Ah out, {way:.2f} km")

    assert (figures.low_pct, figures.high_pct) == (min(low, high), max(low, high))
    assert figures.out_ah == pytest.approx(out, abs=0.051)
    assert figures.distance_m == pytest.approx(1000 * way, abs=5.1)
