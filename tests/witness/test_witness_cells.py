"""Cells of a simulated pack: what set in between two weeks is found, sized, and nothing else."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from analysis.cells.features import CellDigest
from analysis.cells.story import CellFinding
from analysis.cells.summary import CELL_PARTS, CellReport, find_cells
from analysis.digest import LogDigest, digest_log
from analysis.estimate import Estimate
from analysis.telemetry import Telemetry
from tests.witness.packs import DISPLAY_AH, WEEKS, logs_of, truth_of

#: Cells that changed: fuller than its mates, smaller, more resistive.
AHEAD, SMALL, RESISTIVE = 5, 9, 13


@cache
def digests(name: str) -> list[LogDigest]:
    return [digest_log(log.telemetry, f"{name} {k}", parts=CELL_PARTS)
            for k, log in enumerate(logs_of(name))]


@cache
def report() -> CellReport:
    return find_cells([d for name in WEEKS for d in digests(name)], capacity_ah=DISPLAY_AH)


def finding(cell: int) -> CellFinding:
    (found,) = [f for f in report().findings if f.cell == cell]
    return found


def apart(name: str, key: str, cell: int) -> float:
    """A cell's true figure above the middle cell's."""
    values = np.array(truth_of(name)[key])
    return float(values[cell - 1] - np.median(values))


def test_a_healthy_week_raises_nothing() -> None:
    """Cells that spread by 0.7 % in capacity and 3 % in resistance are no finding."""
    assert find_cells(digests(WEEKS[0]), capacity_ah=DISPLAY_AH).findings == ()


def test_nothing_but_what_changed_is_told() -> None:
    """Three cells changed; no other is named."""
    assert {f.cell for f in report().findings} == {AHEAD, SMALL, RESISTIVE}


def test_the_cell_that_is_ahead_is_found_and_sized() -> None:
    """A charge offset of 1 % of the capacity, to a tenth of itself."""
    found = finding(AHEAD)

    assert (found.kind, found.verdict) == ("charge_offset", "yes")
    assert isinstance(found.size, Estimate)
    truth = apart(WEEKS[1], "ahead_ah", AHEAD)
    assert found.size.value == pytest.approx(truth, rel=0.1)
    assert found.size.low <= truth <= found.size.high


def test_the_resistive_cell_is_found_and_sized() -> None:
    """A busbar's tenth of a milliohm, 11 % of the cell, to a fifth of itself."""
    found = finding(RESISTIVE)

    assert (found.kind, found.verdict) == ("high_resistance", "yes")
    assert isinstance(found.size, Estimate)
    truth = apart(WEEKS[1], "contact_mohm", RESISTIVE)
    assert found.size.value == pytest.approx(truth, rel=0.2)


def lacking(cell: int) -> float:
    """Amp-hours of capacity that a cell lacks against the middle one after the change."""
    return -apart(WEEKS[1], "capacity_ah", cell)


def test_the_small_cell_is_found_and_sized() -> None:
    """3.5 % less capacity, in the week in which it set in; what was before does not speak."""
    found = finding(SMALL)

    assert (found.kind, found.verdict) == ("low_capacity", "yes")
    assert isinstance(found.size, Estimate)
    assert found.size.low <= lacking(SMALL) <= found.size.high


def test_the_small_cell_is_seen_behind_near_empty() -> None:
    """It shows when a charge sets out from empty, and is level near full."""
    last = digests(WEEKS[1])[-1].of(CellDigest)

    assert last.bottom_ah[SMALL - 1] == min(last.bottom_ah)
    assert last.bottom_ah[SMALL - 1] == pytest.approx(-lacking(SMALL), rel=0.4)
    assert abs(last.top_ah[SMALL - 1]) < 0.3


@pytest.mark.parametrize("name", WEEKS)
def test_a_drive_from_full_tells_the_leads_too(name: str) -> None:
    """Under the pedal's amps, from the first drive behind a full charge: within 0.1 Ah."""
    told = np.array(digests(name)[1].of(CellDigest).top_ah)
    truth = np.array([apart(name, "ahead_ah", cell) for cell in range(1, len(told) + 1)])

    assert told == pytest.approx(truth, abs=0.1)


def with_lead(telemetry: Telemetry, cell: int, mohm: float) -> Telemetry:
    """A joint of a sense lead that the amps run through: more on one cell, less on the next."""
    drop_v = telemetry["current_a"] * mohm / 1000
    low, high = f"cell_{cell:02d}_v", f"cell_{cell + 1:02d}_v"
    return telemetry.having(**{low: np.round(telemetry[low] + drop_v, 3),
                               high: np.round(telemetry[high] - drop_v, 3)})


@pytest.mark.parametrize("cell", [1, 3, 7, 15])
@pytest.mark.parametrize("mohm", [-0.4, 0.1, 0.4])
def test_a_joint_of_a_lead_is_found_sized_and_nothing_else(cell: int, mohm: float) -> None:
    """Over drives down to the knee, beside the cells that changed; also where the pair holds the
    middle cell, which all are told by: it is not taken for another pack."""
    week_2 = [digest_log(with_lead(log.telemetry, cell, mohm), f"lead {k}", parts=CELL_PARTS)
              for k, log in enumerate(logs_of(WEEKS[1]))]
    found = find_cells([*digests(WEEKS[0]), *week_2], capacity_ah=DISPLAY_AH)
    [lead] = [f for f in found.findings if f.kind == "sense_lead"]

    assert found.breaks == ()
    assert {f.cell for f in found.findings} == {AHEAD, SMALL, RESISTIVE, cell}
    assert isinstance(lead.size, Estimate)
    assert lead.size.low <= abs(mohm) <= lead.size.high
    assert lead.size.half_width < 0.1 * abs(mohm) + 0.006


@pytest.mark.parametrize("name", WEEKS)
def test_leads_near_empty_say_how_far_driving_pulls_them_to_level(name: str) -> None:
    """Behind the pedal's drives to the knee: told at 0.4 to 1.0 of the truth, and the interval
    reaches as far; of 95 in 100 cells."""
    full = np.add(truth_of(name)["capacity_ah"], truth_of(name)["ahead_ah"])
    truth = full - np.median(full)
    held = []
    for k in (6, 7):
        told = digests(name)[k].of(CellDigest)
        ahead, sd, further = map(np.array, (told.bottom_ah, told.bottom_sd_ah,
                                            told.bottom_further_ah))
        known = np.isfinite(ahead)
        held += list(((ahead - 2 * sd + np.minimum(further, 0) <= truth)
                      & (truth <= ahead + 2 * sd + np.maximum(further, 0)))[known])

    assert len(held) > 30
    assert np.mean(held) >= 0.95


def test_exchanged_wires_spoil_no_other_cell() -> None:
    """The wires of cell 3 in each other's place in the second week: told, and the three cells that
    changed are found as before."""
    logs = []
    for k, each in enumerate(logs_of(WEEKS[1])):
        log = each.telemetry
        below, own, above = (log[f"cell_{n:02d}_v"] for n in (2, 3, 4))
        logs.append(digest_log(log.having(cell_02_v=below + own, cell_03_v=-own,
                                          cell_04_v=own + above), f"crossed {k}", parts=CELL_PARTS))
    found = find_cells([*digests(WEEKS[0]), *logs], capacity_ah=DISPLAY_AH)

    assert found.breaks == ()
    assert {f.cell for f in found.findings} == {3, AHEAD, SMALL, RESISTIVE}
    [crossed] = [f for f in found.findings if f.cell == 3]
    assert "its two sense wires are in each other's place" in crossed.words
