"""The pack against step loops, conservation laws and the demo story's figures."""

from datetime import date

import numpy as np
import pytest

from collector.simulator import cell, pack, staged
from collector.simulator.cell import Floats
from collector.simulator.pack import CELLS, State, Traits

APRIL = date(2026, 4, 2)
SPEED_S = np.ones(600)


def traits() -> Traits:
    return staged.traits_on(APRIL, seed=1)


def half_full(temperature_c: float = 20.0) -> State:
    return State(np.full(CELLS, 50.0), temperature_c)


def amps() -> Floats:
    return np.random.default_rng(2).uniform(-100, 30, 600)


def stepped(traits: Traits, state: State, current_a: Floats, air_c: float) -> Floats:
    """Pack volts by a slow, obvious loop with steps of a second."""
    drawn, fast, slow, hysteresis = state.drawn_ah.copy(), 0.0, 0.0, 0.0
    warmth, volts = state.temperature_c, []
    for i in current_a:
        drawn = drawn - i / 3600 + traits.leak_a / 3600
        fast += (i - fast) * (1 - np.exp(-1 / cell.FAST.time_s))
        slow += (i - slow) * (1 - np.exp(-1 / cell.SLOW.time_s))
        hysteresis += (np.sign(i) * cell.HYSTERESIS_V - hysteresis) * (
            1 - np.exp(-abs(i) / 3600 / cell.HYSTERESIS_AH))
        heat = i * i * traits.pack_mohm * 1e-3
        aim = air_c + heat * pack.AIR_TIME_S / pack.HEAT_J_PER_K
        warmth += (aim - warmth) * (1 - np.exp(-1 / pack.AIR_TIME_S))
        soc = 1 - drawn / (traits.capacity_ah * cell.capacity_share(warmth))
        sag = (traits.resistance_mohm * i + cell.FAST.resistance_mohm * fast
               + cell.SLOW.resistance_mohm * slow) * 1e-3 * cell.stiffness(warmth)
        cells = cell.open_circuit_v(soc) + hysteresis + sag
        volts.append(cells.sum() + i * traits.leads_mohm * 1e-3)
    return np.array(volts)


def test_whole_arrays_equal_a_step_loop() -> None:
    """Nothing is lost by not stepping through time."""
    traces, _ = pack.respond(traits(), half_full(12), amps(), SPEED_S, 8.0)

    assert np.abs(traces.voltage_v - stepped(traits(), half_full(12), amps(), 8.0)).max() < 1e-9


def test_a_span_in_two_parts_is_the_span() -> None:
    """The state between two spans carries everything."""
    whole, end = pack.respond(traits(), half_full(), amps(), SPEED_S, 15.0)
    first, middle = pack.respond(traits(), half_full(), amps()[:250], SPEED_S[:250], 15.0)
    second, last = pack.respond(traits(), middle, amps()[250:], SPEED_S[250:], 15.0)

    assert np.concatenate([first.voltage_v, second.voltage_v]) == pytest.approx(
        whole.voltage_v, abs=1e-9)
    assert last.drawn_ah == pytest.approx(end.drawn_ah)


def test_charge_is_conserved() -> None:
    """What flows out of the posts, leaks and is bled has left each cell."""
    bleed = np.zeros((600, CELLS))
    bleed[:, 5] = 0.06
    _, after = pack.respond(traits(), half_full(), amps(), SPEED_S, 20.0, bleed_a=bleed)
    moved = after.drawn_ah - 50.0 + amps().sum() / 3600

    assert moved[5] == pytest.approx(0.06 / 6)
    assert moved[13] == pytest.approx(staged.LEAK_A / 6)
    assert np.delete(moved, [5, 13]) == pytest.approx(0, abs=1e-12)


def test_energy_is_never_gained() -> None:
    """Round a closed loop of charge, the posts take in more than they give."""
    out_and_in = np.concatenate([np.full(1800, -60.0), np.full(1800, 60.0)])
    traces, after = pack.respond(traits(), half_full(), out_and_in, np.ones(3600), 20.0)
    lost_wh = float((traces.voltage_v * out_and_in).sum()) / 3600
    ohmic_wh = 60 ** 2 * traits().pack_mohm * 1e-3

    assert after.drawn_ah[0] == pytest.approx(50.0)
    assert ohmic_wh < lost_wh < 3.5 * ohmic_wh


def test_resistance_of_the_pack_as_told() -> None:
    """16 mohm with leads at 20 degC, cells 0.62 mohm within 4 %, the small cell 0.78."""
    mohm = traits().resistance_mohm

    assert traits().pack_mohm == pytest.approx(16.0)
    assert np.abs(np.delete(mohm, 10) / 0.62 - 1).max() <= 0.04
    assert mohm[10] == pytest.approx(0.78)


@pytest.mark.parametrize(("temperature_c", "mohm"), [(20.0, 16.0), (3.0, 16.0 * 1.45)])
def test_a_step_of_amps_shows_the_resistance(temperature_c: float, mohm: float) -> None:
    """Volts over amps of a quick step: 16 mohm, 45 % more at 3 degC."""
    step = np.array([0.0, -100.0])
    traces, _ = pack.respond(traits(), half_full(temperature_c), step, np.full(2, 1e-3),
                             temperature_c)

    assert np.diff(traces.voltage_v)[0] / -100 * 1e3 == pytest.approx(mohm, rel=0.005)


def test_rest_relaxes_and_takes_the_air_temperature() -> None:
    """After a day of standing still nothing is left of the drive but the charge it took."""
    _, warm = pack.respond(traits(), half_full(25), amps(), SPEED_S, 25.0)
    rested = pack.rest(traits(), warm, -0.018, 86_400, 10.0)

    assert abs(rested.slow_a) < 0.02
    assert rested.temperature_c == pytest.approx(10.0, abs=0.2)
    assert rested.drawn_ah[0] - warm.drawn_ah[0] == pytest.approx(0.018 * 24)


def test_no_time_changes_nothing() -> None:
    """Standing for no time at all is no act."""
    state = half_full()

    assert pack.rest(traits(), state, -1.0, 0.0, 20.0) is state
