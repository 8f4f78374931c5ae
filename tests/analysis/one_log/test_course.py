"""The course of a log's amps for a list."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.one_log.course import COLUMNS, course_digest
from analysis.stored import as_plain, from_plain
from analysis.telemetry import Telemetry

START = datetime(2026, 4, 2, 8, tzinfo=UTC)


def telemetry(elapsed_s: np.ndarray, amps: np.ndarray) -> Telemetry:
    return Telemetry(START, elapsed_s, {"current_a": amps})


def test_peaks_and_gaps_are_kept() -> None:
    """One spike is in the course; a gap and missing figures leave columns empty."""
    elapsed_s = np.append(np.arange(1000.0), 2000.0 + np.arange(1000))
    values = np.full(2000, -20.0)
    values[377] = -212.0
    values[-200:-100] = np.nan

    found = course_digest(telemetry(elapsed_s, values)).ends_a

    assert len(found) == COLUMNS
    assert min(pair[0] for pair in found if pair) == -212.0
    assert found[COLUMNS // 2] is None
    assert found[-5] is None
    assert found[-1] == (-20.0, -20.0)


def test_without_amps_there_is_none() -> None:
    """Nothing is drawn for a log whose amps, or their sign, nobody knows."""
    assert course_digest(telemetry(np.arange(5.0), np.full(5, np.nan))).ends_a == ()


@settings(derandomize=True, max_examples=50)
@given(st.lists(st.floats(-300, 300), min_size=1, max_size=400))
def test_both_ends_of_the_amps_are_in_it(values: list[float]) -> None:
    """However long the log, the course reaches as far as the amps did; kept it is the same."""
    amps = np.array(values)
    found = course_digest(telemetry(np.arange(float(len(amps))), amps))
    ends = [end for pair in found.ends_a if pair for end in pair]

    assert (min(ends), max(ends)) == (round(float(amps.min()), 1), round(float(amps.max()), 1))
    assert from_plain(type(found), as_plain(found)) == found
