"""A dragging brake against a heavy load, a wind and a new controller."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.season.drag import LogCoasting, coasting_digest, find_drag
from analysis.telemetry import Telemetry
from tests.analysis.made_logs import log


def coast(slowing_m_s2: float, speed_m_s: float = 4.0) -> Telemetry:
    """Pull up, roll out, ten times; 50 V."""
    up = np.linspace(0, speed_m_s, 20)
    down = np.arange(speed_m_s, 0, -slowing_m_s2)
    speed = np.tile(np.concatenate([up, np.full(30, speed_m_s), down, np.zeros(30)]), 10)
    amps = np.tile(np.concatenate([np.full(20, -60.0), np.full(30, -20.0), np.zeros(len(down)),
                                   np.zeros(30)]), 10)
    return log(np.arange(float(len(speed))), speed_m_s=speed, current_a=amps,
               voltage_v=np.full(len(speed), 50.0))


def days(*logs: tuple[float, float]) -> list[tuple[float, LogCoasting]]:
    """Consumption and slowing, a day apart."""
    return [(86400.0 * n, LogCoasting(wh, slow, 5)) for n, (wh, slow) in enumerate(logs)]


USUAL = [(90.0 + 2 * (-1) ** n, 0.155 + 0.002 * (-1) ** n) for n in range(10)]


@pytest.mark.parametrize("slowing", [0.15, 0.22])
def test_slowing_is_read_off_the_coast_downs(slowing: float) -> None:
    """Speed over time while no amps flow."""
    digest = coasting_digest(coast(slowing))

    assert digest.coasts == 10
    assert digest.slowing_m_s2 == pytest.approx(slowing, rel=0.05)


def test_more_energy_and_shorter_coast_down_is_dragging() -> None:
    """+17 % energy, slowing 1.4 times as fast, for three days."""
    (found,) = find_drag(days(*USUAL, (105.0, 0.221), (106.0, 0.222), (105.0, 0.22), *USUAL[:2]))

    assert (found.kind, found.verdict) == ("dragging", "yes")
    assert (found.start_s, found.end_s) == (10 * 86400.0, 12 * 86400.0)
    assert found.size.value == pytest.approx(17, abs=2)  # type: ignore[union-attr]


@pytest.mark.parametrize("wh", [101.0, 128.0, 68.0])
def test_energy_alone_is_a_load_a_wind_or_a_controller(wh: float) -> None:
    """Coast-downs as ever: nothing drags."""
    assert find_drag(days(*USUAL, (wh, 0.155), (wh, 0.156))) == []


def test_a_shorter_coast_down_alone_is_not_sure() -> None:
    """Someone may have braked."""
    (found,) = find_drag(days(*USUAL, (90.0, 0.22)))

    assert found.verdict == "cannot tell yet"


def test_too_little_history_says_nothing() -> None:
    """Four drives make no usual."""
    assert find_drag(days(*USUAL[:4], (105.0, 0.221))) == []


def test_a_boat_has_no_coast_downs_on_wheels() -> None:
    """Without speed there is nothing to tell."""
    assert coasting_digest(log([0.0, 1.0], current_a=np.zeros(2))).coasts == 0
