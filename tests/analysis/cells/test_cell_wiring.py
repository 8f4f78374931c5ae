"""Resistive cells, loose sense leads, dead figures."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from analysis.cells.features import CellDigest
from analysis.cells.story import Dated
from analysis.cells.wiring import (
    find_mirrors,
    frozen_figures,
    resistance_ratios,
    resistive_cells,
    resistive_leads,
    sense_leads,
)

CELLS = 16
DAY_S = 86_400.0
RNG = np.random.default_rng(5)
PLAIN = RNG.normal(0, 0.5, CELLS)


def digest(mohm: dict[int, float] | None = None, rest: dict[int, float] | None = None,
           noise: dict[int, float] | None = None, together: dict[int, float] | None = None,
           stiff: float = 1.0) -> CellDigest:
    """Cells of 0.62 mohm with a millivolt of scatter; named cells have their own figures."""
    def row(usual: float, own: dict[int, float] | None, factor: float = 1.0) -> tuple[float, ...]:
        return tuple(factor * (own or {}).get(n + 1, usual) for n in range(CELLS))

    none = (math.nan,) * CELLS
    rest_mv = tuple(PLAIN[n] + (rest or {}).get(n + 1, 0.0) for n in range(CELLS))
    return CellDigest(tuple(range(1, CELLS + 1)), False, 100.0, none, none, none, none,
                      row(0.62, mohm, stiff), (0.004,) * CELLS, rest_mv, row(0.5, noise),
                      row(0.1, together), (), 20.0, 0.0)


def logs(*digests: CellDigest) -> list[Dated]:
    return [Dated(n * DAY_S, d) for n, d in enumerate(digests)]


def test_cold_makes_no_cell_resistive() -> None:
    """All cells 45 % stiffer on some days is the weather."""
    days = logs(*(digest(stiff=1.45 if n % 3 else 1.0) for n in range(14)))

    assert resistive_cells(resistance_ratios(days)) == []


def test_a_cell_that_grew_by_a_tenth_is_told() -> None:
    """10 % against its own first logs, cold days in between; watts at the worst amps."""
    days = logs(*(digest({7: 0.682 if n >= 8 else 0.62}, stiff=1.2 if n % 2 else 1.0)
                  for n in range(16)))
    (found,) = resistive_cells(resistance_ratios(days), 46.0)

    assert (found.cell, found.kind, found.verdict) == (7, "high_resistance", "yes")
    assert "10 % more than at first" in found.words
    assert "W more heat" in found.words


def test_on_first_sight_a_resistive_cell_is_a_hint() -> None:
    """One log of a pack that may always have been so."""
    (found,) = resistive_cells(resistance_ratios(logs(digest({7: 0.93}))))

    assert (found.cell, found.verdict) == (7, "cannot tell yet")


def test_opposite_growth_of_neighbours_is_the_lead_between_them() -> None:
    """+0.05 mohm on one and -0.05 on the next is a joint of the sense lead, not two cells."""
    days = logs(*(digest({4: 0.67, 5: 0.57} if n >= 8 else None) for n in range(16)))
    ratios = resistance_ratios(days)
    (found,) = resistive_leads(ratios)

    assert (found.cell, found.kind, found.figures["cells"]) == (4, "sense_lead", [4, 5])
    assert found.size.value == pytest.approx(0.05, abs=0.005)  # type: ignore[union-attr]
    assert resistive_cells(ratios) == []


def test_a_mirror_at_rest_is_a_sense_lead() -> None:
    """18 mV up and down between two neighbours, others within a millivolt."""
    (mirror,) = find_mirrors(digest(rest={3: 18.0, 4: -18.0}))

    assert (mirror.cell, mirror.is_rattling) == (3, False)
    assert mirror.size_mv == pytest.approx(18, abs=1)


def test_a_mirror_in_a_wide_spread_is_none() -> None:
    """A day on which all cells spread by 14 mV has neighbours that happen to be opposite."""
    spread = 14.0 * (RNG.permutation(CELLS) / (CELLS - 1) - 0.5)
    wide = digest(rest={n + 1: spread[n] for n in range(CELLS)} | {14: -7.0, 15: 7.0})

    assert find_mirrors(wide) == []


def test_one_cell_off_is_no_mirror() -> None:
    """A cell that is off alone has no loose tap."""
    assert find_mirrors(digest(rest={3: 18.0})) == []


def test_rattling_makes_it_sure() -> None:
    """A mirror in one log is a hint, a rattling one is told; three logs are too."""
    still = digest(rest={3: 18.0, 4: -18.0})
    rattling = replace(digest(rest={3: 18.0, 4: -18.0}, noise={3: 2.0, 4: 2.0},
                              together={3: -0.9}))
    verdicts = [sense_leads(logs(*d))[0].verdict for d in ([still], [rattling], [still] * 3)]

    assert verdicts == ["cannot tell yet", "yes", "yes"]


def test_a_re_seated_tap_is_over() -> None:
    """Not seen in the last logs."""
    loose = digest(rest={3: 18.0, 4: -18.0})
    (found,) = sense_leads(logs(loose, loose, loose, digest(), digest(), digest()))

    assert not found.is_current


def test_a_frozen_figure_is_told() -> None:
    """Nothing watches over that cell now."""
    (found,) = frozen_figures(logs(replace(digest(), frozen=(9,))))

    assert (found.cell, found.kind) == (9, "frozen_sensor")
