"""Cells that mean others from one log to the next: told when sure, never for wear."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from analysis.cells.features import CellDigest, cell_digest
from analysis.cells.pattern import pattern_breaks
from analysis.cells.story import Dated
from analysis.cells.summary import CELL_PARTS, find_cells
from analysis.cells.text import cells_text
from analysis.digest import LogDigest, digest_log
from analysis.telemetry import Telemetry
from tests.witness.packs import WEEKS, logs_of

DAY_S = 86_400.0


@cache
def witness(name: str) -> tuple[CellDigest, ...]:
    """Logs of a pack that another physics library simulated (tests/data/witness/SOURCE.md)."""
    return tuple(cell_digest(log.telemetry) for log in logs_of(name))


def dated(*digests: CellDigest) -> list[Dated]:
    return [Dated(n * DAY_S, digest) for n, digest in enumerate(digests)]


def placed(digest: CellDigest, order: list[int]) -> CellDigest:
    """The same with the cells told in another order."""
    return replace(digest,
                   resistance_mohm=tuple(digest.resistance_mohm[k] for k in order),
                   resistance_sd_mohm=tuple(digest.resistance_sd_mohm[k] for k in order))


def pack(seed: int, logs: int, spread: float = 0.04, sd: float = 0.005) -> list[CellDigest]:
    """An invented pack of 16 cells, its resistances known to half a percent."""
    rng = np.random.default_rng(seed)
    mohm = 0.62 * (1 + spread * rng.standard_normal(16))
    some = witness(WEEKS[0])[0]
    return [replace(some, cells=tuple(range(1, 17)), resistance_sd_mohm=(0.62 * sd,) * 16,
                    resistance_mohm=tuple(mohm * (1 + sd * rng.standard_normal(16))))
            for _ in range(logs)]


BACKWARDS = list(range(15, -1, -1))
ALONG = [*range(13, 16), *range(13)]


def test_cells_that_wear_are_the_same_cells() -> None:
    """A week before and a week after three cells changed: one fuller, one smaller, one more
    resistive."""
    assert pattern_breaks(dated(*witness(WEEKS[0]), *witness(WEEKS[1]))) == ()


@pytest.mark.parametrize(("order", "kind"), [(BACKWARDS, "turned_round"), (ALONG, "moved_along")])
def test_an_order_that_is_found_again_is_told(order: list[int], kind: str) -> None:
    """From the first log that shows it, once three have."""
    days = pack(1, 12)
    [found] = pattern_breaks(dated(*days[:6], *(placed(day, order) for day in days[6:])))

    assert (found.kind, found.verdict, found.start_s) == (kind, "yes", 6 * DAY_S)


@pytest.mark.parametrize("seed", range(2, 12))
def test_another_pack_at_the_same_port_is_told(seed: int) -> None:
    """Whatever its percent says, a log late at most; the other one may be put back."""
    mine, other = pack(1, 10), pack(seed, 5)
    found = pattern_breaks(dated(*mine[:5], *other, *mine[5:]))

    assert [(b.kind, b.verdict) for b in found] == [("other_cells", "cannot tell yet")] * 2
    assert [round(b.start_s / DAY_S) - day for b, day in zip(found, (5, 10), strict=True)] in (
        [0, 0], [1, 0], [0, 1])


@pytest.mark.parametrize("seed", range(1, 11))
def test_packs_whose_cells_are_too_alike_are_not_told_apart(seed: int) -> None:
    """Cells that spread by half a percent, known to half a percent."""
    assert pattern_breaks(dated(*pack(seed, 6, 0.005), *pack(seed + 50, 6, 0.005))) == ()


def test_two_cells_and_two_logs_are_not_enough() -> None:
    """Two that change places may be a lead, and two odd days may be anything."""
    days = pack(1, 12)
    two = [1, 0, *range(2, 16)]

    assert pattern_breaks(dated(*days[:6], *(placed(day, two) for day in days[6:]))) == ()
    odd = [placed(day, BACKWARDS) for day in days[6:8]]
    assert pattern_breaks(dated(*days[:6], *odd, *days[8:])) == ()


@cache
def digested(turned: bool) -> tuple[LogDigest, ...]:
    """Two weeks, the second one told from the other end."""
    made = []
    for week, name in enumerate(WEEKS):
        for k, log in enumerate(logs_of(name)):
            telemetry = log.telemetry
            names = telemetry.cells
            if turned and week:
                cells = {a: telemetry[b] for a, b in zip(names, names[::-1], strict=True)}
                telemetry = telemetry.having(**cells)
            made.append(digest_log(later(telemetry, week), f"{week} {k}", parts=CELL_PARTS))
    return tuple(made)


def later(telemetry: Telemetry, weeks: int) -> Telemetry:
    return replace(telemetry, start=telemetry.at(7 * weeks * DAY_S))


def test_the_report_begins_anew_behind_a_break() -> None:
    """What was said of a number before belongs to another cell."""
    report, sound = (find_cells(digested(turned), capacity_ah=100.0) for turned in (True, False))
    [found] = report.as_json("x")["breaks"]

    assert sound.breaks == ()
    assert found["kind"] == "turned_round"
    assert "the cells are told from the other end" in cells_text(report)
    assert all(finding.first_s >= report.breaks[0].start_s for finding in report.findings)
