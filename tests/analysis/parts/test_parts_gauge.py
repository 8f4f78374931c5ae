"""Old volt gauges on an iron-phosphate pack."""

from __future__ import annotations

import pytest

from analysis.parts.gauge import Gauge, judge_gauge, shown_pct
from analysis.parts.iron_phosphate import rest_cell_v
from tests.analysis.made_parts import asked, flatbed_pack


def test_a_lead_gauge_reads_full_until_the_end() -> None:
    """At 20 % of a 16-cell pack the needle of a 48 V lead gauge still stands at full."""
    judged = judge_gauge(Gauge("x", lead_cells=24), flatbed_pack())

    assert judged.verdict == "no"
    lines = judged.checks[0].arithmetic
    assert sum("100 % at 77.0 A" in line for line in lines) == 3
    assert sum("resting, the needle shows 100 %" in line for line in lines) == 3


def test_a_scale_without_its_volts_cannot_be_judged() -> None:
    """One end alone is no scale."""
    assert judge_gauge(Gauge("x", full_v=50.6), flatbed_pack()).verdict == "cannot tell yet"


def test_no_scale_helps_against_sag() -> None:
    """A scale drawn for this very curve fits at rest; the amps of the ramp then move the needle."""
    low, high = (16 * rest_cell_v(pct) for pct in (20.0, 90.0))
    # 28 % at 20 and 80.02 % at 90 keeps the middle within ten points.
    slope = (high - low) / 52.02
    drawn = Gauge("x", empty_v=low - 28 * slope, full_v=high + 19.98 * slope)
    at_rest, loaded = (judge_gauge(drawn, flatbed_pack(rms_10_s_a=amps)).checks[0]
                       for amps in (None, 77.0))

    assert at_rest.verdict == "cannot tell yet"
    assert loaded.verdict == "no"
    # 77 A x 16 mohm = 1.23 V, at 28.6 mV a point 43 points.
    assert "the needle shows 60 %, 17 % at 77.0 A" in loaded.arithmetic[2]


def test_the_gauge_must_stand_the_volts() -> None:
    """A 55 V movement on 58.4 V."""
    judged = judge_gauge(Gauge("x", lead_cells=24, max_v=55.0), flatbed_pack())

    assert asked(judged, "stand").verdict == "no"


@pytest.mark.parametrize(("volts", "percent"), [(40.0, 0.0), (48.0, 0.0), (49.0, 50.0),
                                                (50.0, 100.0), (60.0, 100.0)])
def test_the_needle_stops_at_its_ends(volts: float, percent: float) -> None:
    """A scale from 48 to 50 V."""
    assert shown_pct(volts, (48.0, 50.0)) == pytest.approx(percent)
