"""Why the amps vanished."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.incidents.cutout import CutOut, find_cut_outs
from analysis.limits import Limits
from analysis.telemetry import Event, Telemetry
from tests.analysis.made_logs import log

LIMITS = Limits(peak_a=200, peak_s=10, cell_low_v=2.7)
CUT_S = 300


def drive(load_a: float = -60.0, held_s: int = 8, **changes: np.ndarray) -> Telemetry:
    """Ten minutes at 40 A, then a harder load for some seconds, then nothing."""
    time_s = np.arange(600.0)
    amps = np.full(600, -40.0)
    amps[CUT_S - held_s:CUT_S] = load_a
    amps[CUT_S:] = 0.0
    columns = {f"cell_{n:02d}_v": np.full(600, 3.25) + amps / 1000 for n in range(1, 17)}
    columns |= {"current_a": amps, "voltage_v": np.sum(list(columns.values()), axis=0),
                "temp_1_c": np.full(600, 18.0)} | changes
    return log(time_s, **columns)


def sagging(before_v: float, base: float = 3.2) -> np.ndarray:
    """Volts of a cell that falls in the last seconds before the cut."""
    volts = np.full(600, base)
    volts[CUT_S - 5:CUT_S] = before_v
    return volts


def only(telemetry: Telemetry, limits: Limits | None = LIMITS) -> CutOut:
    (found,) = find_cut_outs(telemetry, limits)
    return found


def test_lifting_the_foot_is_no_cut_out() -> None:
    """Amps vanish at every stop; nothing else is wrong."""
    assert find_cut_outs(drive(), LIMITS) == []


def test_past_the_limit_for_its_time_is_over_current() -> None:
    """212 A for 11 s with a board of 200 A for 10 s, whatever the cells do."""
    found = only(drive(-212.0, 11))

    assert (found.cause, found.verdict) == ("over_current", "yes")
    assert (found.start_s, found.end_s) == (CUT_S - 11, CUT_S)
    assert "not a cell" in found.words


def test_a_short_peak_is_no_over_current() -> None:
    """212 A for 3 s is what the board allows."""
    assert find_cut_outs(drive(-212.0, 3), LIMITS) == []


def test_without_a_typed_limit_nobody_can_tell_too_many_amps() -> None:
    """No limit, no verdict."""
    assert find_cut_outs(drive(-212.0, 11)) == []


def test_one_cell_at_its_limit() -> None:
    """Cell 9 alone falls to 2.72 V."""
    found = only(drive(cell_09_v=sagging(2.72)))

    assert found.cause == "one_cell"
    assert "cell 9" in found.words


@pytest.mark.parametrize(("celsius", "cause"), [(2.0, "cold"), (18.0, "all_cells")])
def test_all_cells_together(celsius: float, cause: str) -> None:
    """In the cold they fall together early; warm, the pack is empty."""
    cells = {f"cell_{n:02d}_v": sagging(2.71) for n in range(1, 17)}
    found = only(drive(temp_1_c=np.full(600, celsius), **cells))

    assert found.cause == cause


def test_pack_volts_gone_but_cells_told_is_open_further_on() -> None:
    """Contactor, fuse or joint, not the cells."""
    volts = np.full(600, 52.0)
    volts[CUT_S:] = 1.2
    found = only(drive(voltage_v=volts))

    assert found.cause == "open_circuit"
    assert "contactor" in found.words


def test_a_stream_that_vanishes_under_load_is_not_explained() -> None:
    """Board asleep or link lost: the log cannot tell which."""
    whole = drive()
    cut = Telemetry(whole.start, np.concatenate([whole.elapsed_s[:250], [400.0, 401.0, 402.0]]),
                    {n: np.concatenate([v[:250], v[-3:]]) for n, v in whole.columns.items()},
                    (Event(253.0, "silent"),))
    found = only(cut)

    assert (found.cause, found.verdict, found.start_s) == ("silence", "cannot tell yet", 249.0)


def test_a_slow_log_says_so_and_a_quick_one_does_not() -> None:
    """At a sample a second the words warn; at ten a second they do not."""
    slow = drive(-212.0, 11)
    quick = Telemetry(slow.start, slow.elapsed_s / 10, slow.columns)

    assert "a sample every 1 s" in only(slow).words
    assert "a sample every" not in only(quick, Limits(peak_a=200, peak_s=1)).words


def test_no_amps_no_cut_out() -> None:
    """Without amps there is nothing to vanish."""
    assert find_cut_outs(log([0.0, 1.0], voltage_v=np.full(2, 52.0))) == []
