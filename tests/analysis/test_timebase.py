"""One clean time axis: clocks, duplicates, order, gaps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.telemetry import Event
from analysis.timebase import Watched, gaps_of, mend_time, observe, usual_step_s
from tests.analysis.made_logs import log

TEN = np.arange(10.0)


def test_the_steady_clock_rules_and_a_set_clock_is_reported() -> None:
    """A clock set back by three days neither reorders nor stretches a log."""
    wall = 1.8e9 + TEN
    wall[6:] -= 3 * 86400

    mended = mend_time(wall, 500.0 + TEN)

    assert mended.elapsed_s.tolist() == TEN.tolist()
    assert mended.start_s == 1.8e9
    assert [(s.elapsed_s, s.step_s) for s in mended.clock_steps] == [(6.0, -3 * 86400.0)]


def test_a_clock_that_drifts_is_not_a_step() -> None:
    """Fifty parts per million add up to seconds over a day; nobody set the clock."""
    steady = np.arange(0.0, 86400.0, 10.0)

    assert mend_time(1.8e9 + steady * (1 + 50e-6), steady).clock_steps == ()


def test_a_restart_of_the_steady_clock_is_bridged_by_the_wall_clock() -> None:
    """The computer was started again: the time between is the wall clock's."""
    mended = mend_time(np.array([0.0, 1, 2, 62, 63]) + 1.8e9, np.array([900.0, 901, 902, 5, 6]))

    assert mended.elapsed_s.tolist() == [0, 1, 2, 62, 63]
    assert mended.restarts == 1


def test_without_a_steady_clock_a_lasting_step_back_is_bridged_with_one_step() -> None:
    """What came later stays later, one usual step on."""
    wall = np.concatenate([np.arange(100.0), np.arange(100.0) - 3600]) + 1.8e9

    mended = mend_time(wall)

    assert mended.elapsed_s.tolist() == np.arange(200.0).tolist()
    assert [s.step_s for s in mended.clock_steps] == [-3700.0]


def test_late_rows_are_put_in_their_place() -> None:
    """A row written two places late is sorted, with its figures, and counted."""
    mended = mend_time(np.array([0.0, 1, 3, 4, 2, 5]) + 1.8e9)

    assert mended.elapsed_s.tolist() == [0, 1, 2, 3, 4, 5]
    assert mended.rows is not None
    assert mended.rows.tolist() == [0, 1, 4, 2, 3, 5]
    assert (mended.reordered, mended.clock_steps) == (1, ())


@pytest.mark.parametrize("steady", [None, np.array([0.0, 1, 1, 1, 2])])
def test_duplicates_are_dropped_and_counted(steady: np.ndarray | None) -> None:
    """Of rows with one time the first is kept, by either clock."""
    mended = mend_time(np.array([0.0, 1, 1, 1, 2]) + 1.8e9, steady)

    assert mended.elapsed_s.tolist() == [0, 1, 2]
    assert mended.duplicates == 2
    assert mended.as_json() == {"duplicates": 2}


def test_rows_without_a_time_are_dropped_and_counted() -> None:
    """A row that does not say when cannot be placed."""
    mended = mend_time(np.array([0.0, np.nan, 2]) + 1.8e9)

    assert mended.elapsed_s.tolist() == [0, 2]
    assert mended.untimed == 1
    assert mended.rows is not None
    assert mended.rows.tolist() == [0, 2]


@settings(derandomize=True)
@given(st.lists(st.integers(0, 10_000_000), min_size=1, max_size=60), st.booleans())
def test_mended_time_always_increases(times_ms: list[int], is_steady: bool) -> None:
    """Whatever the clocks say, time goes on, and each kept row is a row of the log."""
    clock = np.array(times_ms) / 1000
    mended = mend_time(clock + 1.8e9, clock if is_steady else None)

    assert (np.diff(mended.elapsed_s) > 0).all()
    assert mended.elapsed_s[0] == 0
    kept = len(times_ms) if mended.rows is None else len(set(mended.rows.tolist()))
    assert kept == len(mended.elapsed_s)
    assert kept + mended.duplicates == len(times_ms)


def test_a_long_step_is_a_gap_and_a_lost_sample_is_not() -> None:
    """More than five usual steps are a gap; two are a missed sample."""
    times = np.array([0.0, 1, 2, 4, 5, 11, 12])
    observed = observe(log(times, current_a=np.ones(7)), "current_a")

    assert observed.gap_steps.tolist() == [4]
    assert observed.seconds == 6.0
    assert observed.runs() == [(0, 5), (5, 7)]


def test_a_missing_figure_is_a_gap() -> None:
    """NaN in a row where a figure was due is a hole that nothing integrates across."""
    amps = np.ones(10)
    amps[4] = np.nan
    observed = observe(log(TEN, current_a=amps), "current_a")

    assert observed.seconds == 7.0
    assert [(g.start_s, g.end_s) for g in gaps_of(log(TEN, current_a=amps), observed)] == [(3, 5)]


def test_amps_told_in_every_second_row_have_no_gaps() -> None:
    """Where a monitor sends amps and volts in turn, the rows between were not due."""
    amps = np.where(np.arange(10) % 2 == 0, 5.0, np.nan)

    assert observe(log(TEN, current_a=amps), "current_a").seconds == 8.0


@pytest.mark.parametrize("kind", ["link lost", "silent", "asleep", "computer slept", "not saved"])
def test_each_cause_of_a_silence_makes_a_gap(kind: str) -> None:
    """A mark, an alarm or a restart in the same place makes none."""
    seen = observe(log(TEN, Event(4.3, kind, "x"), current_a=np.ones(10)), "current_a")
    others = [Event(4.3, other, "x") for other in ("mark", "alarm", "restarted", "clock step")]

    assert seen.gap_steps.tolist() == [4]
    assert not len(observe(log(TEN, *others, current_a=np.ones(10)), "current_a").gap_steps)


def test_a_silent_neighbour_in_a_shared_log_makes_no_gap() -> None:
    """Amps that came on their beat were heard, whatever the other monitor did; a real loss of the
    amps is still one."""
    beat = np.array([0, 1, 2, 3, 4, 5, 7.5, 8.5])
    telemetry = replace(
        log(beat, Event(2.5, "link lost", "receiver: gone"), Event(6.0, "silent", "pack: nothing"),
            current_a=np.ones(8)), meta={"origin": {"port": "pack", "beside": [{"port": "gps"}]}})

    assert observe(telemetry, "current_a").gap_steps.tolist() == [5]


def test_the_rows_of_a_neighbour_are_no_missing_figures() -> None:
    """Amps that come a little late across a row of the receiver are whole; amps that the pack's
    own row lacks are missing, in a shared log as in any."""
    time = np.array([0.0, 0.5, 1.0, 2.0, 3.1, 4.0, 4.8, 6.0, 7.0, 8.0])
    nan = np.nan
    amps = np.array([1, nan, 1, 1, nan, nan, 1, nan, 1, 1])
    volts = np.array([52, nan, 52, 52, nan, nan, 52, 52, 52, 52])
    speed = np.array([nan, 2, nan, nan, 2, 2, nan, nan, nan, nan])
    alone = log(time, current_a=amps, voltage_v=volts, speed_m_s=speed)
    shared = replace(alone, meta={"origin": {"port": "pack", "beside": [{"port": "place"}]}})

    filled = shared.having(speed_m_s=np.full(10, 2.0))

    assert observe(shared, "current_a").gap_steps.tolist() == [3]
    assert observe(filled, "current_a").gap_steps.tolist() == [3]
    assert observe(alone, "current_a").gap_steps.tolist() == [2, 3]


def test_an_event_makes_a_short_step_a_gap_with_its_cause() -> None:
    """A link lost for less than five samples is still unobserved, and says why."""
    telemetry = log(TEN, Event(4.3, "link lost", "cable pulled"), current_a=np.ones(10))
    observed = observe(telemetry, "current_a")

    assert observed.seconds == 8.0
    assert [g.cause for g in gaps_of(telemetry, observed)] == ["link lost: cable pulled"]


def test_a_mark_is_no_gap() -> None:
    """What a person marked was seen."""
    telemetry = log(TEN, Event(4.3, "mark", "kerb"), current_a=np.ones(10))

    assert observe(telemetry, "current_a").seconds == 9.0


@pytest.mark.parametrize("holes", [False, True])
def test_a_running_sum_goes_over_seen_steps_alone(holes: bool) -> None:
    """Each row holds the trapezoids before it, one by one, also in a log of several pieces."""
    rows = 70_000
    amps, volts = np.sin(np.arange(rows) / 50), np.linspace(50.0, 54.0, rows)
    if holes:
        amps[[5, 40_000]] = np.nan
    seen = observe(log(np.arange(rows) / 2, current_a=amps, voltage_v=volts), "current_a")
    watts = seen.pick(amps) * seen.pick(volts)
    slow = np.cumsum([0.0, *((a + b) / 2 * w for a, b, w in
                             zip(watts, watts[1:], seen.width_s, strict=False))])

    assert seen.running(seen.pick(amps), seen.pick(volts)) == pytest.approx(slow, abs=1e-6)
    assert seen.clock_s == pytest.approx(seen.running(np.ones(len(seen.time_s))))
    assert seen.clock_s[-1] == pytest.approx(seen.seconds)


def test_the_usual_step_of_a_long_log_is_found_from_a_part() -> None:
    """A median over a part of 50,000 steps is that of all."""
    assert usual_step_s(np.arange(50_000) * 0.1) == pytest.approx(0.1)
    assert np.isnan(usual_step_s(np.zeros(1)))


@pytest.mark.parametrize("holes", [False, True])
def test_a_watched_log_tells_the_same_and_works_it_out_once(holes: bool) -> None:
    """What was kept is what is seen afresh, in any order of columns, and is not made again."""
    amps, volts = np.ones(10), np.full(10, 52.0)
    if holes:
        amps[3:5] = volts[8] = np.nan
    plain = log(TEN, Event(6.5, "link lost"), current_a=amps, voltage_v=volts)
    watched = Watched.of(plain)

    for asked in [(), ("current_a",), ("current_a", "voltage_v"), ("voltage_v", "current_a")]:
        seen, afresh = observe(watched, *asked), observe(plain, *asked)

        assert observe(watched, *asked) is seen
        assert seen.time_s.tolist() == afresh.time_s.tolist()
        assert seen.width_s.tolist() == afresh.width_s.tolist()
        assert seen.gap_steps.tolist() == afresh.gap_steps.tolist()
    assert observe(watched, "voltage_v", "current_a") is observe(watched, "current_a", "voltage_v")
    assert Watched.of(watched) is watched


def test_a_part_of_a_watched_log_is_looked_at_anew() -> None:
    """What was kept of all rows says nothing about fewer rows or other figures."""
    watched = Watched.of(log(TEN, current_a=np.ones(10)))
    observe(watched, "current_a")

    assert len(observe(watched.between(2.0, 5.0), "current_a").time_s) == 4
    assert not len(observe(watched.having(current_a=np.full(10, np.nan)), "current_a").time_s)
