"""The report card of a fill, from one log."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.incidents.fills import Fill, LogFills, fills_digest
from analysis.stored import as_plain, from_plain
from analysis.telemetry import Telemetry
from tests.analysis.incidents.test_charge_stop import END, charge


def only(telemetry: Telemetry) -> Fill:
    (found,) = fills_digest(telemetry).fills
    return found


def test_a_tail_is_counted_in_minutes() -> None:
    """Steady for ten minutes, then falling evenly from 25 to 4 A in ten: 95 % of 25 A is passed
    36 s after the fall begins, so 9.4 minutes are tail."""
    fill = only(charge(end_a=4.0, top_v=3.47))

    assert fill.ending == "tail"
    assert fill.tail_s == pytest.approx(600 - 600 * 1.25 / 21, abs=2.0)
    assert fill.usual_a == pytest.approx(25.0)
    assert fill.final_a == pytest.approx(4.0, abs=0.2)


def test_what_flowed_in_is_counted() -> None:
    """Twenty minutes at 25 A are 8.3 Ah (amps times hours)."""
    assert only(charge()).into_ah == pytest.approx(25 / 3, rel=0.002)


def test_the_cells_are_told_in_their_order() -> None:
    """Cell 6 on top, with what it stands above the middle one."""
    fill = only(charge(top_v=3.60))

    assert fill.ending == "first_cell"
    assert fill.order[0] == 6
    assert len(fill.order) == 16
    assert fill.above_v == pytest.approx(0.18, abs=0.01)
    assert fill.tail_s < 5.0


def test_a_charge_that_goes_on_is_unseen() -> None:
    """The log ends before the charge: there is a card, but nobody saw how it ended."""
    whole = charge()

    assert only(whole.between(0, 1000)).ending == "unseen"
    assert only(whole.between(0, 1000)).end_s == 1000.0


def test_short_flows_are_no_fill() -> None:
    """Braking, or a minute of charging."""
    assert fills_digest(charge().between(END - 200, 1499)).fills == ()


def test_without_cells_and_percent_the_rest_is_told() -> None:
    """What a log lacks is NaN or empty, never made up."""
    whole = charge(end_a=4.0)
    plain = Telemetry(whole.start, whole.elapsed_s, {"current_a": whole["current_a"]})
    fill = only(plain)

    assert fill.order == ()
    assert all(map(math.isnan, (fill.high_v, fill.above_v, fill.percent_start)))
    assert fill.ending == "tail"
    assert fills_digest(Telemetry(whole.start, whole.elapsed_s, {})).fills == ()


def test_a_gap_adds_nothing() -> None:
    """Half the charge unseen: only what was seen is counted."""
    whole = charge()
    keep = (whole.elapsed_s < 300) | (whole.elapsed_s > 900)
    broken = Telemetry(whole.start, whole.elapsed_s[keep],
                       {name: values[keep] for name, values in whole.columns.items()})

    assert only(broken).into_ah == pytest.approx(25 * 600 / 3600, rel=0.01)
    assert np.isfinite(only(broken).tail_s)


def test_a_card_can_be_kept() -> None:
    """It comes back from plain data as it was."""
    found = fills_digest(charge(top_v=3.60))

    assert from_plain(LogFills, as_plain(found)) == found
