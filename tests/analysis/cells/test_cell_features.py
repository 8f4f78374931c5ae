"""What one log says of its cells."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.cells.features import cell_digest
from analysis.stored import as_plain, from_plain
from analysis.telemetry import Telemetry
from tests.analysis.made_logs import log
from tests.benchmarks import cell_packs
from tests.benchmarks.cell_packs import healthy, one_log


def plateau_drive(extra_mohm: dict[int, float] | None = None, seconds: int = 900) -> Telemetry:
    """Sixteen level cells of 1.0 mohm on a flat curve, 100 A on and off, 0.1 mV noise."""
    rng = np.random.default_rng(3)
    time_s = np.arange(float(seconds))
    amps = np.where(time_s % 60 < 30, 0.0, -100.0)
    amps[:120] = amps[-120:] = 0.0
    columns = {}
    for n in range(1, 17):
        mohm = 1.0 + (extra_mohm or {}).get(n, 0.0)
        columns[f"cell_{n:02d}_v"] = 3.30 + amps * mohm / 1000 + rng.normal(0, 1e-4, seconds)
    return log(time_s, current_a=amps, **columns)


def test_a_resistive_cell_is_low_under_load_and_level_at_rest() -> None:
    """Worked example: 1.5 against 1.0 mohm at 100 A is 50 mV under load and 0 mV at rest."""
    digest = cell_digest(plateau_drive({5: 0.5}))

    assert digest.resistance_mohm[4] == pytest.approx(1.5, abs=0.01)
    assert digest.resistance_mohm[0] == pytest.approx(1.0, abs=0.01)
    assert digest.resistance_mohm[4] - digest.resistance_mohm[0] == pytest.approx(0.050 / 0.1,
                                                                                    abs=0.01)
    assert digest.rest_mv[4] == pytest.approx(0.0, abs=0.2)


def test_the_middle_tells_no_leads() -> None:
    """Mid-range, no amp-hours are told for any cell, however they spread."""
    digest = cell_digest(plateau_drive())

    assert np.isnan(digest.top_ah).all()
    assert np.isnan(digest.bottom_ah).all()


@pytest.mark.parametrize("cell", [0, 7])
def test_a_full_cell_is_ahead_by_its_amp_hours(cell: int) -> None:
    """2 Ah of 100 at the top of a charge, told within 0.4 Ah and by its own interval."""
    rng = np.random.default_rng(cell)
    pack = cell_packs.with_offset(healthy(rng), cell, 0.02)
    digest = cell_digest(one_log(pack, "top", 0, rng))
    truth = pack.ahead_ah[cell] - np.median(pack.ahead_ah)

    assert digest.top_ah[cell] == pytest.approx(truth, abs=0.4)
    assert abs(digest.top_ah[cell] - truth) < 2 * digest.top_sd_ah[cell]
    assert int(np.nanargmax(digest.top_ah)) == cell


def test_a_small_cell_is_behind_near_empty() -> None:
    """4 % less capacity shows as about 4 Ah less, in a drive to 5 %."""
    rng = np.random.default_rng(8)
    pack = cell_packs.with_less_capacity(healthy(rng), 10, 0.04)
    digest = cell_digest(one_log(pack, "bottom", 0, rng))

    assert digest.bottom_ah[10] == pytest.approx(-4.0, abs=1.0)
    assert int(np.nanargmin(digest.bottom_ah)) == 10


def test_a_frozen_and_a_dead_figure_are_named() -> None:
    """One figure stands still, one is missing; the others are judged without them."""
    drive = plateau_drive({7: 0.5})
    digest = cell_digest(drive.having(cell_03_v=np.full(len(drive), 3.301),
                                      cell_09_v=np.full(len(drive), np.nan)))

    assert digest.frozen == (3,)
    assert 9 not in digest.cells
    assert np.isnan(digest.resistance_mohm[2])
    assert digest.resistance_mohm[6] == pytest.approx(1.5, abs=0.01)


def test_no_cells_no_digest() -> None:
    """A log without single cells, or with three, has nothing to compare."""
    drive = plateau_drive()
    few = Telemetry(drive.start, drive.elapsed_s,
                    {n: v for n, v in drive.columns.items() if n in
                     ("current_a", "cell_01_v", "cell_02_v", "cell_03_v")})

    assert cell_digest(few).cells == ()
    assert cell_digest(log([0.0, 1.0], current_a=np.zeros(2))).cells == ()


def test_a_digest_survives_being_kept() -> None:
    """NaN and numbers come back from the plain form that a cache holds."""
    digest = cell_digest(plateau_drive())
    again = from_plain(type(digest), as_plain(digest))

    assert again.resistance_mohm == digest.resistance_mohm
    assert np.isnan(again.top_ah).all()
