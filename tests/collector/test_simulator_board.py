"""The management board's limits and bleeding."""

import numpy as np
import pytest

from collector.simulator import board


def test_peak_amps_are_borne_for_ten_seconds() -> None:
    """212 A open the path after eleven whole seconds, 199 A never."""
    amps = np.concatenate([np.full(5, -50.0), np.full(20, -212.0)])

    assert board.over_current_index(amps, 1.0) == 15
    assert (amps[5:16] == -212).sum() == 11
    assert board.over_current_index(np.full(60, -199.0), 1.0) is None
    assert board.over_current_index(np.full(200, -212.0), 0.1) == 100


def test_short_peaks_do_not_add_up() -> None:
    """A pause starts the ten seconds anew."""
    amps = np.tile(np.concatenate([np.full(9, -212.0), [-50.0]]), 5)

    assert board.over_current_index(amps, 1.0) is None


def test_one_empty_cell_opens_the_path() -> None:
    """The lowest cell decides, not the mean."""
    volts = np.full((3, 16), 3.2)
    volts[2, 10] = 2.69

    assert board.low_cell_index(volts) == 2
    assert board.low_cell_index(volts[:2]) is None


def test_bleeding_takes_60_ma_from_high_cells_at_small_amps() -> None:
    """Above 3.40 V and above the lowest cell; never while the charger pushes hard."""
    volts = np.full(16, 3.39)
    volts[[5, 7]] = 3.45, 3.405

    assert np.flatnonzero(board.bleeding_a(volts, 0.0)).tolist() == [5, 7]
    assert board.bleeding_a(volts, 1.0)[5] == pytest.approx(0.060)
    assert not board.bleeding_a(volts, 25.0).any()
    assert not board.bleeding_a(np.full(16, 3.45), 0.0).any()
