"""Dated layers over a log's figures."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.one_log.correction import corrected
from tests.analysis.made_logs import log

TEN = np.arange(10.0)


def at(second: int) -> str:
    moment = log(TEN, current_a=TEN).at(second)
    return moment.isoformat()


def layer(kind: str, value: float, begin: int | None = None, end: int | None = None,
          column: str = "current_a") -> dict[str, Any]:
    dates = {name: at(s) for name, s in (("from", begin), ("until", end)) if s is not None}
    return {"kind": kind, "column": column, "value": value} | dates


def test_a_layer_holds_from_its_moment_on() -> None:
    """Zero is added first, then gain multiplied; before the moment nothing changes."""
    raw = log(TEN, current_a=np.full(10, 10.0), voltage_v=np.full(10, 52.0))
    found = corrected(raw, [layer("zero", -0.5, 4), layer("gain", 2.0, 6, 8)])

    assert found["current_a"].tolist() == [10] * 4 + [9.5] * 2 + [19] * 2 + [9.5] * 2
    assert found["voltage_v"] is raw["voltage_v"]
    assert raw["current_a"].tolist() == [10] * 10


def test_the_later_of_two_layers_counts() -> None:
    """A new correction replaces the old one from its day; they do not add up."""
    found = corrected(log(TEN, current_a=np.zeros(10)), [layer("zero", 1), layer("zero", 3, 5)])

    assert found["current_a"].tolist() == [1] * 5 + [3] * 5


def test_missing_stays_missing_and_unknown_layers_change_nothing() -> None:
    """NaN is not corrected into a figure; a kind, column or value from elsewhere is passed over."""
    values = TEN.copy()
    values[3] = np.nan
    strange = [layer("bend", 2), layer("zero", 1, column="soc_pct"), {"kind": "zero"},
               {"kind": "zero", "column": "current_a", "value": "much"}]
    found = corrected(log(TEN, current_a=values), [*strange, layer("zero", 1)])

    assert found["current_a"] == pytest.approx(values + 1, nan_ok=True)
    assert corrected(log(TEN, current_a=values), []).columns.keys() == {"current_a"}


@settings(derandomize=True, max_examples=100)
@given(zero=st.floats(-5, 5), gain=st.floats(0.5, 2), begin=st.integers(0, 9))
def test_a_correction_can_be_worked_back(zero: float, gain: float, begin: int) -> None:
    """The raw figures follow from the corrected ones and the layers."""
    raw = log(TEN, current_a=7 * TEN - 20)
    found = corrected(raw, [layer("zero", -zero, begin), layer("gain", gain, begin)])

    assert found["current_a"][:begin] == pytest.approx(raw["current_a"][:begin])
    assert found["current_a"][begin:] / gain + zero == pytest.approx(raw["current_a"][begin:])


def test_a_wrong_clock_moves_the_whole_log_and_dates_the_others() -> None:
    """A log that begins while the clock was ahead is moved; amps are corrected by true days."""
    raw = log(TEN, current_a=TEN)
    day = {"kind": "zero", "column": "time", "value": -86_400.0, "from": at(0), "until": at(1)}
    truly = {"kind": "zero", "column": "current_a", "value": 5.0,
             "from": (raw.start - timedelta(days=2)).isoformat(),
             "until": (raw.start - timedelta(hours=1)).isoformat()}
    moved = corrected(raw, [truly, day])

    assert moved.start == raw.start - timedelta(days=1)
    assert moved["current_a"].tolist() == (TEN + 5).tolist()
    assert corrected(raw, [day | {"from": at(1), "until": at(2)}]).start == raw.start
