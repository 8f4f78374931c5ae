"""One-pole filters, against their recursion and an outside library."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import lfilter

from analysis.one_log.one_pole import high_pass, one_pole


@settings(derandomize=True)
@given(drive=st.lists(st.floats(-500, 500), max_size=60), pole=st.floats(0.05, 0.999))
def test_the_blocks_give_the_recursion(drive: list[float], pole: float) -> None:
    """Worked out in blocks or row by row: the same figures."""
    expected, last = [], 0.0
    for each in drive:
        last = pole * last + each
        expected.append(last)

    assert one_pole(np.array(drive), pole) == pytest.approx(expected, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("time_constant_steps", [1.5, 20.0, 3000.0])
def test_a_long_series_vs_scipy(time_constant_steps: float) -> None:
    """Over many blocks nothing is lost at their joints (scipy.signal.lfilter, the same filter)."""
    values = np.cumsum(np.random.default_rng(1).normal(0, 10, 50_000))
    pole = time_constant_steps / (time_constant_steps + 1)
    expected = lfilter([pole], [1.0, -pole], np.diff(values))

    assert high_pass(values, time_constant_steps) == pytest.approx(expected, rel=1e-9, abs=1e-9)


def test_nothing_in_nothing_out() -> None:
    """A series of one point has no differences."""
    assert high_pass(np.array([3.0]), 20.0).shape == (0,)


def test_each_row_is_filtered_by_itself() -> None:
    """Rows side by side give what each gives alone."""
    rows = np.random.default_rng(2).normal(0, 10, (3, 700))

    together = one_pole(rows, 0.9)

    assert together.shape == rows.shape
    assert [one_pole(row, 0.9).tolist() for row in rows] == together.tolist()
