"""Charge between anchors, joined across logs."""

from __future__ import annotations

import pytest

from analysis.season.spans import find_spans
from tests.analysis.made_packs import (
    CAPACITY_AH,
    charged_full,
    digest,
    later,
    run_empty,
    steady,
    telemetry,
)


def test_full_to_empty_in_one_go_is_a_test() -> None:
    """A full charge and a steady discharge to empty give the capacity."""
    (span,) = find_spans([charged_full(), run_empty()])

    assert span.method == "full test"
    assert span.at_reference_ah == pytest.approx(CAPACITY_AH, rel=0.005)
    assert 0.3 < span.sd_ah < 1.0


def test_zero_error_is_taken_off() -> None:
    """Amps that read 0.35 too high at rest give the same capacity."""
    (span,) = find_spans([charged_full(zero_a=0.35), run_empty(zero_a=0.35),
                          charged_full(24, zero_a=0.35, left=0.5)])[:1]

    assert span.at_reference_ah == pytest.approx(CAPACITY_AH, rel=0.005)


def test_two_mid_range_points_give_nothing() -> None:
    """Logs that end on the flat of the curve make no span, however much was counted."""
    half = digest(telemetry(steady(-25.0, 2.0), 0.9))

    assert find_spans([half, later(half, 12)]) == ()


def test_low_to_full_uses_the_packs_own_curve() -> None:
    """What was left at a low rest is learnt from the pack's own discharge to empty.

    From 5 % left to full are 95 Ah; with what is left the capacity comes out.
    """
    low = digest(telemetry(steady(-25.0, 0.2), 0.10), "low")
    spans = find_spans([low, charged_full(2, left=0.05), run_empty(10)])

    assert [span.method for span in spans] == ["low to full", "full test"]
    assert spans[0].charge_ah == pytest.approx(95.0, abs=0.3)
    assert spans[0].at_reference_ah == pytest.approx(CAPACITY_AH, abs=1.0)


def test_a_rest_near_empty_does_not_stand_in_for_empty() -> None:
    """Where the pack runs empty after a low rest, the count to empty is taken whole."""
    low = digest(telemetry(steady(-25.0, 3.76), 1.0, hours=4), "low")
    empty = digest(telemetry(steady(-25.0, 0.24), 0.06, hours=9), "empty")

    (span,) = find_spans([charged_full(), low, empty])

    assert span.method == "full to empty"
    assert span.share == 1.0
    assert span.at_reference_ah == pytest.approx(CAPACITY_AH, rel=0.01)


def test_without_an_own_curve_low_is_known_less_well() -> None:
    """A general curve gives the same capacity with a wider error."""
    low = digest(telemetry(steady(-25.0, 0.2), 0.10), "low")
    own = find_spans([low, charged_full(2, left=0.05), run_empty(10)])[0]
    (general,) = find_spans([low, charged_full(2, left=0.05)])

    assert general.sd_ah > 1.5 * own.sd_ah
    assert abs(general.at_reference_ah - CAPACITY_AH) < 2 * general.sd_ah


def test_cold_counts_against_capacity() -> None:
    """At 5 degC a pack gives less; brought to 20 degC the capacity is larger and less certain."""
    (warm,) = find_spans([charged_full(), run_empty()])
    (cold,) = find_spans([charged_full(), run_empty(temp_c=0.0)])

    assert cold.at_reference_ah > warm.at_reference_ah + 2
    assert cold.sd_ah > warm.sd_ah


def test_days_that_nobody_saw_end_a_span() -> None:
    """A test a week after the full charge is not counted from it."""
    assert find_spans([charged_full(), run_empty(hours=7 * 24)]) == ()
