"""What the monitor shows: dead band, counter, knee, hours left, taps."""

import math

import numpy as np
import pytest

from collector.simulator import display
from collector.simulator.cell import Floats
from collector.simulator.display import Board, Sensing
from collector.simulator.pack import CELLS, Traces


def quiet(count: int) -> Board:
    no = np.zeros(count, dtype=bool)
    return Board(no, no, no)


def traces(current_a: Floats, cell_v: float = 3.3) -> Traces:
    n = len(current_a)
    cells = np.full((n, CELLS), cell_v)
    return Traces(current_a, cells.sum(axis=1), cells, np.full(n, 18.4), np.full(n, 21.0))


def shown(seen: Traces, count_ah: float = 50.0, *, setting_ah: float = 100.0,
          sensing: Sensing | None = None, full_at: int | None = None) -> display.Columns:
    n = len(seen.current_a)
    columns, _ = display.show(
        seen, count_ah, sensing or Sensing(), quiet(n), rng=np.random.default_rng(1),
        setting_ah=np.full(n, setting_ah), step_s=1.0, full_at=full_at)
    return columns


def test_amps_come_in_tenths_with_a_dead_band() -> None:
    """Below 0.2 A the display says 0.0; above in steps of 0.1 A."""
    assert set(shown(traces(np.full(500, -0.08)))["current_a"]) == {0.0}
    amps = shown(traces(np.full(500, -23.14)))["current_a"]
    assert amps == pytest.approx(np.round(amps, 1))
    assert amps.mean() == pytest.approx(-23.14, abs=0.02)


def test_a_zero_error_hides_a_drain_of_the_same_size() -> None:
    """0.31 A out with a zero error of +0.35 A reads 0.0; nothing out reads +0.3."""
    sensing = Sensing(zero_error_a=0.35)

    assert set(shown(traces(np.full(500, -0.31)), sensing=sensing)["current_a"]) == {0.0}
    assert np.median(shown(traces(np.full(500, -0.018)), sensing=sensing)["current_a"]) == 0.3


def test_zero_error_counts_8_4_ah_a_day() -> None:
    """0.35 A over 24 h are 8.4 Ah that never were."""
    assert display.stand(10, 0.0, 86_400, Sensing(zero_error_a=0.35), 105) == pytest.approx(18.4)
    assert display.stand(100, 0.0, 86_400, Sensing(zero_error_a=0.35), 105) == 105


def test_percent_equals_a_slow_counter() -> None:
    """The counter is a sum that cannot rise above the setting."""
    amps = np.random.default_rng(5).uniform(-200, 220, 4000)
    counted, expected = display._counted(amps, np.full(4000, 3.3), 95.0, np.full(4000, 100.0), 1.0,
                                         None), []
    value = 95.0
    for i in amps:
        value = min(100.0, value + i / 3600)
        expected.append(value)

    assert counted == pytest.approx(np.array(expected), abs=1e-9)


def test_counter_is_put_right_at_the_end_of_a_charge() -> None:
    """From the full sample on it says 100."""
    pct = shown(traces(np.full(100, 1.0)), full_at=40)["soc_pct"]

    assert pct[39] == 50
    assert pct[40] == 100


def test_counter_is_put_right_at_the_knee() -> None:
    """Half a minute below the knee sets 12 %; a short dip does not."""
    seen = traces(np.full(200, -30.0))
    seen.cell_v[20:40, 3] = 3.0
    seen.cell_v[100:, 3] = 3.0
    pct = shown(seen, count_ah=41.3)["soc_pct"]

    assert pct[99] == 40
    assert np.flatnonzero(np.diff(pct) < -5).tolist() == [128]
    assert pct[129] == 12


def test_knee_does_not_raise_a_counter() -> None:
    """A counter that already says less is left alone."""
    seen = traces(np.full(200, -30.0), cell_v=3.0)

    assert shown(seen, count_ah=8.0)["soc_pct"].max() == 8


def test_a_new_setting_steps_the_percent_without_amps() -> None:
    """105 to 100 Ah: the same charge is 1.05 times the percent."""
    setting = np.where(np.arange(100) < 50, 105.0, 100.0)
    columns, _ = display.show(traces(np.zeros(100)), 63.0, Sensing(), quiet(100),
                              rng=np.random.default_rng(1), setting_ah=setting, step_s=1.0)

    assert columns["soc_pct"][49:51].tolist() == [60, 63]


def test_hours_left_are_charge_over_the_five_minute_mean() -> None:
    """Amp-hours over amps: 60 Ah at a mean of 20 A last 3 h."""
    amps = np.tile([-40.0, 0.0], 600)
    hours = display.hours_left(np.full(1200, 60.0), amps, 1.0)

    assert hours[-1] == pytest.approx(3.0)
    assert display.hours_left(np.full(600, 60.0), np.full(600, -40.0), 1.0)[0] == 1.5


def test_no_hours_left_at_rest_or_while_charging() -> None:
    """Five minutes after the last amps out there is no figure any more."""
    amps = np.concatenate([np.full(300, -30.0), np.zeros(400), np.full(50, 25.0)])
    hours = display.hours_left(np.full(750, 60.0), amps, 1.0)

    assert np.isfinite(hours[299])
    assert np.isnan(hours[600:]).all()


def test_a_loose_tap_mirrors_two_neighbours() -> None:
    """Cell 3 reads high by what cell 4 reads low; the others do not move."""
    columns = shown(traces(np.zeros(2000)), sensing=Sensing(tap_v=0.018))

    assert columns["cell_03_v"].mean() == pytest.approx(3.318, abs=5e-4)
    assert columns["cell_04_v"].mean() == pytest.approx(3.282, abs=5e-4)
    assert columns["cell_05_v"].mean() == pytest.approx(3.3, abs=5e-4)


def test_temperatures_are_whole_degrees_and_a_loose_sensor_feels_the_air() -> None:
    """18.4 shows as 18; hanging out it shows the air."""
    assert set(shown(traces(np.zeros(5)))["temp_1_c"]) == {18.0}
    assert set(shown(traces(np.zeros(5)), sensing=Sensing(sensor_air_c=11.2))["temp_1_c"]) == {11}
    assert math.isnan(Sensing().sensor_air_c)


def test_words_follow_the_board() -> None:
    """Discharging, charging, bleeding and open paths are told apart, with their fault."""
    amps = np.array([-20.0, 20.0, 0.0, 2.0, 0.0, 0.0])
    flag = np.eye(6, dtype=bool)
    board = Board(is_open=flag[5], is_bleeding=flag[3], is_high_cell=flag[4])
    columns, _ = display.show(traces(amps), 50, Sensing(), board, rng=np.random.default_rng(1),
                              setting_ah=np.full(6, 100.0), step_s=1.0)

    assert columns["state"].tolist() == [
        "discharging", "charging", "idle", "charging; bleeding", "charge path open",
        "discharge path open"]
    assert columns["fault"].tolist() == ["none"] * 4 + ["cell volts high", "amps too high"]


def test_hours_beyond_the_display_are_missing() -> None:
    """Above 99 h the display has no figure."""
    hours = display.hours_left(np.array([98.0, 98.0]), np.array([-1.0, -0.9]), 1.0)

    assert hours[0] == 98.0
    assert np.isnan(display.hours_left(np.array([60.0]), np.array([-0.6]), 1.0)[0])
