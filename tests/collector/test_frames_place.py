"""Integers in their places, and what their bits stand for."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.frames.place import CODINGS, Order, Place, reader_of


@pytest.mark.parametrize(("coding", "octets", "order", "number"), [
    # Bluetooth SIG Assigned Numbers, GATT characteristics, worked out by hand and with the SIG's
    # YAML: Temperature 0x2A6E in 0.01 degrees C, Voltage 0x2B18 in 1/64 V.
    ("signed", "18 FC", "little", -1000),
    ("signed", "C4 09", "little", 2500),
    ("unsigned", "40 0D", "little", 53 * 64),
    # SunSpec model 802, registers A and W as int16, most significant byte first.
    ("signed", "FE 9E", "big", -354),
    ("signed", "F8 EC", "big", -1812),
    # IEEE 754: 25.0 is 1.5625 x 2^4.
    ("float", "41 C8 00 00", "big", 25.0),
    ("float", "00 00 C8 41", "little", 25.0),
    # The definitions, by hand.
    ("offset-binary", "80 00", "big", 0),
    ("offset-binary", "7F 19", "big", -231),
    ("sign-magnitude", "80 E7", "big", -231),
    ("sign-magnitude", "80", "big", 0),
    ("unsigned", "01 02 03", "little", 0x030201),
    ("signed", "FF FF FE", "big", -2),
    ("bcd", "53 12", "big", 5312),
    ("bcd", "5A", "big", None),
    ("digits", "30 39 31", "big", 91),
    ("digits", "2D 32 33", "big", -23),
    ("digits", "20 39 31", "big", 91),
    ("digits", "2D 2D 2D", "big", None),
    ("float", "7F C0 00 00", "big", None),
    ("float", "7F 80 00 00", "big", None),
])
def test_bits_stand_for_a_number(
    coding: str, octets: str, order: Order, number: float | None,
) -> None:
    """Known bytes read as the number they are published or defined to be."""
    frame = bytes.fromhex(octets)
    place = Place(0, len(frame), order)

    assert CODINGS[coding].decode(place.read(frame), place.bits) == number


@settings(derandomize=True, deadline=None)
@given(data=st.data(), coding=st.sampled_from(sorted(set(CODINGS) - {"float"})),
       order=st.sampled_from(["big", "little"]))
def test_numbers_survive_the_way_there_and_back(
    data: st.DataObject, coding: str, order: Order,
) -> None:
    """Decode undoes encode for every number that fits, and the neighbours stay as they were."""
    place = Place(3, data.draw(st.sampled_from(CODINGS[coding].lengths)), order)
    top = {"bcd": 100 ** place.length, "digits": 10 ** place.length}.get(coding, 1 << place.bits)
    number = data.draw(st.integers(0, top - 1))
    if coding in ("signed", "offset-binary", "sign-magnitude"):
        number -= top // 2 - (coding == "sign-magnitude" and number < top // 2)
    frame = bytearray(range(20))
    place.write(frame, CODINGS[coding].encode(number, place.bits))

    assert CODINGS[coding].decode(place.read(frame), place.bits) == number
    assert frame[:3] + frame[place.reach:] == bytes([0, 1, 2, *range(place.reach, 20)])


@pytest.mark.parametrize(("coding", "number"), [
    ("unsigned", -1), ("unsigned", 256), ("signed", 128), ("signed", -129),
    ("offset-binary", 128), ("sign-magnitude", -128), ("bcd", 100), ("bcd", -1), ("digits", 10),
])
def test_a_number_that_does_not_fit_is_refused(coding: str, number: int) -> None:
    """One byte takes only what one byte holds; nothing wraps round."""
    with pytest.raises(ValueError, match=str(abs(number))):
        CODINGS[coding].encode(number, 8)


def test_masked_bits_are_read_and_written_alone() -> None:
    """Twelve bits in the middle of three bytes are a number of twelve bits."""
    place = Place(0, 3, "big", mask=0x0FFF00)
    frame = bytearray.fromhex("A8 01 5C")

    assert place.read(frame) == 0x801
    assert CODINGS["signed"].decode(place.read(frame), place.bits) == 0x801 - 0x1000
    place.write(frame, 0x7FE)
    assert frame.hex() == "a7fe5c"


@settings(derandomize=True, deadline=None)
@given(frame=st.binary(min_size=60, max_size=60), at=st.integers(0, 9),
       length=st.integers(1, 4), gap=st.integers(0, 3), count=st.integers(1, 7),
       order=st.sampled_from(["big", "little"]))
def test_a_group_is_read_as_its_members_are(
    frame: bytes, at: int, length: int, gap: int, count: int, order: Order,
) -> None:
    """The quick way to read a group gives what each place gives on its own."""
    read = reader_of(Place(at, length, order), count, length + gap)
    slow = [int.from_bytes(frame[a:a + length], order)
            for a in range(at, at + count * (length + gap), length + gap)]

    assert list(read(frame)) == slow


def test_doubles_keep_every_bit() -> None:
    """An eight byte float comes back exactly."""
    raw = CODINGS["float"].encode(math.pi, 64)

    assert CODINGS["float"].decode(raw, 64) == math.pi
