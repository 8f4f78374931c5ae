"""What packhand makes of each fault of a monitor's figures: the answers of the fault catalogue.

The monitor tells an invented day, an hour and a half of it with a fault from its beginning or from
its middle on (``collector/simulator/row_faults.py``). Figures that stand still are told while they
are recorded (``tests/collector/test_standstill.py``); the order of the cells and another pack at
the same port are a matter of several logs.
"""

from __future__ import annotations

from functools import cache
from itertools import islice

import numpy as np
import pytest

from analysis.drive.summary import DriveSummary, summarise
from analysis.drive.text import drive_text
from analysis.estimate import Answer, Estimate, NoEstimate
from collector.simulator.live import Row, live_day
from collector.simulator.row_faults import Teller
from tests.analysis.made_logs import log

ROWS = 5400
CAPACITY_AH = 105.0


@cache
def day() -> tuple[Row, ...]:
    return tuple(islice(live_day(1), ROWS))


@cache
def told(fault: str, first: int = 0) -> DriveSummary:
    """The log of a monitor with a fault from row ``first`` on."""
    teller = Teller()
    rows = [teller.tell(row, fault if n >= first else "") for n, row in enumerate(day())]
    names = [name for name in day()[0] if name not in ("state", "fault")]
    columns = {name: np.array([row.get(name, np.nan) for row in rows], float) for name in names}
    return summarise(log(np.arange(float(ROWS)), **columns), capacity_ah=CAPACITY_AH)


def kinds(summary: DriveSummary) -> set[str]:
    return {finding.kind for finding in summary.findings}


def words(summary: DriveSummary) -> str:
    return "; ".join(finding.words for finding in summary.findings)


def value(answer: Answer) -> float:
    assert isinstance(answer, Estimate)
    return answer.value


def test_a_sound_monitor_has_no_finding() -> None:
    """Nor a conflict, and the count is that of the display's own percent."""
    sound = told("")

    assert sound.findings == ()
    assert (sound.sign.convention, sound.sign.conflict) == ("negative_is_discharge", "")


@pytest.mark.parametrize("first", [0, ROWS // 2])
@pytest.mark.parametrize(("fault", "said"), [
    ("scale", "(+5 %), no whole number of cells"),
    ("wrap", "32.8 V below the sum of the 16 cells (-63 %), no whole number"),
    ("dead-cell", "cell 5 reads 1.7 V: its figure is wrong")])
def test_wrong_volts_do_not_add_up(fault: str, said: str, first: int) -> None:
    """They are told with their size and since when, and nothing is explained by them."""
    summary = told(fault, first)

    assert kinds(summary) == {"cells_do_not_add_up"}
    assert said in words(summary)
    assert words(summary).startswith("from 45 min on" if first else "the pack volts")


def test_a_cell_that_is_not_told_is_missing_from_the_sum() -> None:
    """From the first row on; where it sets in later the recorder says so (``odd``)."""
    assert "as much as one cell: not every cell" in words(told("cells"))


def test_a_cell_told_in_its_neighbours_place_is_named() -> None:
    """Both figures are the same in every row."""
    assert kinds(told("twin-cell")) == {"cell_told_twice"}
    assert "cells 5 and 6" in words(told("twin-cell"))


def test_volts_told_a_second_late_are_told_and_reckoned_with() -> None:
    """The skew, a resistance within 5 % of that without it, and the same charge."""
    late, sound = told("late-volts"), told("")
    [finding] = late.findings

    assert finding.kind == "volts_and_amps_apart"
    assert value(finding.size) == pytest.approx(1.0, abs=0.2)
    assert value(late.resistance.after_1_s) == pytest.approx(
        value(sound.resistance.after_1_s), rel=0.05)
    assert late.flow.charge_out_ah == sound.flow.charge_out_ah
    assert "volts are told 1.0 s after the amps" in drive_text(late)


def test_a_skew_that_sets_in_later_mixes_nothing_up() -> None:
    """Amps of one sign keep it: the volts of each part say so."""
    late, sound = told("late-volts", ROWS // 2), told("")

    assert late.sign.convention == "negative_is_discharge"
    assert late.flow.charge_out_ah == sound.flow.charge_out_ah
    assert late.findings == ()


def test_the_other_sign_is_read_as_it_is() -> None:
    """Plus is out of the pack, and the charge is the same."""
    turned, sound = told("turned"), told("")

    assert turned.sign.convention == "positive_is_discharge"
    assert turned.flow.charge_out_ah == sound.flow.charge_out_ah


def test_a_sign_that_turns_within_a_log_is_told_and_nothing_counted() -> None:
    """Out and in would be mixed up: no charge is better than a wrong one."""
    turned = told("turned", ROWS // 2)

    assert turned.sign.convention == "undecided"
    assert "turns within the log, between 09:00 and 09:03" in turned.sign.words
    assert isinstance(turned.flow.charge_out_ah, NoEstimate)


def test_a_large_zero_error_shows_against_the_typed_capacity() -> None:
    """Two amps too high at every moment: less seems to go out than the percent says."""
    [finding] = told("zero").findings

    assert finding.kind == "gain_or_capacity_setting"
    assert "with a zero error" in finding.words
    assert isinstance(finding.size, Estimate)
    assert finding.size.high < 1


def test_a_direction_told_a_frame_late_is_right_but_for_its_moments() -> None:
    """The sign stands, and the charge is that of a sound monitor within the interval."""
    late, sound = told("late-sign"), told("")
    charge = late.flow.charge_out_ah

    assert late.sign.convention == "negative_is_discharge"
    assert isinstance(charge, Estimate)
    assert charge.low <= value(sound.flow.charge_out_ah) - 0.1 <= charge.high + 0.1


def test_whole_amps_widen_the_interval() -> None:
    """What the display rounds off is a term of its own, ten times that of tenths."""
    coarse, sound = told("coarse"), told("")

    assert coarse.flow.budget_ah["resolution"] > 5 * sound.flow.budget_ah["resolution"]
    assert value(coarse.flow.charge_out_ah) == pytest.approx(
        value(sound.flow.charge_out_ah), rel=0.01)
    assert isinstance(coarse.resistance.after_1_s, NoEstimate)


@pytest.mark.parametrize("first", [0, ROWS // 2])
def test_amps_that_are_never_told_beyond_a_figure_are_told(first: int) -> None:
    """Since when, at which figure, and that the charge is more than is shown."""
    clipped = told("clipped", first)
    finding = next(each for each in clipped.findings if each.kind == "amps_clipped")

    assert finding.words.startswith("from 09:1" if first else "from 08:1")
    assert "at exactly 60 A out" in finding.words
    assert value(finding.size) > 100
    shown, sound = clipped.flow.charge_out_ah, value(told("").flow.charge_out_ah)
    assert isinstance(shown, Estimate)
    assert shown.value < sound <= shown.high
    assert clipped.flow.clipped_ah[0] >= sound - shown.value


def drawn(gain: float, capacity_ah: float, ah: float = 60.0) -> DriveSummary:
    """Six hours of stops and starts that the display counts right, with amps told otherwise."""
    time_s = np.arange(0.0, 21_600)
    pulls = np.where(time_s // 20 % 2 == 0, -2 * ah / 6, 0.0)
    volts = np.round(52.8 + 0.016 * pulls, 2)
    percent = np.round(100 + np.cumsum(pulls) / 3600 / 105 * 100)
    return summarise(log(time_s, current_a=np.round(gain * pulls, 1), voltage_v=volts,
                         soc_pct=percent), capacity_ah=capacity_ah)


@pytest.mark.parametrize("gain", [0.9, 1.1])
def test_amps_off_by_a_tenth_ask_for_a_clamp_reading(gain: float) -> None:
    """The display's percent counts the true amps: 100 % seems to stand for another capacity."""
    [finding] = drawn(gain, 105.0).findings

    assert (finding.kind, finding.verdict) == ("gain_or_capacity_setting", "cannot tell yet")
    assert value(finding.size) == pytest.approx(gain, abs=0.01)
    assert "clamp" in finding.next


@pytest.mark.parametrize(("gain", "capacity_ah"), [(1.0, 105.0), (1.02, 105.0), (1.0, 102.0)])
def test_what_gain_and_rounding_may_do_is_not_told(gain: float, capacity_ah: float) -> None:
    """Two percent of gain, or of age."""
    assert drawn(gain, capacity_ah).findings == ()
