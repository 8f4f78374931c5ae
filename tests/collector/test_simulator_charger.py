"""The charger: how it ends, what it puts in, what a long fill cures."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from collector.simulator import charger, staged
from collector.simulator.board import LIMITS
from collector.simulator.pack import CELLS, State, Traits

DAY = date(2026, 4, 2)
TRAITS = staged.traits_on(DAY, seed=1)
SAME = Traits(np.full(CELLS, 105.0), np.full(CELLS, 0.62), np.zeros(CELLS), 6.0)


def drawn(ah: float, cell_6_less: float = 0.0) -> State:
    start = np.full(CELLS, float(ah))
    start[5] -= cell_6_less
    return State(start, 20.0)


def test_level_cells_end_by_the_tail() -> None:
    """Steady amps, then steady volts, then the tail; the cells end full."""
    done = charger.charge(SAME, drawn(30), 20.0, standby_a=0.0)
    amps = done.traces.current_a[:done.end_index]

    assert done.ending == "tail"
    assert amps[0] == charger.YARD.steady_a
    assert amps[-1] <= charger.YARD.tail_a < amps[-60]
    assert done.traces.voltage_v.max() == pytest.approx(charger.YARD.steady_v, abs=0.03)
    assert done.state.soc(SAME) == pytest.approx(1.0, abs=0.004)


def test_charge_put_in_is_charge_drawn() -> None:
    """Amp-hours at the posts are what every cell gained, bleeding aside."""
    done = charger.charge(SAME, drawn(30), 20.0, standby_a=0.0)

    assert done.traces.current_a.sum() / 3600 == pytest.approx(
        30 - done.state.drawn_ah[0], abs=1e-6)


def test_a_fuller_cell_stops_the_charge_early() -> None:
    """Cell 6 is full while its mates still miss nearly its 2.6 Ah."""
    done = charger.charge(TRAITS, drawn(30, 2.6), 20.0, standby_a=0.0)
    top = done.traces.cell_v[done.end_index - 1]

    assert done.ending == "first cell"
    assert int(np.argmax(top)) == 5
    assert top[5] == pytest.approx(LIMITS.cell_high_v, abs=0.01)
    assert 1.5 < np.median(done.state.drawn_ah) < 2.6
    assert done.is_high_cell[done.end_index:].all()
    assert not done.is_high_cell[:done.end_index].any()


def test_a_long_fill_bleeds_the_fuller_cell() -> None:
    """Six hours at 60 mA take 0.36 Ah out of cell 6 and out of no other."""
    state = drawn(10, 2.6)
    done = charger.charge(TRAITS, state, 20.0, standby_a=0.0, hold_s=6 * 3600)
    after = np.median(done.state.drawn_ah) - done.state.drawn_ah[5]

    assert 2.6 - after == pytest.approx(0.36, abs=0.02)
    assert done.is_bleeding.sum() >= 0.95 * 6 * 3600


def test_a_timer_stops_a_partial_charge() -> None:
    """A short fill is over when its time is."""
    done = charger.charge(TRAITS, drawn(60), 20.0, standby_a=0.0, limit_s=1800)

    assert done.ending == "timer"
    assert done.end_index == 1800
    assert done.traces.current_a.sum() / 3600 == pytest.approx(12.5)


def test_no_charging_below_freezing() -> None:
    """A pack below 0 degC gets nothing, not even in a long fill."""
    done = charger.charge(TRAITS, replace(drawn(60), temperature_c=-1.0), -1.0, standby_a=0.0,
                          hold_s=3600)

    assert done.ending == "cold"
    assert not done.traces.current_a.any()


def test_the_last_quarter_hour_is_rest() -> None:
    """After the end only the standby flows, and volts sink."""
    done = charger.charge(SAME, drawn(20), 20.0, standby_a=-0.018)
    after = done.traces.current_a[done.end_index:]

    assert len(after) == charger.AFTER_S
    assert set(after) == {-0.018}
    assert done.traces.voltage_v[-1] < done.traces.voltage_v[done.end_index - 1]
