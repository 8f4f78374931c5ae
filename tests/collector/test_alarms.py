"""Alarms: told once, after the delay, and told to be over."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.alarm_limits import Limit
from collector.alarms import SHELF_S, Alarms, figures_of
from collector.record import Sample

CELL = Limit("cell_low_v", 2.9, 5, 0.05)
SIGNED = "negative_is_discharge"


def heard(alarms: Alarms, cells: list[tuple[float, float]]) -> list[tuple[float, bool, bool]]:
    """When what was told, for one cell's volts over time."""
    return [(at_s, event.is_raised, event.is_quiet) for at_s, volts in cells
            for event in alarms.take(Sample(0, at_s, {"cell_01_v": volts}))]


def slow_oracle(run: list[tuple[float, float]]) -> list[tuple[float, bool]]:
    """The rule, written out: beyond the limit in every sample of the last five seconds begins it,
    one sample back by the whole band ends it."""
    told: list[tuple[float, bool]] = []
    for k, (now_s, volts) in enumerate(run):
        if told and told[-1][1]:
            if volts - 2.9 >= 0.05:
                told.append((now_s, False))
            continue
        since = told[-1][0] if told else -math.inf
        stretch = [at_s for at_s, _ in run[: k + 1]]
        for at_s, v in reversed(run[: k + 1]):
            if v >= 2.9 or at_s <= since:
                break
            stretch.append(at_s)
        beyond = stretch[k + 1:]
        if beyond and now_s - beyond[-1] >= 5:
            told.append((now_s, True))
    return told


@settings(derandomize=True, max_examples=300)
@given(st.lists(st.tuples(st.integers(1, 30), st.sampled_from([2.8, 2.89, 2.9, 2.92, 2.95, 3.0])),
                max_size=60))
def test_the_machine_is_the_rule(steps: list[tuple[int, float]]) -> None:
    """Against the rule written out slowly; alarms begin and end in turn."""
    run, now_s = [], 0.0
    for width_s, volts in steps:
        now_s += width_s
        run.append((now_s, volts))
    told = [(at_s, is_raised) for at_s, is_raised, _ in heard(Alarms([CELL]), run)]

    assert told == slow_oracle(run)
    assert [is_raised for _, is_raised in told] == [k % 2 == 0 for k in range(len(told))]


def test_a_dip_is_no_alarm() -> None:
    """A cell under load for less than the delay is left alone, however often."""
    run = [(float(t), 2.7 if t % 5 else 2.91) for t in range(100)]

    assert heard(Alarms([CELL]), run) == []


def test_chatter_at_the_limit_is_one_alarm() -> None:
    """Within the band nothing is told again."""
    run = [(float(t), 2.89 + 0.03 * (t % 2)) for t in range(20, 100)]
    start = [(float(t), 2.8) for t in range(20)]

    assert heard(Alarms([CELL]), start + run) == [(5.0, True, False)]


def test_a_long_gap_begins_the_delay_again() -> None:
    """Nobody saw the cell in the hour between."""
    run = [(0.0, 2.8), (3600.0, 2.8), (3604.0, 2.8), (3605.0, 2.8)]

    assert heard(Alarms([CELL]), run) == [(3605.0, True, False)]


def test_a_shelved_alarm_is_quiet_for_its_time_and_then_speaks_again() -> None:
    """The log gets everything meanwhile."""
    alarms = Alarms([CELL])
    begun = heard(alarms, [(0, 2.8), (5, 2.8)])
    alarms.shelve(6)
    meanwhile = heard(alarms, [(7, 2.8), (8, 3.0), (9, 2.8), (14, 2.8)])
    after = heard(alarms, [(6 + SHELF_S - 1, 2.8), (6 + SHELF_S, 2.8), (7 + SHELF_S, 2.8)])

    assert begun == [(5, True, False)]
    assert meanwhile == [(8, False, True), (14, True, True)]
    assert after == [(6 + SHELF_S, True, False)]


def test_shelving_touches_only_what_sounds() -> None:
    """An alarm that has not begun is heard when it does."""
    alarms = Alarms([CELL])
    alarms.shelve(0)

    assert heard(alarms, [(1, 2.8), (6, 2.8)]) == [(6, True, False)]


def test_a_shelf_that_ends_in_peace_says_nothing() -> None:
    """What is over by then is not told again, and a new alarm is heard."""
    alarms = Alarms([CELL])
    heard(alarms, [(0, 2.8), (5, 2.8)])
    alarms.shelve(6)
    heard(alarms, [(7, 3.1)])
    late = 10 + SHELF_S

    assert heard(alarms, [(late, 3.1), (late + 1, 2.8), (late + 6, 2.8), (late + 7, 2.8)]) == [
        (late + 6, True, False)]


@pytest.mark.parametrize(("convention", "amps", "figures"), [
    (SIGNED, -23.0, {"out_a": 23.0, "in_a": -23.0}),
    (SIGNED, 5.0, {"out_a": -5.0, "in_a": 5.0}),
    ("positive_is_discharge", 23.0, {"out_a": 23.0, "in_a": -23.0}),
    ("", -23.0, {"out_a": 23.0}), ("unsigned", 23.0, {"out_a": 23.0}),
])
def test_amps_are_judged_by_their_way(
        convention: str, amps: float, figures: dict[str, float]) -> None:
    """Where the way is not known they count as out, and nothing is said about charging."""
    assert figures_of(Sample(0, 0.0, {"current_a": amps}), convention) == figures


def test_the_worst_of_cells_and_sensors_is_judged() -> None:
    """Lowest and highest of all that are there, be they single cells or the monitor's own."""
    sample = Sample(0, 0.0, {"cell_01_v": 3.3, "cell_02_v": 3.1, "cell_max_v": 3.45,
                             "temp_1_c": 20.0, "temp_2_c": 31.0, "voltage_v": 52.0,
                             "soc_pct": 40.0, "state": "drive"})

    assert figures_of(sample, SIGNED) == {
        "cell_low_v": 3.1, "cell_high_v": 3.45, "temp_low_c": 20.0, "temp_high_c": 31.0,
        "voltage_low_v": 52.0, "voltage_high_v": 52.0, "soc_low_pct": 40.0}


def test_cold_alone_is_no_alarm_but_charging_in_it_is() -> None:
    """Driving in frost is left alone; when charging stops, the alarm is over."""
    alarms = Alarms([Limit("cold_charging_c", 0, 3, 1)], SIGNED)

    def told(at_s: float, amps: float) -> list[str]:
        sample = Sample(0, at_s, {"current_a": amps, "temp_1_c": -4.0})
        return [event.words for event in alarms.take(sample)]

    driving = [told(t, -20.0) for t in range(10)]
    charging = [told(t, 10.0) for t in (10, 13)]

    assert not any(driving)
    assert charging[1] == ["coldest sensor while charging -4 °C, below 0 °C for 3 s — stop "
                           "charging and warm the pack first; cold charging harms the cells"]
    assert told(14, 0.0) == ["over: coldest sensor while charging"]


def test_amps_and_temperature_may_come_in_turn() -> None:
    """A monitor that tells them in samples of their own is watched all the same; a temperature of
    long ago says nothing."""
    alarms = Alarms([Limit("cold_charging_c", 0, 3, 1)], SIGNED)

    def told(at_s: float, **values: float) -> int:
        return len(alarms.take(Sample(0, at_s, values)))

    assert told(0, temp_1_c=-4.0) == 0
    assert [told(at_s, current_a=10.0) for at_s in (1, 2, 4)] == [0, 0, 1]
    assert told(5, current_a=0.0) == 1
    assert [told(at_s, current_a=10.0) for at_s in (100, 103, 110)] == [0, 0, 0]


def test_what_a_monitor_does_not_tell_is_not_watched() -> None:
    """A limit that can never be judged is named, not passed over in silence."""
    limits = [Limit(key, 1, 1, 1) for key in ("out_a", "in_a", "cell_low_v", "cold_charging_c")]
    columns = ["current_a", "temp_1_c", "state"]

    def keys(convention: str, *more: str) -> list[str]:
        return [limit.key for limit in Alarms(limits, convention).unwatched([*columns, *more])]

    assert keys(SIGNED) == ["cell_low_v"]
    assert keys(SIGNED, "cell_min_v") == []
    assert keys("") == ["in_a", "cell_low_v", "cold_charging_c"]


def test_every_alarm_can_be_tried() -> None:
    """A trial says what would be said, and changes nothing."""
    alarms = Alarms([CELL])

    assert [event.words for event in alarms.trial()] == [
        "lowest cell 2.90 V, below 2.9 V for 5 s — ease off, head back and charge"]
    assert heard(alarms, [(0, 2.8), (5, 2.8)]) == [(5, True, False)]
