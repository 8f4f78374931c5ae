"""What holds for every test."""

from __future__ import annotations

import pytest

from analysis.local_days import tell_days_in


@pytest.fixture(autouse=True)
def _days_of_utc() -> None:
    """Days are those of UTC again, whichever logbook the test before had opened."""
    tell_days_in("UTC")
