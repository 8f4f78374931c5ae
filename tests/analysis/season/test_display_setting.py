"""The day somebody changed the display's capacity setting."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.season.display_setting import setting_steps
from analysis.season.percent_jumps import ClassedJump, LogPercent

DAY_S = 86400.0


def percents(*settings: tuple[float, int], sd: float = 0.1) -> list[tuple[float, LogPercent]]:
    rng = np.random.default_rng(1)
    slopes = [ah + sd * rng.normal() for ah, count in settings for _ in range(count)]
    return [(day * DAY_S, LogPercent(1.0, (), slope, sd, 0.003, 20.0))
            for day, slope in enumerate(slopes)]


def test_step_is_found_with_its_ratio() -> None:
    """105 to 100 Ah on day 30 is a ratio of 1.05."""
    (step,) = setting_steps(percents((105.0, 30), (100.0, 20)))

    assert step.moment_s == 30 * DAY_S
    assert step.ratio == pytest.approx(1.05, abs=0.003)
    assert not step.is_seen


def test_the_jump_gives_the_moment() -> None:
    """A jump by the same ratio in between dates the step to the second."""
    logs = percents((105.0, 30), (100.0, 20))
    jump = ClassedJump("setting", 600.0, 92.0, 97.0, 0.0, 3.33)
    logs[30] = (logs[30][0], LogPercent(1.0, (jump,), 102.0, 2.0, 0.06, 19.0))

    (step,) = setting_steps(logs)

    assert step.moment_s == 30 * DAY_S + 600.0
    assert step.is_seen


def test_scatter_is_no_step() -> None:
    """Slopes that scatter by half a percent change nothing."""
    assert setting_steps(percents((105.0, 60), sd=0.5)) == ()


def test_no_percent_no_step() -> None:
    """Logs without a slope are passed over."""
    nothing = LogPercent(np.nan, (), np.nan, np.nan, np.nan, 0.0)
    assert setting_steps([(0.0, nothing)] * 20) == ()
