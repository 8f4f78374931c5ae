"""The pattern that cells share from day to day is taken off, and nothing else."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.cells.day_pattern import CELLS_MIN, without_day_pattern
from analysis.telemetry import Floats

LOGS, CELLS = 6, 16


def spells(rng: np.random.Generator, noise: float = 0.002) -> tuple[Floats, Floats, Floats]:
    """Two spells of ratios that part by a few percent with the day, and how far on each day."""
    warmth, day = rng.normal(0, 0.03, CELLS), rng.uniform(0.5, 1.5, 2 * LOGS)
    table = 1 - np.outer(day, warmth) + rng.normal(0, noise, (2 * LOGS, CELLS))
    return table[:LOGS], table[LOGS:], day


@pytest.mark.parametrize("seed", range(5))
def test_what_cells_share_from_day_to_day_is_gone(seed: int) -> None:
    """A ratio that wandered by percents stands still to its own noise, where it was on the mean."""
    before, now, _ = spells(np.random.default_rng(seed))
    still_before, still_now = without_day_pattern(before, now)

    assert still_before.std(axis=0).max() < 0.005 < before.std(axis=0).max()
    both = np.concatenate([still_before, still_now])
    assert both.mean(axis=0) == pytest.approx(np.concatenate([before, now]).mean(axis=0))


@pytest.mark.parametrize("seed", range(5))
def test_a_cell_that_changed_keeps_its_change(seed: int) -> None:
    """A tenth more from the second spell on stays a tenth, for that cell and for no other; a
    change of two neighbours in opposite ways stays too."""
    before, now, _ = spells(np.random.default_rng([seed, 1]))
    grown = np.zeros(CELLS)
    grown[3], grown[8], grown[9] = 0.10, 0.08, -0.08
    still_before, still_now = without_day_pattern(before, now + grown)

    assert still_now.mean(axis=0) - still_before.mean(axis=0) == pytest.approx(grown, abs=0.02)


@pytest.mark.parametrize("seed", range(5))
def test_a_pair_far_out_of_the_days_is_no_pattern(seed: int) -> None:
    """A lead's ohms do not grow with the cold, so that against the cells they swing from day to day
    by more than the cells: the pair keeps its change, and its mates none of it."""
    rng = np.random.default_rng([seed, 2])
    before, now, _ = spells(rng)
    swing = np.zeros((LOGS, CELLS))
    swing[:, 8] = 0.5 * rng.uniform(0.7, 1.3, LOGS)
    swing[:, 9] = -swing[:, 8]
    still_before, still_now = without_day_pattern(before, now + swing)

    assert still_now.mean(axis=0) - still_before.mean(axis=0) == pytest.approx(
        swing.mean(axis=0), abs=0.1)
    others = np.delete(still_now.mean(axis=0) - still_before.mean(axis=0), [8, 9])
    assert np.abs(others).max() < 0.02


def test_days_that_differ_between_the_spells_make_no_change() -> None:
    """Cells far apart in all of the second spell, for it was cold: no cell grew."""
    rng = np.random.default_rng(9)
    before, now, _ = spells(rng)
    now = 1 + 2 * (now - 1)
    change = np.subtract(*[part.mean(axis=0) for part in without_day_pattern(before, now)])

    assert np.abs(now.mean(axis=0) - before.mean(axis=0)).max() > 0.03
    assert np.abs(change).max() < 0.012


def test_few_cells_and_missing_ones_are_left_alone() -> None:
    """Figures of a short string stay as they are, and so does a cell that is missing at times."""
    before, now, _ = spells(np.random.default_rng(4))
    few = before[:, :CELLS_MIN - 1], now[:, :CELLS_MIN - 1]
    assert np.array_equal(without_day_pattern(*few), few)

    before[2, 5] = np.nan
    holed = without_day_pattern(before, now)
    assert np.array_equal(holed[0][:, 5], before[:, 5], equal_nan=True)
    assert np.array_equal(holed[1][:, 5], now[:, 5])
    assert not np.array_equal(holed[1][:, 6], now[:, 6])
