"""Cells and running numbers, found without anything typed."""

import numpy as np
import pytest
from numpy.typing import NDArray

from collector.learner.series import find_cells, find_sequence

COUNT, FRAMES = 16, 400


def cells_v() -> NDArray[np.float64]:
    """Sixteen cells that sag together, a few millivolts apart."""
    rng = np.random.default_rng(1)
    amps = 40 + 30 * np.sin(np.arange(FRAMES) / 9)
    return 3.31 - 0.001 * amps[:, None] + rng.normal(0, 0.006, COUNT)


def as_bytes(values: NDArray[np.float64], order: str) -> NDArray[np.uint8]:
    raw = np.round(values * 1000).astype(">u2" if order == "big" else "<u2")
    return raw.view(np.uint8).reshape(len(values), -1)


def noise(width: int) -> NDArray[np.uint8]:
    return np.random.default_rng(4).integers(0, 256, (FRAMES, width), dtype=np.uint8)


@pytest.mark.parametrize("order", ["big", "little"])
def test_cells_are_found_because_they_add_up(order: str) -> None:
    """Place, count and order come from the pack's volts alone."""
    frames = np.hstack([noise(5), as_bytes(cells_v(), order), noise(4)])
    (found,) = find_cells(frames, np.round(cells_v().sum(axis=1), 2), set())

    assert (5, COUNT, order) == (found.at, found.count, found.form.order)
    assert np.abs(found.values_v(frames) - cells_v()).max() < 0.00051


def test_cells_as_differences_from_a_base() -> None:
    """One byte a cell above a common base of two bytes."""
    base = cells_v().min(axis=1, keepdims=True)
    above = np.round(cells_v() * 1000) - np.round(base * 1000)
    frames = np.hstack([noise(3), as_bytes(base, "big"), above.astype(np.uint8), noise(2)])
    (found,) = find_cells(frames, np.round(cells_v().sum(axis=1), 2), set())

    assert (found.at, found.count, found.base_at) == (5, COUNT, 3)
    assert np.abs(found.values_v(frames) - cells_v()).max() < 0.0011


def test_nothing_adds_up_to_other_volts() -> None:
    """Cells of another pack are no cells of this one."""
    frames = np.hstack([noise(5), as_bytes(cells_v(), "big")])

    assert not find_cells(frames, 2 * cells_v().sum(axis=1), set())


def test_a_running_number_wraps() -> None:
    """A byte that counts frames is one, a byte of noise is not."""
    frames = np.hstack([noise(3), (np.arange(FRAMES) % 256).astype(np.uint8)[:, None]])
    found = find_sequence(frames, set())

    assert found is not None
    assert found[0] == 3
    assert find_sequence(noise(8), set()) is None
