"""Amps at the end of an instrument's range; what stands for another reason is left alone.

That volts follow the amps by Ohm's law, and that cells under a held load sag slowly, is general
knowledge; the sizes are invented.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.one_log.clipping import clipping_finding, find_clipping
from analysis.telemetry import Floats, Telemetry
from tests.analysis.made_logs import log

OHM = 0.016
#: Slow part of the sag, and how fast it comes. [ohm], [s]
SLOW_OHM, SLOW_S = 0.006, 20.0
SECONDS = 3600


def rolling_load(seed: int = 1, level_a: float = 55.0, swing_a: float = 25.0) -> Floats:
    """Amps out of the pack over short hills and rests; never the same twice."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(float(SECONDS))
    hill = level_a + swing_a * np.sin(time_s / 23) + 6 * rng.normal(0, 1, SECONDS)
    return np.where(time_s // 90 % 3 == 2, 0.0, -np.maximum(hill, 2.0))


def volts_of(amps: Floats, seed: int = 2, slow_ohm: float = SLOW_OHM) -> Floats:
    """Of a pack with a quick and a slow part, as a display with hundredths tells them."""
    slow = np.zeros(len(amps))
    for k in range(1, len(amps)):
        slow[k] = slow[k - 1] + (slow_ohm * amps[k] - slow[k - 1]) / SLOW_S
    noise = np.random.default_rng(seed).normal(0, 0.004, len(amps))
    return np.asarray(np.round(52.8 + OHM * amps + slow + noise, 2))


def told(amps: Floats, volts: Floats) -> Telemetry:
    return log(np.arange(float(len(amps))), current_a=np.round(amps, 1), voltage_v=volts)


@pytest.mark.parametrize("seed", range(5))
def test_amps_that_end_while_volts_move_are_clipped(seed: int) -> None:
    """The end to the digit, and the seconds at it to those of long stands."""
    true_a = rolling_load(seed)
    telemetry = told(np.maximum(true_a, -60.0), volts_of(true_a, seed))
    [found] = find_clipping(telemetry)

    assert found.end_a == -60.0
    assert found.seconds == pytest.approx(float((true_a <= -60).sum()), rel=0.05)
    finding = clipping_finding(found, telemetry)
    assert (finding.kind, finding.verdict) == ("amps_clipped", "yes")
    assert "at exactly 60 A out" in finding.words
    assert "at least what is shown" in finding.words


def test_braking_into_the_pack_is_clipped_alike() -> None:
    """The other way round is the other way."""
    true_a = -rolling_load()
    telemetry = told(np.minimum(true_a, 60.0), volts_of(true_a))
    [found] = find_clipping(telemetry)

    assert found.end_a == 60.0
    assert "at exactly 60 A in for" in clipping_finding(found, telemetry).words


def one_pull(seed: int) -> Floats:
    """An hour of small loads and one long pull that rolls about 80 A."""
    rng = np.random.default_rng(seed)
    amps, seconds = -rng.uniform(1, 30, SECONDS), int(rng.integers(30, 90))
    roll = np.sin(np.arange(seconds) / rng.uniform(3, 6))
    amps[1500:1500 + seconds] = -80 - 12 * roll - 5 * rng.normal(0, 1, seconds)
    return amps


@pytest.mark.parametrize("seed", range(20, 30))
def test_one_long_pull_is_clipped_and_bounds_what_is_missing(seed: int) -> None:
    """All the while the volts are beyond the end; what they say is no less than what flowed, and
    no more than twice that."""
    true_a = one_pull(seed)
    [found] = find_clipping(told(np.maximum(true_a, -60.0), volts_of(true_a, seed)))
    missing_ah = float(np.maximum(-true_a - 60, 0).sum()) / 3600

    assert found.end_a == -60.0
    assert missing_ah <= found.missing_ah <= 2 * missing_ah


@pytest.mark.parametrize("seed", range(20, 30))
def test_a_figure_that_froze_for_a_while_is_not_clipped(seed: int) -> None:
    """At the greatest of the log, while the small loads go on."""
    true_a = one_pull(seed)
    froze = true_a.copy()
    froze[2000:2100] = true_a.min()

    assert not list(find_clipping(told(froze, volts_of(true_a, seed))))


@pytest.mark.parametrize("seed", range(5))
def test_a_control_that_limits_its_amps_is_not_clipped(seed: int) -> None:
    """The volts sag on while it limits, but only slowly and only down."""
    limited = np.maximum(rolling_load(seed), -60.0)

    assert not list(find_clipping(told(limited, volts_of(limited, seed))))


@pytest.mark.parametrize("level_a", [8.0, 25.0, 55.0])
def test_a_display_of_whole_amps_is_not_clipped(level_a: float) -> None:
    """The greatest figure comes again and again; the volts do what one amp does."""
    true_a = rolling_load(level_a=level_a, swing_a=0.6)

    assert not list(find_clipping(told(np.round(true_a), volts_of(true_a))))
    calm = np.minimum(np.round(true_a / 6) * 6, 0.0)
    assert not list(find_clipping(told(calm, volts_of(calm))))


@pytest.mark.parametrize("every_s", [5, 10, 20])
def test_a_display_that_tells_new_amps_now_and_then_is_not_clipped(every_s: int) -> None:
    """Its amps stand at any figure while the volts go on; in steps of 20 A the greatest figure
    comes again and again."""
    true_a = rolling_load()
    held = np.repeat(true_a[::every_s], every_s)[:SECONDS]

    assert not list(find_clipping(told(20 * np.round(held / 20), volts_of(true_a))))


@pytest.mark.parametrize("late_s", [0, 2])
@pytest.mark.parametrize("smoothing_s", [1.0, 6.0])
def test_volts_that_come_late_are_not_clipped(late_s: int, smoothing_s: float) -> None:
    """A heater that goes on and off: the volts of its switching arrive while its amps stand."""
    time_s = np.arange(SECONDS)
    rest = np.random.default_rng(3).uniform(1, 4, SECONDS)
    amps = -np.where(time_s // 40 % 2 == 0, 60.0, rest)
    smooth = volts_of(amps)
    for k in range(1, SECONDS):
        smooth[k] = smooth[k - 1] + (smooth[k] - smooth[k - 1]) / smoothing_s
    late = np.concatenate((np.repeat(smooth[:1], late_s), smooth[:SECONDS - late_s]))

    assert not list(find_clipping(told(amps, np.round(late, 2))))


def calm_with_pulls(pulls: int, seconds: int) -> tuple[Floats, list[int]]:
    """An hour of small loads with so many pulls of the very same amps, and where they begin."""
    amps = -np.random.default_rng(3).uniform(1, 4, SECONDS)
    begins = [SECONDS // (pulls + 1) * (k + 1) for k in range(pulls)]
    for row in begins:
        amps[row:row + seconds] = -60.0
    return amps, begins


def wild_load(least_a: float, most_a: float) -> Floats:
    """Amps out that jump from second to second."""
    return -np.random.default_rng(4).uniform(least_a, most_a, SECONDS)


def test_a_weak_pack_under_a_held_load_sags_one_way() -> None:
    """Cold or old it goes on sagging for long, and nothing is heard of how it comes up again."""
    amps, begins = calm_with_pulls(2, 60)
    volts = volts_of(amps, slow_ohm=10 * SLOW_OHM)
    is_heard = np.ones(SECONDS, bool)
    for row in begins:
        is_heard[row + 60:row + 200] = False
    times = np.flatnonzero(is_heard).astype(float)

    assert not list(find_clipping(log(times, current_a=np.round(amps, 1)[is_heard],
                                      voltage_v=volts[is_heard])))


def test_volts_told_now_before_the_amps_and_now_behind_them() -> None:
    """Short pulls of the same amps: the volts' own steps lie near the ends of the stands."""
    amps, begins = calm_with_pulls(8, 10)
    true_a = amps.copy()
    for number, row in enumerate(begins):
        off = 2 if number % 2 else -2
        true_a[row - 4:row + 14] = np.roll(amps[row - 4:row + 14], off)

    assert not list(find_clipping(told(amps, volts_of(true_a))))


def test_a_figure_that_the_amps_go_beyond_is_no_end() -> None:
    """A monitor that says 50 A whenever it has not measured."""
    true_a = wild_load(10, 100)
    amps = true_a.copy()
    amps[1000:1100] = amps[2000:2100] = -50.0

    assert not list(find_clipping(told(amps, volts_of(true_a))))


def test_wrong_volts_now_and_then_are_not_clipped_amps() -> None:
    """A charger holds its amps to the digit, and one figure of the volts in a hundred is wrong."""
    amps = np.where(np.arange(SECONDS) % 1200 < 1100, 25.0, rolling_load())
    volts = volts_of(amps)
    volts[50::100] += 2.0

    assert not list(find_clipping(told(amps, volts)))


def test_a_load_beside_the_shunt_is_not_clipped() -> None:
    """Hardly any amps are told, and the volts do what a heater wired past the shunt does."""
    true_a = wild_load(1, 12)
    amps = true_a.copy()
    amps[1000:1100] = amps[2000:2100] = 0.3

    assert not list(find_clipping(told(amps, volts_of(true_a))))


def test_amps_that_stand_still_for_good_are_not_clipped() -> None:
    """A figure that froze stands once; the recorder tells it."""
    true_a = rolling_load()
    froze = true_a.copy()
    froze[1500:] = true_a.min()

    assert not list(find_clipping(told(froze, volts_of(true_a))))


@pytest.mark.parametrize("columns", [
    {}, {"current_a": [1.0, 2.0]}, {"current_a": [1.0], "voltage_v": [50.0]},
    {"current_a": [1.0, 1.0], "voltage_v": [50.0, 50.0]},
    {"current_a": [np.nan] * 3, "voltage_v": [50.0, 51.0, 52.0]}])
def test_too_little_tells_nothing(columns: dict[str, list[float]]) -> None:
    """No amps, no volts, a row or two."""
    arrays = {name: np.array(values) for name, values in columns.items()}
    count = len(next(iter(columns.values()), [0.0]))

    assert not list(find_clipping(log(np.arange(float(count)), **arrays)))


@settings(derandomize=True, max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.05, 40.0))
def test_amps_that_are_told_as_they_flow_are_never_clipped(seed: int, swing_a: float) -> None:
    """Whatever the load, as long as the instrument follows it."""
    true_a = rolling_load(seed, swing_a=swing_a)

    assert not list(find_clipping(told(true_a, volts_of(true_a, seed))))
