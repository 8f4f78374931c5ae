"""Bluetooth values as a stream, and the rows made of their moments."""

from __future__ import annotations

import itertools

from hypothesis import given, settings
from hypothesis import strategies as st

from collector.frames.gatt import CHARACTERISTICS
from collector.frames.gatt_stream import MOMENT_END, GattDecoder, gatt_columns, value_octets

ALL = sorted(CHARACTERISTICS)


def moment(**values: str) -> bytes:
    """One moment; keywords are ``u2A19="64"``."""
    return b"".join(value_octets(int(name[1:], 16), bytes.fromhex(octets))
                    for name, octets in values.items()) + MOMENT_END


def test_values_of_a_moment_make_one_row() -> None:
    """Figures and words of all characteristics, signed by the power state."""
    decoder = GattDecoder(ALL)

    assert decoder.feed(moment(u2B18="00 0D", u2AEE="C4 09", u2BED="02 C1 00 55",
                               u2A6E="18 FC", u2BEE="00 5A 00 00")) == [{
        "voltage_v": 52.0, "current_a": -25.0, "soc_pct": 85.0, "state": "discharging",
        "fault": "none", "temp_1_c": -10.0, "time_left_h": 1.5}]


def test_direction_is_remembered_and_nothing_else() -> None:
    """A row holds what its moment brought; only the direction of the amps lasts."""
    decoder = GattDecoder(ALL)
    decoder.feed(moment(u2BED="02 C1 00 55", u2B18="00 0D"))

    assert decoder.feed(moment(u2AEE="C4 09")) == [{"current_a": -25.0}]
    decoder.feed(moment(u2BED="02 A1 00 55"))
    assert decoder.feed(moment(u2AEE="C4 09")) == [{"current_a": 25.0}]


def test_direction_from_the_charge_rate() -> None:
    """Without a power state the only signed figure of the standard has the word."""
    decoder = GattDecoder([0x2AEE, 0x2BF0])

    assert decoder.feed(moment(u2AEE="C4 09", u2BF0="12 00 F2 4A 1F")) == [
        {"current_a": -25.0, "voltage_v": 51.2, "power_w": -1820.0}]


def test_amps_without_a_direction_are_missing() -> None:
    """A monitor that could tell the direction and does not yet gives no amps."""
    assert GattDecoder(ALL).feed(moment(u2AEE="C4 09", u2B18="00 0D")) == [{"voltage_v": 52.0}]


def test_amps_of_a_monitor_without_directions_stay_unsigned() -> None:
    """Where the description has no source of a direction the size is kept."""
    assert GattDecoder([0x2AEE]).feed(moment(u2AEE="C4 09")) == [{"current_a": 25.0}]


def test_the_characteristic_described_first_has_the_word() -> None:
    """Volts in 1/64 V steps before volts in 0.1 V steps, where both are told."""
    octets = moment(u2BF0="02 00 F2", u2B18="0D 0D")

    assert GattDecoder([0x2B18, 0x2BF0]).feed(octets)[0]["voltage_v"] == 0x0D0D / 64
    assert GattDecoder([0x2BF0, 0x2B18]).feed(octets)[0]["voltage_v"] == 51.2


def test_a_value_that_comes_again_begins_a_new_moment() -> None:
    """Two volts are two rows, even without a mark between them."""
    volts = value_octets(0x2B18, b"\0\x0d") + value_octets(0x2B18, b"\x40\x0d")

    assert GattDecoder(ALL).feed(volts + MOMENT_END) == [{"voltage_v": 52.0}, {"voltage_v": 53.0}]


def test_reserved_values_are_counted_and_told() -> None:
    """A percentage of 101 is no figure."""
    decoder = GattDecoder(ALL)

    assert decoder.feed(moment(u2A19="65")) == []
    assert decoder.counts.undecodable == 1
    assert decoder.describe_junk() == (
        "1 values could not be read, last Battery Level (0x2A19): 101 % is reserved")


def test_columns_are_those_of_the_characteristics() -> None:
    """Each quantity once, whatever tells it."""
    assert gatt_columns([0x2BED, 0x2A19, 0x2BF0]) == (
        "soc_pct", "state", "fault", "voltage_v", "power_w")


VALUES = st.tuples(st.sampled_from(ALL), st.binary(max_size=12))


@settings(derandomize=True)
@given(st.lists(st.one_of(VALUES, st.none()), max_size=30), st.lists(st.integers(0, 300)))
def test_any_cut_of_the_stream_gives_the_same_rows(
        values: list[tuple[int, bytes] | None], cuts: list[int]) -> None:
    """Rows and counts do not depend on how the bytes arrive."""
    stream = b"".join(MOMENT_END if value is None else value_octets(*value) for value in values)
    whole, pieces = GattDecoder(ALL), GattDecoder(ALL)
    places = [0, *sorted(cut for cut in cuts if cut < len(stream)), len(stream)]
    rows = [row for start, stop in itertools.pairwise(places)
            for row in pieces.feed(stream[start:stop])]

    assert rows == whole.feed(stream)
    assert pieces.counts == whole.counts


@settings(derandomize=True)
@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_counted(data: bytes) -> None:
    """Whatever a capture holds, nothing is raised."""
    decoder = GattDecoder(ALL)
    decoder.feed(data)

    assert decoder.counts.heard_bytes == len(data)
