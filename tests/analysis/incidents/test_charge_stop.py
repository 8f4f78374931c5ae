"""How charging ended, and who ended it."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.incidents.charge_stop import (
    ChargeStop,
    LogStops,
    find_braking_into_full,
    find_charge_stops,
    find_early_stops,
    stops_digest,
)
from analysis.incidents.search import find_incidents
from analysis.limits import Limits
from analysis.telemetry import Telemetry
from tests.analysis.made_logs import log

LIMITS = Limits(cell_high_v=3.6, charge_min_c=0)
END = 1200


def charge(end_a: float = 25.0, top_v: float = 3.42, celsius: float = 15.0) -> Telemetry:
    """Twenty minutes at 25 A, amps falling to ``end_a`` in the last ten, then nothing."""
    time_s = np.arange(1500.0)
    amps = np.full(1500, 25.0)
    amps[600:END] = np.linspace(25.0, end_a, END - 600)
    amps[END:] = 0.0
    cells = {f"cell_{n:02d}_v": np.interp(time_s, [0, END], [3.36, 3.42]) for n in range(1, 17)}
    cells["cell_06_v"] = np.interp(time_s, [0, END - 100, END], [3.36, 3.45, top_v])
    return log(time_s, current_a=amps, temp_1_c=np.full(1500, celsius), **cells)


def only(telemetry: Telemetry) -> ChargeStop:
    (found,) = find_charge_stops(telemetry, LIMITS)
    return found


@pytest.mark.parametrize(("telemetry", "ending"), [
    (charge(end_a=4.0, top_v=3.47), "tail"),
    (charge(top_v=3.60), "first_cell"),
    (charge(), "cut_short"),
    (charge(celsius=-1.0), "cold"),
    (charge(end_a=4.0, top_v=3.60), "tail"),
])
def test_the_ending_is_told(telemetry: Telemetry, ending: str) -> None:
    """By its tail, by one full cell, by a hand or a clock, by cold."""
    assert only(telemetry).ending == ending


def test_the_cell_that_stopped_it_is_named() -> None:
    """With its volts and those of its mates."""
    found = only(charge(top_v=3.60))

    assert found.cell == 6
    assert (found.high_v, found.median_v) == pytest.approx((3.60, 3.42), abs=0.01)
    assert "not full" in found.words


def test_braking_into_a_full_pack_opens_the_path() -> None:
    """Downhill from full: braking amps for seconds, a cell at its limit, then nothing."""
    time_s = np.arange(300.0)
    amps = np.where(time_s % 60 < 30, -20.0, 0.0)
    amps[200:212] = 30.0
    amps[212:] = 0.0
    cells = {f"cell_{n:02d}_v": np.full(300, 3.45) for n in range(1, 13)}
    cells["cell_02_v"] = np.where((time_s >= 200) & (time_s < 212), 3.62, 3.46)
    telemetry = log(time_s, current_a=amps, **cells)
    _, findings = find_incidents(telemetry, LIMITS)

    assert only(telemetry).ending == "regeneration"
    assert [f.kind for f in findings] == ["regeneration_into_full"]
    assert "headroom" in findings[0].next


def test_ordinary_braking_is_nothing() -> None:
    """Braking ends all the time; only a cell at its limit makes it the board's doing."""
    time_s = np.arange(300.0)
    amps = np.where(time_s % 60 < 30, -20.0, 15.0)
    cells = {f"cell_{n:02d}_v": np.full(300, 3.32) for n in range(1, 13)}

    assert find_charge_stops(log(time_s, current_a=amps, **cells), LIMITS) == []


def test_a_charge_that_goes_on_has_no_end() -> None:
    """A log that ends while charging tells nothing of how it ended."""
    whole = charge()

    assert find_charge_stops(whole.between(0, 1000), LIMITS) == []


def test_stops_in_a_row_are_one_finding_and_end() -> None:
    """Five early stops on cell 6, then charges to the tail."""
    early, tail = stops_digest(charge(top_v=3.60)), stops_digest(charge(end_a=4.0, top_v=3.47))
    logs = [(86400.0 * n, early if n < 5 else tail) for n in range(9)]
    (found,) = find_early_stops(logs)

    assert (found.start_s, found.end_s) == (0.0, 4 * 86400.0)
    assert "cell 6 stopped 5 charges" in found.words
    assert "the 4 charges since then" in found.words


def test_one_early_stop_is_not_a_habit() -> None:
    """Once may be chance."""
    assert find_early_stops([(0.0, stops_digest(charge(top_v=3.60)))]) == []
    assert find_early_stops([(0.0, LogStops((), (), ()))]) == []


def test_braking_into_full_is_told_once_for_a_logbook() -> None:
    """From the first to the last drive on which it happened; a logbook without it says nothing."""
    braked, calm = LogStops(("regeneration",), (2,), (0.16,)), LogStops(("tail",), (2,), (0.0,))
    (found,) = find_braking_into_full([(0.0, calm), (10.0, braked), (20.0, calm), (30.0, braked)])

    assert (found.start_s, found.end_s, found.verdict) == (10.0, 30.0, "yes")
    assert "2 drives" in found.words
    assert "headroom" in found.next
    assert find_braking_into_full([(0.0, calm)]) == []
