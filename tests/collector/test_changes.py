"""What no pack can do from one sample to the next is told; what a pack does is not."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.changes import SURE, Changes
from collector.record import Sample

CELLS = {f"cell_{n:02d}_v": 3.3 for n in range(1, 17)}
USUAL: dict[str, float | str] = {"voltage_v": 52.3, "current_a": -23.0, "soc_pct": 91.0,
                                 "temp_1_c": 20.0, "cycles": 40.0, "state": "drive"} | CELLS
#: What a monitor says in one beat: figures, or an event.
Said = dict[str, float | str] | str


def passed(said: list[Said], step_s: float = 1.0) -> list[Sample]:
    """What goes on, one beat after the other."""
    changes, out = Changes(), []
    for n, item in enumerate(said):
        values, event = ({}, item) if isinstance(item, str) else (item, "")
        out += list(changes.take(Sample(n, n * step_s, values, event)))
    return out + list(changes.rest())


def told(samples: list[Sample]) -> list[tuple[float, str]]:
    return [(sample.monotonic_s, sample.event) for sample in samples if sample.event]


@pytest.mark.parametrize(("column", "value", "words"), [
    ("voltage_v", 523.0, "changed: volts 523, 52.3 before"),
    ("voltage_v", 52300.0, "changed: volts 52300, 52.3 before"),
    ("voltage_v", 5.23, "changed: volts 5.23, 52.3 before"),
    ("current_a", -23000.0, "changed: amps -23000, -23 before"),
    ("soc_pct", 910.0, "changed: percent 910, 91 before"),
    ("temp_1_c", 293.0, "odd: degrees C at sensor 1 293, 20 before")])
def test_another_unit_is_told_before_its_first_sample(
        column: str, value: float, words: str) -> None:
    """Once, at the time of the first sample that has it, and no sample is lost."""
    out = passed([USUAL] * 3 + [USUAL | {column: value}] * 12)

    assert [(at_s, event[:len(words)]) for at_s, event in told(out)] == [(3.0, words)]
    assert [sample.values.get(column) for sample in out if sample.values] == (
        [USUAL[column]] * 3 + [value] * 12)
    assert out[3].event


@pytest.mark.parametrize("other", [
    {"voltage_v": 523.0}, {"current_a": 30000.0}, {"soc_pct": 255.0}, {"temp_1_c": 200.0}])
def test_a_bad_reading_that_comes_alone_is_a_row(other: dict[str, float | str]) -> None:
    """Kept in its place, without an event."""
    out = passed([USUAL] * 3 + [USUAL | other] * (SURE - 1) + [USUAL] * 3)

    assert told(out) == []
    assert [sample.monotonic_s for sample in out] == [float(n) for n in range(8)]


@pytest.mark.parametrize("other", [
    {"voltage_v": 40.0, "current_a": -210.0}, {"soc_pct": 12.0}, {"current_a": 230.0},
    {"voltage_v": 0.2, "current_a": 0.0}, {"cell_07_v": 0.0}, {"temp_1_c": -20.0}])
def test_what_a_pack_does_is_no_change(other: dict[str, float | str]) -> None:
    """Sag, a count set right, a pedal, an open path, a loose tap, frost."""
    assert told(passed([USUAL] * 3 + [USUAL | other] * 20 + [USUAL] * 3)) == []


def test_volts_that_fade_behind_an_open_path_are_no_change() -> None:
    """They pass a tenth of what they were, and do not stay there."""
    closed: Said = {"voltage_v": 52.3, "current_a": -5.0}
    fading: list[Said] = [{"voltage_v": 6.5 * 0.93**n, "current_a": 0.0} for n in range(60)]

    assert told(passed([*[closed] * 3, *fading, *[closed] * 20])) == []


@pytest.mark.parametrize(("other", "words"), [
    ({"soc_pct": 40.0}, "changed: percent 40, 91 before"),
    ({"cycles": 7.0}, "changed: cycles 7, 40 before"),
    ({"cell_16_v": "none"}, "changed: 15 cells are told, 16 before")])
@pytest.mark.parametrize("loss", ["link lost: unplugged", "silent: nothing was heard for 12 s"])
def test_after_a_break_it_may_be_another_pack(
        other: dict[str, float | str], words: str, loss: str) -> None:
    """Percent, cycles and cells tell packs apart that the same monitor could speak of."""
    now = {name: value for name, value in (USUAL | other).items() if value != "none"}
    events = told(passed([*[USUAL] * 3, loss, *[now] * 5]))

    assert [event[:len(words)] for _, event in events] == [loss[:len(words)], words]


def test_the_same_pack_after_a_break_is_the_same() -> None:
    """An hour of charging moves percent, and nothing is said."""
    assert len(told(passed([*[USUAL] * 3, "link lost: x", *[USUAL | {"soc_pct": 89.0}] * 5]))) == 1
    assert len(told(passed([USUAL | {"soc_pct": 20.0}, "link lost: x", USUAL], 3600.0))) == 1


def test_one_cell_fewer_without_a_break_is_odd() -> None:
    """A tap that came off is no other pack."""
    fewer = {name: value for name, value in USUAL.items() if name != "cell_16_v"}

    assert told(passed([USUAL] * 3 + [fewer] * 5)) == [(3.0, "odd: 15 cells are told, 16 before")]


def test_cells_told_in_turn_are_no_change() -> None:
    """Some monitors tell half of them in each frame."""
    first, second = ({f"cell_{n:02d}_v": 3.3 for n in group} for group in (
        range(1, 9), range(9, 17)))

    assert told(passed([first, second] * 10)) == []


def test_what_says_nothing_of_a_doubt_waits_with_it() -> None:
    """Frames with volts and frames with cells in turn: order is kept, and the doubt decided."""
    volts: list[Said] = [{"voltage_v": 52.0}, {"temp_1_c": 20.0}]
    out = passed(volts * 3 + [{"voltage_v": 520.0}, {"temp_1_c": 20.0}] * 4)

    assert [event[:7] for _, event in told(out)] == ["changed"]
    assert [sample.monotonic_s for sample in out if sample.values] == [float(n) for n in range(14)]


says = st.one_of(
    st.sampled_from(["link lost: x", "link back: x", "mark: x"]),
    st.fixed_dictionaries({}, optional={
        "voltage_v": st.sampled_from([52.0, 51.0, 520.0, 0.1, 5.2]),
        "current_a": st.sampled_from([-20.0, 4000.0]), "soc_pct": st.sampled_from([90.0, 20.0]),
        "cell_01_v": st.sampled_from([3.3, 3300.0]), "state": st.just("drive")}))


@settings(derandomize=True, deadline=None, max_examples=300)
@given(st.lists(says, max_size=60))
def test_nothing_is_lost_and_the_order_stays(said: list[Said]) -> None:
    """Whatever comes: all of it goes on, in its order, with events added and nothing else."""
    out = passed(said)
    mine = [sample for sample in out if not sample.event.startswith(("changed", "odd"))]

    assert [sample.monotonic_s for sample in mine] == [float(n) for n in range(len(said))]
    assert [sample.event or dict(sample.values) for sample in mine] == [
        item or {} for item in said]
