"""Check values of invented monitors, by ``crccheck`` and plain Python, not the code under test."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from crccheck import crc as reference_crc

_CRCS = {
    "CRC-8/SMBUS": "Crc8Smbus", "CRC-8/MAXIM-DOW": "Crc8MaximDow",
    "CRC-8/SAE-J1850": "Crc8SaeJ1850", "CRC-8/DARC": "Crc8Darc", "CRC-8/ROHC": "Crc8Rohc",
    "CRC-16/ARC": "Crc16Arc", "CRC-16/MODBUS": "Crc16Modbus", "CRC-16/IBM-3740": "Crc16Ibm3740",
    "CRC-16/XMODEM": "Crc16Xmodem", "CRC-16/KERMIT": "Crc16Kermit", "CRC-16/DNP": "Crc16Dnp",
    "CRC-16/IBM-SDLC": "Crc16IbmSdlc", "CRC-16/T10-DIF": "Crc16T10Dif",
    "CRC-32/ISO-HDLC": "Crc32IsoHdlc", "CRC-32/MPEG-2": "Crc32Mpeg2",
}


def rule_of(name: str) -> tuple[int, Callable[[bytes], int]]:
    """Width in bytes, and the check value of some bytes."""
    if name in _CRCS:
        crc = getattr(reference_crc, _CRCS[name])
        return crc._width // 8, crc.calc
    plain: dict[str, tuple[int, Callable[[bytes], int]]] = {
        "sum8": (1, lambda data: sum(data) & 0xFF),
        "sum8-twos": (1, lambda data: -sum(data) & 0xFF),
        "sum8-ones": (1, lambda data: ~sum(data) & 0xFF),
        "sum16": (2, lambda data: sum(data) & 0xFFFF),
        "xor8": (1, lambda data: int(np.bitwise_xor.reduce(np.frombuffer(data, np.uint8)))),
    }
    return plain[name]


RULES = ("sum8", "sum8-twos", "sum8-ones", "sum16", "xor8", *_CRCS)
