"""Steps and offsets without the noise of binary fractions."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.frames.scaling import Scaling


@settings(derandomize=True, deadline=None)
@given(raw=st.integers(-(1 << 31), 1 << 32),
       scale=st.sampled_from([0.001, 0.01, 0.1, 0.25, 1, 10, -0.1, 0.0078125]),
       offset=st.sampled_from([0, -40, 1.7, -273.15]))
def test_a_figure_is_the_nearest_to_the_exact_decimal(
    raw: int, scale: float, offset: float,
) -> None:
    """raw x scale + offset equals what exact decimal arithmetic gives, rounded once."""
    exact = raw * Decimal(str(scale)) + Decimal(str(offset))

    assert Scaling.of(scale, offset).apply(raw) == float(exact)


def test_three_steps_of_a_tenth_are_three_tenths() -> None:
    """The journal shows 0.3 and not 0.30000000000000004."""
    assert repr(Scaling.of(0.1, 0).apply(3)) == "0.3"


def test_undo_finds_the_raw_number() -> None:
    """Undoing a figure gives the number of steps."""
    assert Scaling.of(0.01, -40).undo(-39.5) == pytest.approx(50, abs=1e-9)
