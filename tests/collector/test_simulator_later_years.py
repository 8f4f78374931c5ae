"""Seasons two and three of the flatbed: fills, tests and typed evenings, against the demo story."""

from __future__ import annotations

from datetime import date

import numpy as np
import pyarrow as pa
import pytest

from collector.day_figures import read_day
from collector.simulator import later_years, staged
from collector.simulator.cell import Floats
from collector.simulator.daylog import DayLog


def column(table: pa.Table, name: str) -> Floats:
    return np.asarray(table[name].to_numpy(), dtype=float)


@pytest.fixture(scope="module")
def logs() -> list[DayLog]:
    return [log for day in later_years.live_later_years(2) for log in day]


def test_two_fills_and_six_tests(logs: list[DayLog]) -> None:
    """A test has a charge on either side; of each season's first fill there is one log."""
    days = [log.start.date() for log in logs]

    assert [days.count(day) for day in later_years.TESTS] == [3] * 6
    assert [days.count(day) for day in later_years.SPRING_FILLS] == [1, 1]
    assert [log.kind for log in logs].count("") == 6


def test_the_tests_give_what_the_pack_holds(logs: list[DayLog]) -> None:
    """99.8 Ah in the autumn of season two, 97.9 Ah in that of season three, and down all along."""
    held = {log.start.date(): -column(log.table, "current_a").clip(max=0).sum() / 3600
            for log in logs if log.kind == ""}

    assert held[date(2027, 10, 24)] == pytest.approx(99.8, abs=0.3)
    assert held[date(2028, 10, 22)] == pytest.approx(97.9, abs=0.3)
    assert (np.diff([held[day] for day in sorted(held)]) < -0.2).all()
    assert staged.truth_on(date(2027, 10, 24)).level_capacity_ah == 99.8


def test_in_spring_cell_14_is_last_to_fill(logs: list[DayLog]) -> None:
    """Two amp-hours behind after the winter: 0.6 mA over five months; level in the autumn."""
    spring, autumn = (next(log for log in logs if log.start.date() == day and log.kind == "charge")
                      for day in (later_years.SPRING_FILLS[0], later_years.TESTS[2]))
    behind_ah = staged.traits_on(spring.start.date(), 2).leak_a * 24 * 159

    assert behind_ah[staged.LEAKY_CELL - 1] == pytest.approx(2.3, abs=0.1)
    assert last_to_fill(spring) == staged.LEAKY_CELL
    assert last_to_fill(autumn) is None


def last_to_fill(log: DayLog) -> int | None:
    """The cell that is 20 mV or more below the others as the amps end."""
    row = int(np.flatnonzero(column(log.table, "current_a") > 3)[-1])
    cells = np.array([column(log.table, f"cell_{n:02d}_v")[row] for n in range(1, 17)])
    return int(np.argmin(cells)) + 1 if np.median(cells) - cells.min() > 0.02 else None


def test_evenings_are_typed_in_words_that_can_be_read() -> None:
    """About 336 working days, one in twenty forgotten; 85 to 105 Wh/km; never on a test's day."""
    evenings = list(later_years.evenings(2))
    days = [read_day(evening.words) for evening in evenings]

    assert 320 < len(evenings) < 345
    assert not {evening.day for evening in evenings} & {*later_years.TESTS}
    assert all(day.high_pct == 100 and day.low_pct < 95 for day in days)
    rate = sum(day.out_wh for day in days) / sum(day.distance_m for day in days) * 1000
    assert 85 < rate < 105
    assert evenings == list(later_years.evenings(2)) != list(later_years.evenings(3))
