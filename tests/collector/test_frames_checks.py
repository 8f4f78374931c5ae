"""Checks against the published catalogue, published frames and an independent library."""

from __future__ import annotations

import crccheck.crc
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.frames.checks import CATALOGUE, Check, Crc, Sum, Xor

LIBRARY = {name: cls for cls in crccheck.crc.ALLCRCCLASSES for name in getattr(cls, "_names", ())}

# RevEng catalogue of parametrised CRC algorithms, https://reveng.sourceforge.io/crc-catalogue/:
# the "check" of the nine ASCII digits.
REVENG = {
    "CRC-16/ARC": 0xBB3D, "CRC-16/MODBUS": 0x4B37, "CRC-16/USB": 0xB4C8,
    "CRC-16/IBM-3740": 0x29B1, "CRC-16/XMODEM": 0x31C3, "CRC-16/KERMIT": 0x2189,
    "CRC-16/IBM-SDLC": 0x906E, "CRC-8/SMBUS": 0xF4, "CRC-8/MAXIM-DOW": 0xA1,
    "CRC-8/SAE-J1850": 0x4B, "CRC-32/ISO-HDLC": 0xCBF43926, "CRC-32/ISCSI": 0xE3069283,
    "CRC-24/OPENPGP": 0x21CF02,
}


@pytest.mark.parametrize("name", REVENG)
def test_crc_vs_reveng_catalogue(name: str) -> None:
    """A named CRC gives the check value its catalogue entry states."""
    assert REVENG[name] == CATALOGUE[name].compute(b"123456789")


@pytest.mark.parametrize("name", CATALOGUE)
@settings(derandomize=True, deadline=None, max_examples=20)
@given(data=st.binary(max_size=80))
def test_crc_vs_crccheck(name: str, data: bytes) -> None:
    """Every named CRC agrees with the independent library crccheck on any bytes."""
    assert LIBRARY[name].calc(data) == CATALOGUE[name].compute(data)


def test_crc_codeword_vs_reveng() -> None:
    """CRC-16/ARC of 0FAA0055 is sent as E30B (RevEng catalogue, codeword of that entry)."""
    check = Check(CATALOGUE["CRC-16/ARC"], at=-2, stop=-2, order="little")

    assert check.is_good(bytes.fromhex("0FAA0055 E30B"))


@pytest.mark.parametrize(("frame", "crc"), [
    # Examples of the Modbus Application Protocol V1.1b3 and of the serial line guide, from
    # memory; the CRC of each was worked out anew with pymodbus 3.16 and crccheck 1.3.1.
    ("11 03 00 6B 00 03", "76 87"),
    ("11 03 06 AE 41 56 52 43 40", "49 AD"),
    ("01 04 00 08 00 01", "B0 08"),
    ("02 07", "41 12"),
])
def test_modbus_frames_pass(frame: str, crc: str) -> None:
    """A Modbus RTU frame carries its CRC with the low byte first."""
    check = Check(CATALOGUE["CRC-16/MODBUS"], at=-2, stop=-2, order="little")
    whole = bytes.fromhex(frame + crc)

    assert check.is_good(whole)
    assert not check.is_good(whole[:-1] + bytes([whole[-1] ^ 1]))


@pytest.mark.parametrize("sentence", [
    # gpsd, www/NMEA.adoc: the check is the exclusive or of what stands between $ and *.
    b"$HCXDR,A,171,D,PITCH,A,-37,D,ROLL,G,367,,MAGX,G,2420,,MAGY,G,-8984,,MAGZ*41",
    b"$GNRMC,001031.00,A,4404.13993,N,12118.86023,W,0.146,,100117,,,A*7B",
    b"$GPVTG,108.53,T,,M,0.04,N,0.07,K,A*31",
])
def test_line_sentences_vs_gpsd(sentence: bytes) -> None:
    """An exclusive or in two hexadecimal digits behind a star is read in either case."""
    check = Check(Xor(), at=-2, start=1, stop=-3, is_hex=True, mark=b"*")

    assert check.is_good(sentence)
    assert check.is_good(sentence[:-2] + sentence[-2:].lower())
    assert not check.is_good(sentence.replace(b",A", b",B", 1))
    assert not check.is_good(sentence.replace(b"*", b"+"))


def test_twos_complement_sum_brings_the_total_to_zero() -> None:
    """Bytes and their two's complement sum add up to a multiple of 256 (the definition)."""
    data = bytes.fromhex("0300300002337A")

    assert (sum(data) + Sum(8, is_negated=True).compute(data)) % 256 == 0
    # The record :0300300002337A1E of the Intel HEX format, from memory.
    assert Sum(8, is_negated=True).compute(data) == 0x1E


def test_sums_drop_their_carry() -> None:
    """A sum keeps its width, whatever it started from."""
    assert Sum(8).compute(bytes([0xFF, 0x02])) == 0x01
    assert Sum(16, init=0xFFFF).compute(b"\x02") == 0x0001
    assert Sum(8, xorout=0xFF).compute(b"\x01") == 0xFE


@settings(derandomize=True, deadline=None)
@given(st.binary(min_size=4, max_size=40), st.sampled_from(["big", "little"]), st.booleans())
def test_what_is_put_is_good(data: bytes, order: str, is_hex: bool) -> None:
    """A check that was written passes, and fails when any covered byte is changed."""
    rule = Crc(16, 0x1021, 0x1B0D, is_reflected=True)
    size = 4 if is_hex else 2
    check = Check(rule, at=-size, stop=-size, order=order, is_hex=is_hex)  # type: ignore[arg-type]
    frame = bytearray(data + bytes(size))
    check.put(frame)

    assert check.is_good(bytes(frame))
    frame[len(data) // 2] ^= 0x40
    assert not check.is_good(bytes(frame))


def test_a_frame_too_short_for_its_check_is_not_good() -> None:
    """No frame is so short that looking for its check fails."""
    check = Check(Sum(16), at=-2, stop=-3, mark=b"*")

    assert [check.is_good(bytes(n)) for n in range(4)] == [False] * 4
    assert not Check(Sum(8), at=-10, stop=-10).is_good(bytes(5))


def test_a_check_may_stand_ahead_of_what_it_covers() -> None:
    """Place and cover are told apart: here the sum in byte 1 covers all behind it."""
    check = Check(Sum(8), at=1, start=2)

    assert check.is_good(bytes([0x3C, 0x06, 1, 2, 3]))
    assert not check.is_good(bytes([0x3C, 0x06, 1, 2, 4]))
