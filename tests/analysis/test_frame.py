"""Telemetry goes into a DataFrame and comes back unchanged."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pandas as pd
import pytest

from analysis.frame import frame_of, telemetry_of
from analysis.telemetry import Telemetry

START = datetime(2026, 4, 2, 8, 15, tzinfo=UTC)


def telemetry() -> Telemetry:
    return Telemetry(START, np.array([0.0, 1.0, 2.5]),
                     {"current_a": np.array([-1.5, np.nan, 3.0]),
                      "cell_01_v": np.array([3.3, 3.31, 3.32])})


def test_there_and_back_is_the_same() -> None:
    """Times, columns and missing figures survive the round trip."""
    back = telemetry_of(frame_of(telemetry()))

    assert back.start == START
    assert back.elapsed_s.tolist() == [0.0, 1.0, 2.5]
    np.testing.assert_array_equal(back["current_a"], telemetry()["current_a"])
    assert back.cells == ["cell_01_v"]


def test_a_frame_can_be_changed_without_changing_the_log() -> None:
    """The frame holds copies."""
    log = telemetry()
    frame = frame_of(log)
    frame.loc[:, "cell_01_v"] = 0.0

    assert log["cell_01_v"].tolist() == [3.3, 3.31, 3.32]


def test_times_without_a_zone_are_utc() -> None:
    """What a notebook reads from a bare file has no zone."""
    index = pd.date_range("2026-04-02 08:15", periods=2, freq="s")

    assert telemetry_of(pd.DataFrame({"voltage_v": [52.0, 52.1]}, index=index)).start == START


@pytest.mark.parametrize(("index", "match"), [
    ([1, 2], "must be times"),
    (pd.to_datetime(["2026-04-02 08:15:01", "2026-04-02 08:15:00"]), "increase strictly"),
    (pd.to_datetime(["2026-04-02 08:15:00", "2026-04-02 08:15:00"]), "increase strictly"),
], ids=["numbers", "backwards", "twice"])
def test_times_that_do_not_increase_are_refused(index: object, match: str) -> None:
    """Nothing can be integrated over time that stands still or runs backwards."""
    with pytest.raises(ValueError, match=match):
        telemetry_of(pd.DataFrame({"voltage_v": [52.0, 52.1]}, index=index))


def test_an_unknown_column_is_refused() -> None:
    """A column has a name from the vocabulary, so that its unit is known."""
    index = pd.date_range("2026-04-02", periods=1, freq="s")

    with pytest.raises(KeyError, match="Strom"):
        telemetry_of(pd.DataFrame({"Strom": [1.0]}, index=index))
