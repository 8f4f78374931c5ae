"""Checks: how a whole frame is told from a damaged one.

The rules are a sum, an exclusive or, or a cyclic redundancy check (CRC). A CRC is given by its
parameters in the Rocksoft model, or by its name in the public RevEng catalogue
(https://reveng.sourceforge.io/crc-catalogue/).
"""

from __future__ import annotations

from binascii import crc_hqx
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, reduce
from operator import xor
from typing import Final, Protocol

from .place import Order


class Rule(Protocol):
    """Works out the check value of some bytes."""

    @property
    def width(self) -> int:
        """Size of the check value. [bits]"""
        ...

    def compute(self, data: bytes) -> int:
        """The check value, ``width`` bits without sign."""
        ...


@dataclass(frozen=True)
class Sum:
    """The bytes added up, the carry dropped.

    With ``is_negated`` the two's complement of that, so that data and check add up to zero.
    """

    width: int = 8
    init: int = 0
    xorout: int = 0
    is_negated: bool = False

    def compute(self, data: bytes) -> int:
        total = sum(data, self.init)
        if self.is_negated:
            total = -total
        return total & ((1 << self.width) - 1) ^ self.xorout


@dataclass(frozen=True)
class Xor:
    """The exclusive or of the bytes."""

    init: int = 0
    xorout: int = 0
    width: int = 8

    def compute(self, data: bytes) -> int:
        return reduce(xor, data, self.init) ^ self.xorout


@dataclass(frozen=True)
class Crc:
    """A CRC of 8, 16, 24 or 32 bits in the Rocksoft model.

    ``is_reflected`` is refin and refout of the catalogue, which are equal for these widths.
    ``init`` and ``xorout`` are written as the catalogue writes them.
    """

    width: int
    poly: int
    init: int = 0
    is_reflected: bool = False
    xorout: int = 0

    def compute(self, data: bytes) -> int:
        if (self.width, self.poly, self.is_reflected) == (16, 0x1021, False):
            return crc_hqx(data, self.init) ^ self.xorout
        table = self._table
        if self.is_reflected:
            register = _reflected(self.init, self.width)
            for byte in data:
                register = register >> 8 ^ table[(register ^ byte) & 0xFF]
        else:
            register, shift, mask = self.init, self.width - 8, (1 << self.width) - 1
            for byte in data:
                register = register << 8 & mask ^ table[register >> shift ^ byte]
        return register ^ self.xorout

    @cached_property
    def _table(self) -> tuple[int, ...]:
        """The register after each single byte, from a register of zero."""
        return tuple(self._shifted(byte) for byte in range(256))

    def _shifted(self, byte: int) -> int:
        if self.is_reflected:
            register, poly = byte, _reflected(self.poly, self.width)
            for _ in range(8):
                register = register >> 1 ^ (poly if register & 1 else 0)
            return register
        top = 1 << (self.width - 1)
        register = byte << (self.width - 8)
        for _ in range(8):
            register = register << 1 ^ (self.poly if register & top else 0)
            register &= (top << 1) - 1
        return register


def _reflected(value: int, width: int) -> int:
    return int(f"{value:0{width}b}"[::-1], 2)


#: CRCs of open standards by their RevEng names; any other is given by its parameters.
CATALOGUE: Final[Mapping[str, Crc]] = {
    "CRC-8/AUTOSAR": Crc(8, 0x2F, 0xFF, False, 0xFF),
    "CRC-8/BLUETOOTH": Crc(8, 0xA7, 0x00, True, 0x00),
    "CRC-8/DARC": Crc(8, 0x39, 0x00, True, 0x00),
    "CRC-8/DVB-S2": Crc(8, 0xD5, 0x00, False, 0x00),
    "CRC-8/I-432-1": Crc(8, 0x07, 0x00, False, 0x55),
    "CRC-8/MAXIM-DOW": Crc(8, 0x31, 0x00, True, 0x00),
    "CRC-8/NRSC-5": Crc(8, 0x31, 0xFF, False, 0x00),
    "CRC-8/OPENSAFETY": Crc(8, 0x2F, 0x00, False, 0x00),
    "CRC-8/ROHC": Crc(8, 0x07, 0xFF, True, 0x00),
    "CRC-8/SAE-J1850": Crc(8, 0x1D, 0xFF, False, 0xFF),
    "CRC-8/SMBUS": Crc(8, 0x07, 0x00, False, 0x00),
    "CRC-8/TECH-3250": Crc(8, 0x1D, 0xFF, True, 0x00),
    "CRC-16/ARC": Crc(16, 0x8005, 0x0000, True, 0x0000),
    "CRC-16/CMS": Crc(16, 0x8005, 0xFFFF, False, 0x0000),
    "CRC-16/DNP": Crc(16, 0x3D65, 0x0000, True, 0xFFFF),
    "CRC-16/EN-13757": Crc(16, 0x3D65, 0x0000, False, 0xFFFF),
    "CRC-16/GENIBUS": Crc(16, 0x1021, 0xFFFF, False, 0xFFFF),
    "CRC-16/GSM": Crc(16, 0x1021, 0x0000, False, 0xFFFF),
    "CRC-16/IBM-3740": Crc(16, 0x1021, 0xFFFF, False, 0x0000),
    "CRC-16/IBM-SDLC": Crc(16, 0x1021, 0xFFFF, True, 0xFFFF),
    "CRC-16/KERMIT": Crc(16, 0x1021, 0x0000, True, 0x0000),
    "CRC-16/M17": Crc(16, 0x5935, 0xFFFF, False, 0x0000),
    "CRC-16/MAXIM-DOW": Crc(16, 0x8005, 0x0000, True, 0xFFFF),
    "CRC-16/MODBUS": Crc(16, 0x8005, 0xFFFF, True, 0x0000),
    "CRC-16/PROFIBUS": Crc(16, 0x1DCF, 0xFFFF, False, 0xFFFF),
    "CRC-16/T10-DIF": Crc(16, 0x8BB7, 0x0000, False, 0x0000),
    "CRC-16/UMTS": Crc(16, 0x8005, 0x0000, False, 0x0000),
    "CRC-16/USB": Crc(16, 0x8005, 0xFFFF, True, 0xFFFF),
    "CRC-16/XMODEM": Crc(16, 0x1021, 0x0000, False, 0x0000),
    "CRC-24/BLE": Crc(24, 0x00065B, 0x555555, True, 0x000000),
    "CRC-24/INTERLAKEN": Crc(24, 0x328B63, 0xFFFFFF, False, 0xFFFFFF),
    "CRC-24/OPENPGP": Crc(24, 0x864CFB, 0xB704CE, False, 0x000000),
    "CRC-32/BZIP2": Crc(32, 0x04C11DB7, 0xFFFFFFFF, False, 0xFFFFFFFF),
    "CRC-32/CKSUM": Crc(32, 0x04C11DB7, 0x00000000, False, 0xFFFFFFFF),
    "CRC-32/ISCSI": Crc(32, 0x1EDC6F41, 0xFFFFFFFF, True, 0xFFFFFFFF),
    "CRC-32/ISO-HDLC": Crc(32, 0x04C11DB7, 0xFFFFFFFF, True, 0xFFFFFFFF),
    "CRC-32/MPEG-2": Crc(32, 0x04C11DB7, 0xFFFFFFFF, False, 0x00000000),
}

#: The checks that need no parameters. A Modbus ASCII "LRC" is ``sum8-twos``.
PLAIN_RULES: Final[Mapping[str, Rule]] = {
    "sum8": Sum(8),
    "sum8-twos": Sum(8, is_negated=True),
    "sum16": Sum(16),
    "xor8": Xor(),
}


@dataclass(frozen=True, slots=True)
class Check:
    """A check value inside a frame: the rule, what it covers, where and how it is written.

    Places count from the frame's first byte, or from behind its end where negative.
    """

    rule: Rule
    #: Where the check value begins.
    at: int
    #: First byte covered.
    start: int = 0
    #: First byte no longer covered, ``None`` for the frame's end.
    stop: int | None = None
    order: Order = "big"
    #: True where the value is written as hexadecimal digits.
    is_hex: bool = False
    #: Characters that stand before the value, such as ``*``.
    mark: bytes = b""

    @property
    def size(self) -> int:
        """Bytes the check value takes, without its mark."""
        return self.rule.width // (4 if self.is_hex else 8)

    def is_good(self, frame: bytes) -> bool:
        """Whether the frame carries the check value of what it holds."""
        at = self.at + len(frame) if self.at < 0 else self.at
        if at < len(self.mark) or at + self.size > len(frame):
            return False
        written = frame[at:at + self.size]
        if self.is_hex:
            written = written.upper()
        return written == self._written(frame) and frame[at - len(self.mark):at] == self.mark

    def put(self, frame: bytearray) -> None:
        """Write mark and check value into a frame that is otherwise complete."""
        at = self.at + len(frame) if self.at < 0 else self.at
        frame[at - len(self.mark):at] = self.mark
        frame[at:at + self.size] = self._written(bytes(frame))

    def _written(self, frame: bytes) -> bytes:
        value = self.rule.compute(frame[self.start:self.stop])
        if self.is_hex:
            return b"%0*X" % (self.size, value)
        return value.to_bytes(self.size, self.order)
