"""The SunSpec battery models: found by their chain, read as the open models say."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from collector.frames.fields import Number, Row, Word
from collector.frames.modbus import (
    ModbusDecoder,
    answer_octets,
    refusal_octets,
    request_octets,
)
from collector.frames.polling import MARKER, Poll
from collector.frames.registers import Block, PowerScaled, RegisterMap, Registers
from collector.monitors import load_description

MODELS = Path(__file__).resolve().parents[1] / "data" / "sunspec" / "battery_models.csv"
MONITOR = load_description("sunspec-battery")
assert MONITOR.transport.registers is not None
BATTERY = MONITOR.transport.registers

#: The point of the standard that each column is read from, by model.
POINTS = {
    802: {"voltage_v": "V", "current_a": "A", "power_w": "W", "soc_pct": "SoC", "soh_pct": "SoH",
          "cycles": "NCyc", "cell_max_v": "CellVMax", "cell_min_v": "CellVMin", "state": "ChaSt",
          "fault": "Evt1"},
    803: {"voltage_v": "StrVAvg", "current_a": "StrA", "soc_pct": "StrSoC", "soh_pct": "StrSoH",
          "cell_max_v": "StrCellVMax", "cell_min_v": "StrCellVMin", "temp_1_c": "ModTmpMax",
          "temp_2_c": "ModTmpMin"},
    804: {"voltage_v": "V", "current_a": "A", "soc_pct": "SoC", "soh_pct": "SoH",
          "cycles": "NCyc", "cell_max_v": "CellVMax", "cell_min_v": "CellVMin",
          "temp_1_c": "ModTmpMax", "temp_2_c": "ModTmpMin", "fault": "Evt1"},
    805: {"cell_01_v": "CellV", "voltage_v": "V", "soc_pct": "SoC", "soh_pct": "SoH",
          "cycles": "NCyc", "cell_max_v": "CellVMax", "cell_min_v": "CellVMin",
          "temp_1_c": "CellTmpMax", "temp_2_c": "CellTmpMin"},
}
CODINGS = {"uint16": "unsigned", "uint32": "unsigned", "int16": "signed"}


def points_of(model: int) -> dict[str, dict[str, str]]:
    with MODELS.open(encoding="utf-8", newline="") as file:
        return {line["point"]: line for line in csv.DictReader(file)
                if line["model"] == str(model)}


def test_places_types_and_powers_vs_sunspec_models() -> None:
    """Every field lies where the SunSpec Alliance's model files put it (tests/data/sunspec)."""
    told = {model: {} for model in POINTS}
    for model, field in BATTERY.fields:
        points = points_of(model)
        point = points[POINTS[model][field.columns[0]]]
        number = field.number if isinstance(field, PowerScaled) else field
        assert isinstance(number, Number | Word)
        assert (number.place.at, number.place.length) == (
            2 * int(point["offset"]), 2 * int(point["size"]))
        if isinstance(number, Number):
            assert number.coding == CODINGS[point["type"]]
        power = points[point["scale_factor"]]["offset"] if point["scale_factor"] else None
        assert (field.power.at // 2 if isinstance(field, PowerScaled) else None) == (
            int(power) if power else None)
        told[model][field.columns[0]] = point["point"]

    assert told == POINTS


def test_not_implemented_is_missing_in_every_field() -> None:
    """0xFFFF, 0x8000 and 0xFFFFFFFF stand for "not implemented" in their types (from memory)."""
    words = {"unsigned": "f" * 8, "signed": "8000"}
    for _, field in BATTERY.fields:
        number = field.number if isinstance(field, PowerScaled) else field
        coding = number.coding if isinstance(number, Number) else "unsigned"
        digits = words[coding][:2 * number.place.length]
        assert number.missing == (int(digits, 16),)


class Unit:
    """A unit with some registers; what it lacks it refuses."""

    def __init__(self, registers: dict[int, int]) -> None:
        self.registers = registers
        self.asked: list[Block] = []

    def answer(self, block: Block) -> Registers | None:
        self.asked.append(block)
        wanted = range(block.address, block.stop)
        if not all(address in self.registers for address in wanted):
            return None
        return tuple(self.registers[address] for address in wanted)


def chain(base: int, *models: tuple[int, list[int]]) -> Unit:
    """A SunSpec device whose models stand behind each other."""
    registers = dict(enumerate(MARKER, start=base))
    at = base + 2
    for model, body in [*models, (0xFFFF, [])]:
        registers |= dict(enumerate([model, len(body), *body], start=at))
        at += 2 + len(body)
    return Unit(registers)


def model_802(**points: int) -> tuple[int, list[int]]:
    """Model 802 with some points as bare registers, the others not implemented."""
    kinds = {"int16": 0x8000, "sunssf": 0x8000}
    table = points_of(802)
    body = [kinds.get(point["type"], 0xFFFF) for point in table.values()
            for _ in range(int(point["size"]))][2:]
    for name, raw in points.items():
        body[int(table[name]["offset"]) - 2] = raw & 0xFFFF
    return 802, body


#: The worked answer: V 51.20, cells 3.312 and 3.287, A -35.4, W -1812.
WORKED = {"V": 5120, "V_SF": -2, "CellVMax": 3312, "CellVMin": 3287, "CellVAvg": 3301,
          "CellV_SF": -3, "A": -354, "A_SF": -1, "W": -1812, "W_SF": 0, "SoC": 87, "SoC_SF": 0,
          "ChaSt": 3, "Evt1": 0}
COMMON = (1, [0] * 66)


def rows_of(registers: RegisterMap, unit: Unit, rounds: int) -> list[Row]:
    poll = Poll(registers)
    rows = []
    for _ in range(rounds):
        row = poll.take(unit.answer(poll.request))
        rows += [] if row is None else [row]
    return rows


@pytest.mark.parametrize("base", [40000, 0, 50000])
def test_model_is_found_by_walking_the_chain(base: int) -> None:
    """The marker may stand at three places, and the model anywhere behind it."""
    unit = chain(base, COMMON, (103, [7] * 50), model_802(**WORKED))

    row = rows_of(BATTERY, unit, 12)[0]

    assert row == {"voltage_v": 51.2, "current_a": -35.4, "power_w": -1812.0, "soc_pct": 87.0,
                   "cell_max_v": 3.312, "cell_min_v": 3.287, "state": "discharging"} | {
                       "fault": row["fault"]}


def test_worked_answer_of_model_802() -> None:
    """V times A agrees with W to its step; the frame is that of the bytes worked by hand.

    Request and answer for offsets 34 to 47 of a model 802 at 40070, from the SunSpec model files;
    check values from pymodbus 3.16 and crccheck 1.3.1.
    """
    unit = chain(40000, (1, [0] * 66), model_802(**WORKED))
    registers = unit.answer(Block(3, 40104, 14))

    assert registers is not None
    assert answer_octets(1, 3, registers).hex(" ").upper() == (
        "01 03 1C 14 00 FF FF FF FF 0C F0 FF FF FF FF 0C D7 FF FF FF FF 0C E5 FE 9E FF FF FF FF "
        "F8 EC C5 61")
    assert abs(51.20 * -35.4 - -1812) < 1


def test_sign_is_left_undecided() -> None:
    """The models do not say which sign of A means out of the battery, and neither do we."""
    assert MONITOR.sign.current_a == "undecided"
    assert "does not say whether plus or minus" in MONITOR.words


def test_polls_ask_only_for_the_models_that_count() -> None:
    """After the walk each poll is one request of 64 registers."""
    unit = chain(40000, COMMON, (64001, [1] * 300), model_802(**WORKED))
    rows_of(BATTERY, unit, 7)

    assert unit.asked[-2:] == [Block(3, 40372, 64), Block(3, 40372, 64)]


def test_cells_of_a_small_module() -> None:
    """Model 805 tells its cells; a module of 3 gives 3, whatever the description has room for."""
    points = points_of(805)
    body = [0xFFFF] * 42 + [3312, 200, 0, 0, 3300, 201, 0, 0, 3287, 202, 0, 0]
    for name, raw in {"V": 990, "V_SF": 0xFFFE, "CellV_SF": 0xFFFD, "Tmp_SF": 0xFFFF,
                      "CellTmpMax": 202, "CellTmpMin": 200, "SoC_SF": 0, "SoH_SF": 0}.items():
        body[int(points[name]["offset"]) - 2] = raw

    rows = rows_of(BATTERY, chain(0, (805, body)), 8)

    assert rows[0] == {"cell_01_v": 3.312, "cell_02_v": 3.3, "cell_03_v": 3.287,
                       "voltage_v": 9.9, "temp_1_c": 20.2, "temp_2_c": 20.0}


def test_the_battery_model_has_the_word_over_the_string_model() -> None:
    """Where 802 and 804 both tell a quantity it is 802's; what only 804 tells is added."""
    points = points_of(804)
    body = [0xFFFF] * 46
    for name, raw in {"V": 4900, "V_SF": 0xFFFE, "ModTmpMax": 25, "ModTmpMin": 24,
                      "ModTmp_SF": 0, "A": 100, "A_SF": 0}.items():
        body[int(points[name]["offset"]) - 2] = raw

    row = rows_of(BATTERY, chain(40000, (804, body), model_802(**WORKED)), 9)[0]

    assert (row["voltage_v"], row["current_a"]) == (51.2, -35.4)
    assert (row["temp_1_c"], row["temp_2_c"]) == (25.0, 24.0)


def body_of(model: int, **points: int) -> list[int]:
    """A model's registers behind its head, the named points set and the others not implemented."""
    table = points_of(model)
    body = [0x8000 if point["type"] in ("int16", "sunssf") else 0xFFFF for point in table.values()
            for _ in range(int(point["size"]))][2:]
    for name, raw in points.items():
        body[int(table[name]["offset"]) - 2] = raw & 0xFFFF
    return body


def string(**points: int) -> tuple[int, list[int]]:
    return 804, body_of(804, V_SF=-2, A_SF=-1, SoC_SF=0, SoH_SF=0, CellV_SF=-3, ModTmp_SF=0,
                        **points)


def module(volts: int, *cells: int) -> tuple[int, list[int]]:
    shared = body_of(805, V=volts, V_SF=-2, CellV_SF=-3, Tmp_SF=0, SoC_SF=0, SoH_SF=0)[:42]
    return 805, shared + [register for cell in cells for register in (cell, 200, 0, 0)]


def test_strings_side_by_side_are_one_pack() -> None:
    """Amps add up, volts and percent are their mean; of cells and warmth the extremes.

    Two strings of 51.2 and 51.4 V: 20.0 and 15.4 A are 35.4 A (Kirchhoff's current law).
    """
    unit = chain(40000, string(V=5120, A=-200, SoC=80, SoH=98, CellVMax=3312, CellVMin=3280,
                               ModTmpMax=25, ModTmpMin=20),
                 string(V=5140, A=-154, SoC=90, SoH=96, CellVMax=3301, CellVMin=3275,
                        ModTmpMax=31, ModTmpMin=22))
    row = rows_of(BATTERY, unit, 8)[0]

    assert row == {"voltage_v": 51.3, "current_a": -35.4, "soc_pct": 85.0, "soh_pct": 96.0,
                   "cell_max_v": 3.312, "cell_min_v": 3.275, "temp_1_c": 31.0, "temp_2_c": 20.0}


def test_a_bank_tells_every_string() -> None:
    """Model 803 repeats a group for each string, behind what they share."""
    one = body_of(803, StrVAvg=5130, V_SF=-2, A_SF=-1, SoC_SF=0, CellV_SF=-3, ModTmp_SF=0,
                  ModTmpMax=25, ModTmpMin=18, StrA=-200, StrSoC=80, StrCellVMax=3312,
                  StrCellVMin=3280)
    group = body_of(803, StrA=-154, StrSoC=90, StrCellVMax=3301, StrCellVMin=3275)[26:]
    row = rows_of(BATTERY, chain(0, (803, one + group)), 6)[0]

    assert (row["current_a"], row["voltage_v"], row["soc_pct"]) == (-35.4, 51.3, 85.0)
    assert (row["cell_max_v"], row["cell_min_v"]) == (3.312, 3.275)
    assert (row["temp_1_c"], row["temp_2_c"]) == (25.0, 18.0)


def test_an_amp_that_is_not_told_makes_no_half_sum() -> None:
    """A string without amps: the pack's are not known."""
    row = rows_of(BATTERY, chain(0, string(V=5120, A=-200, CellVMax=3300), string(V=5120)), 8)[0]

    assert "current_a" not in row
    assert row["voltage_v"] == 51.2
    assert row["cell_max_v"] == 3.3


def test_modules_one_behind_the_other_number_their_cells_on() -> None:
    """Volts add up (Kirchhoff's voltage law); a cell that is not told keeps its number."""
    unit = chain(0, module(990, 3312, 0xFFFF, 3287), module(660, 3301, 3299))
    row = rows_of(BATTERY, unit, 8)[0]

    assert row == {"voltage_v": 16.5, "cell_01_v": 3.312, "cell_03_v": 3.287,
                   "cell_04_v": 3.301, "cell_05_v": 3.299}


@pytest.mark.parametrize(("unit", "problem"), [
    (Unit({}), "no SunSpec marker at register 40000, 0, 50000"),
    (chain(40000, COMMON, (103, [0] * 50)),
     "models in its chain: 1, 103; none of 802, 803, 804, 805")])
def test_what_is_not_there_is_said(unit: Unit, problem: str) -> None:
    """A device without marker or without battery is told apart, and asked on."""
    poll = Poll(BATTERY)
    problems = set()
    for _ in range(20):
        poll.take(unit.answer(poll.request))
        problems.add(poll.problem)

    assert problem in problems


def test_a_chain_that_never_ends_is_given_up() -> None:
    """A device that answers zeros everywhere behind a marker does not hold the walk for ever."""
    zeros = Unit(dict.fromkeys(range(0x10000), 0) | dict(enumerate(MARKER, start=40000)))
    rows_of(BATTERY, zeros, 1000)

    assert zeros.asked.count(Block(3, 40000, 2)) > 1


def test_a_model_that_moved_is_looked_for_again() -> None:
    """A device that changed its chain while it was away is walked anew."""
    unit = chain(40000, COMMON, model_802(**WORKED))
    poll = Poll(BATTERY)
    for _ in range(6):
        poll.take(unit.answer(poll.request))
    unit.registers = chain(40000, (2, [0] * 6), COMMON, model_802(**WORKED)).registers
    rows = [poll.take(unit.answer(poll.request)) for _ in range(9)]

    assert any(row and row["voltage_v"] == 51.2 for row in rows[1:])


def stream_of(unit: Unit, rounds: int, damage: Callable[[int], bool]) -> tuple[bytes, list[Row]]:
    """What goes over the wire, and the rows of the one who asked; some requests go unanswered."""
    poll, stream, rows = Poll(BATTERY), b"", []
    for number in range(rounds):
        request = poll.request
        stream += request_octets(1, request)
        if damage(number):
            poll.restart()
            continue
        answer = unit.answer(request)
        stream += refusal_octets(1, 3, 2) if answer is None else answer_octets(1, 3, answer)
        row = poll.take(answer)
        rows += [] if row is None else [row]
    return stream, rows


@pytest.mark.parametrize("damage", [lambda _: False, lambda n: n % 7 == 3, lambda n: n % 11 == 2])
def test_a_capture_read_again_gives_the_same_rows(damage: Callable[[int], bool]) -> None:
    """Whoever reads the requests and answers follows the walk, also through lost answers."""
    unit = chain(0, COMMON, model_802(**WORKED))
    stream, rows = stream_of(unit, 60, damage)
    decoder = ModbusDecoder(BATTERY)

    assert rows
    assert [row for at in range(0, len(stream), 13)
            for row in decoder.feed(stream[at:at + 13])] == rows
