"""Descriptions of Modbus units: what they say, and how mistakes in them are told."""

from __future__ import annotations

from typing import Any

import pytest

from collector.errors import DescriptionError
from collector.frames.modbus import frame_gap_s
from collector.frames.registers import Block, RegisterMap
from collector.monitors import description_from_tables

VOLTS = {"name": "voltage_v", "register": 10, "scale": 0.1}


def described(*fields: dict[str, Any], **modbus: Any) -> RegisterMap:
    """The register map of a unit with these fields."""
    registers = description_from_tables({
        "name": "unit", "transport": {"kind": "modbus"}, "modbus": modbus,
        "field": list(fields)}, "unit.toml").transport.registers
    assert registers is not None
    return registers


def frame(registers: RegisterMap, *words: int) -> bytes:
    return registers.frame_of(words)


def test_defaults() -> None:
    """Unit 1, holding registers, once a second."""
    registers = described(VOLTS)

    assert registers.blocks == (Block(3, 10, 1),)
    assert (registers.device_id, registers.every_s, registers.timeout_s) == (1, 1.0, 0.5)
    assert registers.read({0: [frame(registers, 521)]}) == {"voltage_v": 52.1}


def test_two_functions_are_two_blocks() -> None:
    """A field may lie in the other kind of register than the rest."""
    registers = described(VOLTS, {"name": "soc_pct", "register": 11, "function": 4})

    assert registers.blocks == (Block(3, 10, 1), Block(4, 11, 1))
    assert registers.read({0: [frame(registers, 521, 87)]}) == {"voltage_v": 52.1, "soc_pct": 87}


def test_a_direction_in_a_register_of_its_own() -> None:
    """An unsigned current gets its sign from another register."""
    registers = described({"name": "current_a", "register": 5,
                           "direction": {"register": 7, "out": 2}})

    assert registers.read({0: [frame(registers, 35, 0, 2)]}) == {"current_a": -35}
    assert registers.read({0: [frame(registers, 35, 0, 1)]}) == {"current_a": 35}


def test_a_direction_settles_the_sign() -> None:
    """Amps with a direction are negative out of the pack, as in binary frames."""
    unit = description_from_tables({
        "name": "unit", "transport": {"kind": "modbus"},
        "field": [{"name": "current_a", "register": 5, "direction": {"register": 6}}]}, "unit")

    assert unit.sign.current_a == "negative_is_discharge"


def test_a_field_that_is_told_only_sometimes() -> None:
    """A register may mean something only while another one says so."""
    registers = described({"name": "soc_pct", "register": 5,
                           "only": {"register": 6, "codes": [2]}})

    assert registers.read({0: [frame(registers, 87, 2)]}) == {"soc_pct": 87}
    assert registers.read({0: [frame(registers, 87, 1)]}) == {}


def test_cells_above_a_base_in_the_low_bytes() -> None:
    """Half a register by its mask, added to a register elsewhere."""
    registers = described({
        "name": "cell_{n}_v", "register": 20, "count": 2, "mask": 0x00FF, "scale": 0.001,
        "base": {"register": 30, "scale": 0.001}}, max_gap=20)

    assert registers.blocks == (Block(3, 20, 11),)
    assert registers.read({0: [frame(registers, 0xAA07, 0xBB0A, *[0] * 8, 3300)]}) == {
        "cell_01_v": 3.307, "cell_02_v": 3.31}


def test_power_of_ten_in_a_register() -> None:
    """The scale may be told by the unit itself."""
    registers = described(VOLTS | {"power_register": 12})

    assert registers.read({0: [frame(registers, 521, 0, 1)]}) == {"voltage_v": 521.0}


@pytest.mark.parametrize(("field", "found"), [
    ({"name": "voltage_v"}, r"unit.toml, field voltage_v, register: is missing"),
    (VOLTS | {"register": 65536}, r"register: 65536 — allowed is 0 to 65535"),
    (VOLTS | {"register": 65535, "registers": 2}, r"register: 65535 — the last register is 65535"),
    (VOLTS | {"registers": 3}, r"registers: 3 — allowed: 1, 2, 4"),
    (VOLTS | {"function": 6}, r"function: 6 — allowed: 3, 4"),
    (VOLTS | {"word_order": "mixed"}, r"word_order: 'mixed' — .*high-first, low-first"),
    (VOLTS | {"stride": 2}, r"stride: stands beside a single figure"),
    (VOLTS | {"scalle": 2}, r"scalle: unknown key — did you mean scale\?"),
    ({"name": "state", "register": 1, "power_register": 2, "words": {"1": "on"}},
     r"power_register: stands beside something"),
    (VOLTS | {"direction": {"out": 1}}, r"field voltage_v, direction, register: is missing"),
    (VOLTS | {"model": 802}, r"model: has no meaning here"),
])
def test_mistakes_are_told_by_file_and_key(field: dict[str, Any], found: str) -> None:
    """One line: where, what was found, what is allowed."""
    with pytest.raises(DescriptionError, match=found):
        described(field)


def test_one_quantity_is_described_once() -> None:
    """Two fields for one column would hide each other."""
    with pytest.raises(DescriptionError, match="voltage_v is described twice"):
        described(VOLTS, VOLTS | {"register": 11})


def test_a_map_without_fields_is_told() -> None:
    """There is nothing to read."""
    with pytest.raises(DescriptionError, match="no field"):
        described()


def test_a_sunspec_field_needs_its_model() -> None:
    """Places count from a model's first register."""
    with pytest.raises(DescriptionError, match="model: is missing"):
        described(VOLTS, sunspec="yes")


# minimalmodbus 2.1.1, serialcommunication.rst: 3.5 character times of 11 bits, 1.75 ms at most
# speeds. MODBUS over Serial Line V1.02, 2.5.1.1 (from memory) has the fixed value above 19200.
@pytest.mark.parametrize(("baud", "gap_ms"), [
    (2400, 16.0), (4800, 8.0), (9600, 4.0), (19200, 2.0), (38400, 1.75), (115200, 1.75)])
def test_frame_gap_vs_minimalmodbus(baud: int, gap_ms: float) -> None:
    """The silence between frames of a serial line."""
    assert 1000 * frame_gap_s(baud) == pytest.approx(gap_ms, abs=0.05)
