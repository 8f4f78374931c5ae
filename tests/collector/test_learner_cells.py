"""Cells, found without anything typed because they add up to the pack."""

import numpy as np
import pytest
from numpy.typing import NDArray

from collector.learner.cells import find_cells
from collector.learner.columns import TextColumns
from collector.learner.text_cells import find_text_cells

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


def test_bytes_that_fill_a_frame_up_are_no_differences() -> None:
    """One cell's volts with zeros behind it go as the pack does, and are still one cell."""
    highest = cells_v().max(axis=1, keepdims=True)
    frames = np.hstack([noise(3), as_bytes(highest, "big"), np.zeros((FRAMES, 20), np.uint8)])

    assert not find_cells(frames, np.round(cells_v().sum(axis=1), 2), set())


def test_nothing_adds_up_to_other_volts() -> None:
    """Cells of another pack are no cells of this one."""
    frames = np.hstack([noise(5), as_bytes(cells_v(), "big")])

    assert not find_cells(frames, 2 * cells_v().sum(axis=1), set())


@pytest.mark.parametrize("order", ["big", "little"])
@pytest.mark.parametrize("base_mv", [1000, 1700])
def test_cells_above_a_constant(order: str, base_mv: int) -> None:
    """Millivolts less a constant: the one round constant that makes the pack is found."""
    frames = np.hstack([noise(5), as_bytes(cells_v() - base_mv / 1000, order), noise(4)])
    (found,) = find_cells(frames, np.round(cells_v().sum(axis=1), 2), set())

    assert (found.at, found.count, found.offset) == (5, COUNT, base_mv / 1000)
    assert np.abs(found.values_v(frames) - cells_v()).max() < 0.00051


def test_coarse_cells_of_one_byte() -> None:
    """Steps of 20 mV from zero on."""
    raw = np.round(cells_v() / 0.02).astype(np.uint8)
    frames = np.hstack([noise(3), raw, noise(2)])
    (found,) = find_cells(frames, np.round(cells_v().sum(axis=1), 2), set())

    assert (found.at, found.count, found.scale, found.offset) == (3, COUNT, 0.02, 0.0)


def test_bytes_that_go_with_the_pack_but_add_up_to_none() -> None:
    """No round constant makes the pack of these: nothing is claimed."""
    frames = np.hstack([noise(5), as_bytes(cells_v() - 1.75, "big"), noise(4)])

    assert not find_cells(frames, np.round(cells_v().sum(axis=1), 2), set())


def lines_of(keys: list[int | str], figures: NDArray[np.float64]) -> TextColumns:
    """Lines with a value under each key."""
    table = {key: figures[:, k] for k, key in enumerate(keys)}
    return TextColumns(table, np.arange(len(figures), dtype=float))


@pytest.mark.parametrize(("keys", "table"), [
    ([f"cell{n}" for n in range(1, 17)],
     {"name": "cell_{n}_v", "key": "cell{n}", "key_first": 1, "count": 16, "scale": 0.001}),
    ([f"pack.cells.{n}" for n in range(16)],
     {"name": "cell_{n}_v", "key": "pack.cells.{n}", "key_first": 0, "count": 16,
      "scale": 0.001}),
    (list(range(3, 19)), {"name": "cell_{n}_v", "at": 3, "count": 16, "scale": 0.001}),
])
def test_cells_in_lines_of_text(keys: list[int | str], table: dict[str, object]) -> None:
    """Keys or positions that count, in millivolts, become one field of a group."""
    columns = lines_of([*keys, "warm"], np.hstack([np.round(1000 * cells_v()),
                                                   np.full((FRAMES, 1), 21.0)]))
    (found,) = find_text_cells(columns, np.round(cells_v().sum(axis=1), 2), set())

    assert found.tables() == [table]
    assert np.abs(found.values_v - cells_v()).max() < 0.00051


def test_cells_under_keys_with_zeros_in_front() -> None:
    """A description cannot count such keys: each cell has a field of its own."""
    keys: list[int | str] = [f"c{n:02d}" for n in range(1, 17)]
    (found,) = find_text_cells(lines_of(keys, cells_v()), cells_v().sum(axis=1), set())

    assert len(found.tables()) == COUNT
    assert found.tables()[8] == {"name": "cell_09_v", "key": "c09"}


def test_the_lowest_cell_beside_the_cells_is_a_rival() -> None:
    """A meter that reads 60 mV high agrees with neither: a neighbour keeps the answer open."""
    lowest = cells_v().min(axis=1, keepdims=True)
    columns = lines_of(list(range(17)), np.hstack([lowest, cells_v()]))

    assert len(find_text_cells(columns, cells_v().sum(axis=1) + 0.06, set())) > 1


def behind_leads(count: int, leads_ohm: float) -> tuple[NDArray[np.float64], ...]:
    """Some cells, the amps, and the pack's volts to the centivolt behind leads that take some."""
    amps = -40 - 30 * np.sin(np.arange(FRAMES) / 9)
    own_v = np.round(cells_v()[:, :count], 3)
    return own_v, amps, np.round(own_v.sum(axis=1) + leads_ohm * amps, 2)


@pytest.mark.parametrize("turn", [1, -1])
def test_what_leads_take_is_no_part_of_the_cells(turn: int) -> None:
    """Eight cells behind 5 milliohm miss the pack's volts as the amps do, of either sign."""
    own_v, amps, pack_v = behind_leads(8, 0.005)
    frames = np.hstack([noise(5), as_bytes(own_v, "big"), noise(4)])
    (found,) = find_cells(frames, pack_v, set(), turn * amps)

    assert (found.at, found.count) == (5, 8)
    assert found.miss.rms_v < 0.004
    assert not find_cells(frames, pack_v, set())


def test_the_lowest_cell_once_more_adds_up_less_well() -> None:
    """Beside what leads take, the right cells agree to the rounding, others do not."""
    own_v, amps, pack_v = behind_leads(16, 0.003)
    lowest = own_v.min(axis=1, keepdims=True)
    frames = np.hstack([as_bytes(lowest, "big"), as_bytes(own_v, "big"), noise(3)])
    (found,) = find_cells(frames, pack_v, set(), amps)

    assert (found.at, found.count) == (2, 16)


def test_cells_behind_a_value_that_is_none() -> None:
    """A line's first figures are no volts of a cell: those behind them are found."""
    columns = lines_of(list(range(18)), np.hstack([
        cells_v()[:, :1], np.full((FRAMES, 1), 21.0), cells_v()]))
    (found,) = find_text_cells(columns, cells_v().sum(axis=1), set())

    assert found.place == "2..17"
