"""COBS and SLIP against their papers' examples and independent libraries."""

from __future__ import annotations

import pytest
import sliplib
from cobs import cobs
from hypothesis import example, given, settings
from hypothesis import strategies as st

from collector.frames.stuffing import cobs_decoded, cobs_encoded, slip_decoded, slip_encoded

PACKETS = st.one_of(
    st.binary(max_size=40),
    st.integers(250, 260).flatmap(lambda n: st.binary(min_size=n, max_size=n)),
    st.lists(st.sampled_from([0x00, 0x11, 0xC0, 0xDB, 0xDC, 0xDD]), max_size=40).map(bytes),
)


@pytest.mark.parametrize(("packet", "coded"), [
    # S. Cheshire, M. Baker: Consistent Overhead Byte Stuffing, IEEE/ACM ToN 7(2), 1999, as
    # worked out anew with cobs 1.2.2.
    ("00", "01 01"),
    ("00 00", "01 01 01"),
    ("11 22 00 33", "03 11 22 02 33"),
    ("11 22 33 44", "05 11 22 33 44"),
    ("11 00 00 00", "02 11 01 01 01"),
    (bytes(range(1, 255)).hex(), "FF" + bytes(range(1, 255)).hex()),
])
def test_cobs_vs_paper(packet: str, coded: str) -> None:
    """COBS codes the known packets as published."""
    assert cobs_encoded(bytes.fromhex(packet)) == bytes.fromhex(coded)
    assert cobs_decoded(bytes.fromhex(coded)) == bytes.fromhex(packet)


@pytest.mark.parametrize(("packet", "coded"), [
    # RFC 1055, page 3: END is sent as ESC 334 octal, ESC as ESC 335 octal.
    ("C0 DB", "DB DC DB DD"),
    ("01 C0 02 DB 03", "01 DB DC 02 DB DD 03"),
])
def test_slip_vs_rfc_1055(packet: str, coded: str) -> None:
    """SLIP escapes its two special bytes as the RFC says."""
    assert slip_encoded(bytes.fromhex(packet)) == bytes.fromhex(coded)
    assert slip_decoded(bytes.fromhex(coded)) == bytes.fromhex(packet)


@settings(derandomize=True, deadline=None)
@given(PACKETS)
@example(bytes([1] * 254))
@example(bytes([1] * 508 + [0]))
def test_cobs_vs_cobs_library(packet: bytes) -> None:
    """COBS agrees with the library cobs on any packet, and has no zero in it."""
    coded = cobs_encoded(packet)

    assert coded == cobs.encode(packet)
    assert 0 not in coded
    assert cobs_decoded(coded) == packet


@settings(derandomize=True, deadline=None)
@given(PACKETS)
def test_slip_vs_sliplib(packet: bytes) -> None:
    """SLIP agrees with sliplib on any packet."""
    coded = slip_encoded(packet)

    assert coded == sliplib.encode(packet)
    assert slip_decoded(coded) == packet


def test_bytes_that_are_not_coded_so_are_refused() -> None:
    """A code that points beyond the end, a zero, or an unknown escape is no packet."""
    assert cobs_decoded(bytes.fromhex("05 11 22")) is None
    assert cobs_decoded(bytes.fromhex("02 11 00 11")) is None
    assert slip_decoded(bytes.fromhex("01 DB 02")) is None
    assert slip_decoded(bytes.fromhex("01 DB")) is None
