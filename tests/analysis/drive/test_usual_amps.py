"""The amps a person usually sees: by time, not by sample, gaps left out."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from analysis.drive.usual_amps import UsualAmps, usual_amps
from analysis.estimate import NoEstimate
from analysis.telemetry import Telemetry

START = datetime(2026, 4, 2, tzinfo=UTC)


def drive(out_a: np.ndarray, elapsed_s: np.ndarray | None = None) -> Telemetry:
    times = np.arange(len(out_a), dtype=float) if elapsed_s is None else elapsed_s
    return Telemetry(START, times, {"current_a": -np.asarray(out_a, dtype=float)})


def found(*drives: Telemetry) -> UsualAmps:
    answer = usual_amps(drives)
    assert isinstance(answer, UsualAmps)
    return answer


def test_half_of_the_driving_is_below_the_usual() -> None:
    """600 s at 30 A, 300 s at 60 A, 30 s at 90 A: usual 30, hard 60, most 90; standing is none."""
    answer = found(drive(np.repeat([30.0, 60.0, 90.0, 0.0], [600, 300, 30, 5000])))

    assert (answer.usual_a, answer.hard_a, answer.most_a) == (30.0, 60.0, 90.0)
    assert answer.driving_s == pytest.approx(930, abs=2)


def test_two_drives_count_by_their_time() -> None:
    """A long easy drive outweighs a short hard one."""
    answer = found(drive(np.full(1000, 20.0)), drive(np.full(100, 80.0)))

    assert (answer.usual_a, answer.drives) == (20.0, 2)


def test_a_quicker_log_weighs_no_more() -> None:
    """Ten samples a second for 100 s are still 100 s."""
    answer = found(drive(np.full(400, 20.0)),
                   drive(np.full(3000, 80.0), np.arange(3000) / 10))

    assert answer.usual_a == 20.0


def test_missing_figures_and_charging_count_for_nothing() -> None:
    """NaN and amps into the pack are no driving."""
    amps = np.concatenate([np.full(400, 20.0), np.full(900, np.nan), np.full(900, -50.0)])

    assert found(drive(amps)).driving_s == pytest.approx(400, abs=2)


@pytest.mark.parametrize("drives", [[], [Telemetry(START, np.arange(9.0), {})],
                                    [drive(np.full(100, 20.0))]])
def test_too_little_driving_tells_nothing(drives: list[Telemetry]) -> None:
    """Less than five minutes are no habit; a log without amps neither."""
    assert isinstance(usual_amps(drives), NoEstimate)
