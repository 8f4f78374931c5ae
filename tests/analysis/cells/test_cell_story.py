"""Findings of charge and capacity from dated digests, hand-made."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from analysis.cells.features import CellDigest
from analysis.cells.story import (
    CellFinding,
    Dated,
    bleeding_hours,
    cell_states,
    charge_findings,
)
from analysis.estimate import Estimate

CELLS = 8
DAY_S = 86_400.0


def dated(day: float, top: dict[int, float] | None = None,
          bottom: dict[int, float] | None = None) -> Dated:
    """A log of a 100 Ah pack in which the named cells are ahead; level where an end was seen."""
    none, zero = (math.nan,) * CELLS, (0.0,) * CELLS

    def row(ahead: dict[int, float] | None) -> tuple[float, ...]:
        return none if ahead is None else tuple(ahead.get(n + 1, 0.0) for n in range(CELLS))

    return Dated(day * DAY_S, CellDigest(
        tuple(range(1, CELLS + 1)), False, 100.0, row(top), (0.1,) * CELLS, row(bottom),
        (0.2,) * CELLS, none, none, none, none, zero, (), 20.0, 0.0))


def found(logs: list[Dated]) -> list[CellFinding]:
    return [f for state in cell_states(logs) for f in charge_findings(state, 0.06)]


def test_ahead_at_both_ends_is_out_of_balance() -> None:
    """2.6 Ah ahead near full and near empty: curable, 43 h at 60 mA (arithmetic of the trade)."""
    findings = found([dated(n, {6: 2.6}) for n in range(6)] + [dated(6, {6: 2.6}, {6: 2.6})])

    assert [(f.cell, f.kind, f.verdict) for f in findings] == [(6, "charge_offset", "yes")]
    assert findings[0].figures["bleeding_h"]["value"] == pytest.approx(43.3, abs=0.1)


def test_without_the_low_end_it_is_not_told_apart() -> None:
    """First to be full may be a small cell; the cheapest next measurement is named."""
    findings = found([dated(n, {6: 2.6}) for n in range(6)])

    assert [(f.kind, f.verdict) for f in findings] == [("charge_offset", "cannot tell yet")]
    assert "knee" in findings[0].next


def test_ahead_near_full_and_behind_near_empty_is_small() -> None:
    """Top ahead by 1, bottom behind by 4: it lacks about 5 Ah, no charging cures that."""
    findings = found([dated(0, {3: 1.0}, {3: -4.0})])

    assert [(f.cell, f.kind, f.verdict) for f in findings] == [(3, "low_capacity", "yes")]
    assert isinstance(findings[0].size, Estimate)
    # Leads are seen in the middle of stretches of 12 %, so the rest lies outside.
    assert findings[0].size.value == pytest.approx(5 / 0.88)


def test_what_driving_pulls_to_level_widens_the_lack_outwards() -> None:
    """Behind by 4, and by up to 2 more: no less is lacking than without, but more may be."""
    plain = dated(0, {3: 1.0}, {3: -4.0})
    pulled = replace(plain, digest=replace(plain.digest, bottom_further_ah=tuple(
        0.5 * ahead for ahead in plain.digest.bottom_ah)))
    (sure,), (wide,) = found([plain]), found([pulled])

    assert isinstance(sure.size, Estimate)
    assert isinstance(wide.size, Estimate)
    assert (wide.size.value, wide.size.low) == (sure.size.value, sure.size.low)
    assert wide.size.high == pytest.approx(sure.size.high + 2 / 0.88)


def test_what_was_before_a_change_does_not_outvote_it() -> None:
    """Four looks at a sound cell, then two at one that lacks 4 Ah: the two are its size."""
    logs = [dated(3 * n, {}, {3: -4.0 if n > 3 else 0.0}) for n in range(6)]
    findings = found(logs)

    assert [(f.cell, f.kind) for f in findings] == [(3, "low_capacity")]
    assert isinstance(findings[0].size, Estimate)
    assert findings[0].size.value == pytest.approx(4 / 0.88)


def test_behind_near_empty_only_is_not_told_apart() -> None:
    """A cell that empties first is small or out of balance."""
    findings = found([dated(n, None, {3: -4.0}) for n in range(3)])

    assert [(f.kind, f.verdict) for f in findings] == [("low_capacity", "cannot tell yet")]


def test_falling_behind_week_by_week_is_a_leak() -> None:
    """1.5 Ah a month, charges every third day."""
    findings = found([dated(3 * n, {4: -1.5 * 3 * n / 30.44}) for n in range(14)])

    assert [(f.cell, f.kind) for f in findings] == [(4, "self_leak")]
    assert isinstance(findings[0].size, Estimate)
    assert findings[0].size.value == pytest.approx(1.5, rel=0.05)


def test_a_cell_that_is_bled_down_to_its_mates_does_not_leak() -> None:
    """From 2.6 Ah ahead to level: the offset is over, and nothing leaks."""
    findings = found([dated(n, {6: max(0.0, 2.6 - 0.15 * n)}, {6: 2.6} if n == 0 else None)
                      for n in range(30)])

    assert [(f.kind, f.is_current) for f in findings] == [("charge_offset", False)]


def test_behind_after_a_winter_is_a_leak_and_no_lost_capacity() -> None:
    """About 2 Ah low at the first fill of spring, after five months."""
    logs = [dated(n, {5: 0.0}) for n in range(6)] + [dated(155 + n, {5: -2.0}) for n in range(3)]
    findings = found(logs)

    assert [(f.cell, f.kind) for f in findings] == [(5, "self_leak")]
    assert "not lost capacity" in findings[0].words


def test_a_small_leak_and_small_leads_are_nothing() -> None:
    """0.4 % a month and half a percent ahead are what healthy packs do."""
    assert found([dated(2 * n, {5: -0.4 * 2 * n / 30.44, 2: 0.5}) for n in range(16)]) == []


def test_one_odd_log_is_nothing() -> None:
    """A lead must be seen twice in a row."""
    assert found([dated(n, {2: 3.0 if n == 4 else 0.0}) for n in range(9)]) == []


@pytest.mark.parametrize(("bleed", "low", "high"), [(0.06, 40.0, 46.7), (None, 12.0, 56.0)])
def test_hours_of_bleeding(bleed: float | None, low: float, high: float) -> None:
    """2.6 +- 0.2 Ah; without a known board, between 0.2 and 0.05 A."""
    hours = bleeding_hours(Estimate.around(2.6, 0.2, "Ah"), bleed)

    assert hours.value == pytest.approx(43.3, abs=0.1)
    assert (hours.low, hours.high) == pytest.approx((low, high), abs=0.1)
