"""Modbus requests and answers as bytes, and the plan by which registers are read."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.frames.fields import Number
from collector.frames.modbus import (
    Answer,
    Exchanges,
    ModbusDecoder,
    answer_octets,
    refusal_octets,
    request_octets,
)
from collector.frames.place import Place
from collector.frames.registers import COUNT_MAX, Block, PowerScaled, RegisterMap, planned
from collector.frames.scaling import Scaling

VOLTS = Number(("voltage_v",), Place(0, 2), 2, "unsigned", Scaling.of(0.1, 0))
AMPS = Number(("current_a",), Place(2, 2), 2, "signed", Scaling.of(0.1, 0))
PAIR = RegisterMap(1, 1.0, 0.5, 2, ((0, VOLTS), (0, AMPS)), (Block(3, 100, 2),))


# The requests 11 03.. and 01 04.. are examples of the Modbus Application Protocol (from memory);
# all check values were worked out again with pymodbus 3.16 and crccheck 1.3.1.
@pytest.mark.parametrize(("device_id", "block", "octets"), [
    (0x11, Block(3, 0x6B, 3), "11 03 00 6B 00 03 76 87"),
    (1, Block(3, 0, 10), "01 03 00 00 00 0A C5 CD"),
    (1, Block(4, 8, 1), "01 04 00 08 00 01 B0 08"),
    (1, Block(3, 40000, 2), "01 03 9C 40 00 02 EB 8F"),
    (1, Block(3, 40104, 14), "01 03 9C A8 00 0E 6B BE"),
])
def test_request_vs_modbus_examples(device_id: int, block: Block, octets: str) -> None:
    """Unit, function, start, count and check, high byte first but for the check."""
    assert request_octets(device_id, block) == bytes.fromhex(octets)


def test_answer_vs_modbus_examples() -> None:
    """Answers are unit, function, number of bytes, registers and check (same sources)."""
    assert answer_octets(0x11, 3, (0xAE41, 0x5652, 0x4340)) == bytes.fromhex(
        "11 03 06 AE 41 56 52 43 40 49 AD")
    assert answer_octets(1, 4, (10,)) == bytes.fromhex("01 04 02 00 0A 39 37")


def test_refusal_vs_modbus_examples() -> None:
    """A refusal is the function with its top bit set and one code (same sources)."""
    assert refusal_octets(1, 3, 2) == bytes.fromhex("01 83 02 C0 F1")


BLOCKS = st.builds(Block, st.sampled_from([3, 4]), st.integers(0, 60000), st.integers(1, 30))


@st.composite
def conversations(draw: st.DrawFn) -> tuple[bytes, list[Answer]]:
    """A stream of requests, each with an answer, a refusal or nothing behind it."""
    stream, answers = b"", []
    for block in draw(st.lists(BLOCKS, min_size=1, max_size=6)):
        stream += request_octets(7, block)
        kind = draw(st.sampled_from(["answer", "refusal", "silence"]))
        if kind == "answer":
            registers = tuple(draw(st.lists(st.integers(0, 0xFFFF), min_size=block.count,
                                            max_size=block.count)))
            stream += answer_octets(7, block.function, registers)
            answers.append(Answer(block, registers))
        elif kind == "refusal":
            code = draw(st.sampled_from([1, 2, 4, 6]))
            stream += refusal_octets(7, block.function, code)
            answers.append(Answer(block, refusal=code))
    return stream, answers


@settings(derandomize=True, max_examples=60)
@given(conversations(), st.lists(st.integers(0, 400), max_size=5))
def test_any_cut_of_the_stream_gives_the_same_answers(
        conversation: tuple[bytes, list[Answer]], cuts: list[int]) -> None:
    """Requests and answers are found however the bytes arrive."""
    stream, answers = conversation
    # A last request lets go of what an unanswered one before it may still be waiting for.
    stream += b"".join(request_octets(7, Block(3, 9, 1)) + answer_octets(7, 3, (n,))
                       for n in range(40))
    exchanges = Exchanges(7)
    heard = []
    places = [0, *sorted(cuts), len(stream)]
    for start, stop in itertools.pairwise(places):
        heard += [item for item in exchanges.feed(stream[start:stop])
                  if isinstance(item, Answer) and item.block != Block(3, 9, 1)]

    assert heard == answers


def test_an_answer_of_another_size_is_not_taken() -> None:
    """An answer carries no address: one with another count belongs to another request."""
    exchanges = Exchanges(1)
    late = answer_octets(1, 3, (520, 100))

    assert list(exchanges.feed(request_octets(1, Block(3, 200, 3)) + late)) == [Block(3, 200, 3)]
    assert list(exchanges.feed(answer_octets(1, 3, (1, 2, 3)))) == [
        Answer(Block(3, 200, 3), (1, 2, 3))]
    assert exchanges.junk_bytes == len(late)


def test_a_second_answer_to_one_request_is_not_taken() -> None:
    """An answer sent twice counts once."""
    decoder = ModbusDecoder(PAIR)
    stream = request_octets(1, Block(3, 100, 2)) + 2 * answer_octets(1, 3, (520, 0xFF9C))

    assert decoder.feed(stream) == [{"voltage_v": 52.0, "current_a": -10.0}]
    assert decoder.feed(stream) == [{"voltage_v": 52.0, "current_a": -10.0}]


def test_a_damaged_answer_gives_no_row_and_is_counted() -> None:
    """One flipped bit anywhere in an answer loses that answer and nothing else."""
    request, answer = request_octets(1, Block(3, 100, 2)), answer_octets(1, 3, (520, 100))
    for bit in range(8 * len(answer)):
        damaged = bytearray(answer)
        damaged[bit // 8] ^= 1 << bit % 8
        decoder = ModbusDecoder(PAIR)

        assert decoder.feed(request + bytes(damaged)) == []
        rows = decoder.feed(3 * (request + answer))
        assert rows
        assert all(row == {"voltage_v": 52.0, "current_a": 10.0} for row in rows)
        assert decoder.counts.junk_bytes >= len(answer)


def test_a_unit_that_says_nothing_is_told_by_its_number() -> None:
    """Requests alone lead to wires, number and baud rate."""
    decoder = ModbusDecoder(PAIR)
    decoder.feed(3 * request_octets(1, Block(3, 100, 2)))

    assert decoder.describe_junk() == (
        "unit 1 was asked 3 times and said nothing to the last 3: check its wires, its number, "
        "the baud rate and the parity")


def test_a_refusal_is_told_in_words() -> None:
    """Exception 2 names the registers that are not there."""
    decoder = ModbusDecoder(PAIR)
    decoder.feed(request_octets(1, Block(3, 100, 2)) + refusal_octets(1, 3, 2))

    assert decoder.describe_junk() == (
        "unit 1 was asked 1 times and refused 1 times, last registers 100 to 101 (function 3): "
        "it has no such registers (exception 2)")


def test_plan_joins_what_is_near_and_no_more() -> None:
    """Gaps up to the limit are read along; functions are never mixed."""
    spans = [Block(3, 10, 2), Block(3, 0, 1), Block(3, 15, 1), Block(3, 40, 4), Block(4, 16, 1)]

    assert planned(spans, 3) == (Block(3, 0, 1), Block(3, 10, 6), Block(3, 40, 4), Block(4, 16, 1))
    assert planned(spans, 9) == (Block(3, 0, 16), Block(3, 40, 4), Block(4, 16, 1))


@settings(derandomize=True)
@given(st.lists(st.builds(Block, st.sampled_from([3, 4]), st.integers(0, 700),
                          st.integers(1, 4)), min_size=1), st.integers(0, 124))
def test_plan_holds_each_span_whole(spans: list[Block], max_gap: int) -> None:
    """Each figure lies in one block, and no block is longer than the protocol allows."""
    blocks = planned(spans, max_gap)

    assert all(block.count <= COUNT_MAX for block in blocks)
    assert all(any(block.function == span.function and block.address <= span.address
                   and span.stop <= block.stop for block in blocks) for span in spans)


def test_low_register_first_is_put_in_order() -> None:
    """A 32-bit figure whose low register comes first reads as one whose high one does."""
    amps = Number(("current_a",), Place(2, 4), 4, "float")
    blocks = (Block(4, 7, 3),)
    # 1/3 A as an IEEE 754 single is 0x3EAAAAAB.
    straight = RegisterMap(1, 1.0, 0.5, 2, ((0, amps),), blocks)
    swapped = RegisterMap(1, 1.0, 0.5, 2, ((0, amps),), blocks, swapped=(Place(2, 4),))

    high_first = straight.read({0: [straight.frame_of((9, 0x3EAA, 0xAAAB))]})
    low_first = swapped.read({0: [swapped.frame_of((9, 0xAAAB, 0x3EAA))]})

    assert high_first == low_first
    assert high_first["current_a"] == pytest.approx(1 / 3, rel=1e-7)


@pytest.mark.parametrize(("raw", "power", "value"), [
    (0xFE9E, 0xFFFF, -35.4), (3, 2, 300.0), (3, 0, 3.0), (0x8000, 0, None), (3, 0x8000, None),
    (3, 11, None)])
def test_power_of_ten_from_a_register(raw: int, power: int, value: float | None) -> None:
    """The power is signed; "not implemented" in either register is a missing figure."""
    field = PowerScaled(Number(("current_a",), Place(0, 2), 2, "signed", missing=(0x8000,)),
                        Place(2, 2))
    row: dict[str, float | str] = {}
    field.read_into(row, raw.to_bytes(2, "big") + power.to_bytes(2, "big"))

    assert row.get("current_a") == value


@settings(derandomize=True)
@given(st.lists(st.one_of(
    st.binary(max_size=30), st.just(request_octets(1, Block(3, 100, 2))),
    st.just(answer_octets(1, 3, (520, 100))), st.just(refusal_octets(1, 3, 6))), max_size=20))
def test_any_bytes_are_read_or_counted(pieces: list[bytes]) -> None:
    """Whatever a capture holds, nothing is raised and every row is a true one."""
    decoder = ModbusDecoder(PAIR)
    rows = [row for piece in pieces for row in decoder.feed(piece)]

    assert all(row == {"voltage_v": 52.0, "current_a": 10.0} for row in rows)
    assert decoder.counts.frames == len(rows)


def test_requests_are_not_heard() -> None:
    """What this side sent is no sign of life of the unit."""
    decoder = ModbusDecoder(PAIR)
    answer = answer_octets(1, 3, (520, 100))
    decoder.feed(3 * request_octets(1, Block(3, 100, 2)) + answer)

    assert decoder.counts.heard_bytes == len(answer)
