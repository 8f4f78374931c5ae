"""Capacity from spans with errors in both variables."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar

from analysis.estimate import Estimate, NoEstimate
from analysis.one_log.charge import Instrument
from analysis.season.capacity import capacity_from_spans, proportional_fit
from analysis.telemetry import Floats

#: A small fixed case; its total least squares was found independently by numeric minimisation.
SHARE = np.array([0.40, -0.35, 0.50, -0.45, 0.30])
CHARGE = np.array([41.0, -34.0, 50.5, -44.0, 31.0])


def alike(value: float, count: int = 5) -> Floats:
    return np.full(count, value)


def test_fixed_pairs_give_the_total_least_squares() -> None:
    """Five pairs give 100.2227 Ah: not the plain 100.1818, nor the inverse 100.2329."""
    found = capacity_from_spans(SHARE, CHARGE, alike(0.01), alike(0.5))

    assert isinstance(found, Estimate)
    assert found.value == pytest.approx(100.222725, abs=2e-6)
    assert found.low < 100.2 < found.high


def test_closed_form_is_the_minimum() -> None:
    """The closed form for proportional errors (Plett 2011) is where scipy finds the minimum."""
    def misfit(q: float) -> float:
        return float(np.sum((CHARGE - q * SHARE) ** 2 / (0.5**2 + (q * 0.01) ** 2)))

    least = minimize_scalar(misfit, bounds=(50, 200), method="bounded",
                            options={"xatol": 1e-10})

    assert proportional_fit(SHARE, CHARGE, 0.02) == pytest.approx(least.x, rel=1e-6)


def test_interval_ends_where_the_misfit_has_risen_by_the_chi_square_point() -> None:
    """Both ends are roots of chi2(Q) = least + 3.84."""
    found = capacity_from_spans(SHARE, CHARGE, alike(0.01), alike(0.5))
    assert isinstance(found, Estimate)

    def misfit(q: float) -> float:
        return float(np.sum((CHARGE - q * SHARE) ** 2 / (0.5**2 + (q * 0.01) ** 2)))

    assert misfit(found.low) - misfit(found.value) == pytest.approx(3.8415, abs=1e-3)
    assert misfit(found.high) - misfit(found.value) == pytest.approx(3.8415, abs=1e-3)


def test_short_spans_do_not_bias_the_capacity() -> None:
    """Thousand pairs of 0.1 with ends known to 2 % give 100 Ah, where a plain slope loses 4 %.

    The plain regression's limit is ``Q E x^2 / (E x^2 + s_x^2)`` (Plett 2011).
    """
    rng = np.random.default_rng(3)
    share = rng.choice([-0.1, 0.1], 1000)
    seen = share + rng.normal(0, 0.02, 1000)
    charge = 100 * share + rng.normal(0, 0.2, 1000)

    found = capacity_from_spans(seen, charge, alike(0.02, 1000), alike(0.2, 1000))

    assert isinstance(found, Estimate)
    assert found.low < 100 < found.high
    assert found.value == pytest.approx(100, rel=0.01)
    assert float(seen @ charge / (seen @ seen)) == pytest.approx(100 / 1.04, rel=0.01)


def test_interval_holds_the_truth_as_often_as_it_says() -> None:
    """With three spans of 0.6 the 95 % interval holds the truth in 92 to 98 %, error 1 % at most.

    """
    rng = np.random.default_rng(4)
    held, errors = 0, []
    for _ in range(400):
        seen = 0.6 + rng.normal(0, np.sqrt(2) * 0.005, 3)
        found = capacity_from_spans(seen, 60 + rng.normal(0, 0.2, 3), alike(0.00707, 3),
                                    alike(0.2, 3))
        assert isinstance(found, Estimate)
        held += found.low <= 100 <= found.high
        errors.append(found.value - 100)

    assert 0.92 <= held / 400 <= 0.98
    assert np.sqrt(np.mean(np.square(errors))) < 1.0


@given(scale=st.floats(0.5, 400), direction=st.sampled_from([-1.0, 1.0]))
@settings(derandomize=True, deadline=None, max_examples=50)
def test_capacity_scales_with_the_amps(scale: float, direction: float) -> None:
    """Twice the amp-hours, twice the capacity; turned signs of both change nothing."""
    one = capacity_from_spans(SHARE, CHARGE, alike(0.01), alike(0.5))
    other = capacity_from_spans(direction * SHARE, direction * scale * CHARGE, alike(0.01),
                                alike(0.5 * scale))

    assert isinstance(one, Estimate)
    assert isinstance(other, Estimate)
    assert (other.value, other.low, other.high) == pytest.approx(
        (scale * one.value, scale * one.low, scale * one.high), rel=1e-6)


def test_gain_of_the_meter_goes_in_whole() -> None:
    """A gain error is the same in every span: many spans do not make it smaller."""
    many = capacity_from_spans(alike(1.0, 400), alike(100.0, 400), alike(0.004, 400),
                               alike(0.2, 400), instrument=Instrument(gain=0.01))

    assert isinstance(many, Estimate)
    assert many.half_width > 100 * 0.01 / 3**0.5 * 2 - 0.01


def test_short_spans_with_poor_ends_are_refused() -> None:
    """One span of 0.1 with ends known to 2 % gives a refusal, with what to do."""
    found = capacity_from_spans(alike(0.1, 1), alike(10.0, 1), alike(0.03, 1), alike(0.2, 1))

    assert isinstance(found, NoEstimate)
    assert "fill fully" in found.next


def test_no_span_is_refused() -> None:
    """Without spans there is no capacity."""
    assert isinstance(capacity_from_spans(*(np.empty(0),) * 4), NoEstimate)
