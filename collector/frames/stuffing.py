"""Byte stuffing: packets of any bytes made free of the delimiter that ends them.

COBS after S. Cheshire and M. Baker, *Consistent Overhead Byte Stuffing*, IEEE/ACM Transactions
on Networking 7(2), 1999; SLIP after RFC 1055.
"""

from __future__ import annotations

from typing import Final

COBS_END: Final = b"\x00"
_COBS_RUN: Final = 254

SLIP_END: Final = b"\xc0"
_ESC, _ESC_END, _ESC_ESC = b"\xdb", b"\xdb\xdc", b"\xdb\xdd"


def cobs_encoded(packet: bytes) -> bytes:
    """The packet without any zero byte; the delimiter is not added."""
    out = bytearray()
    *runs, last = packet.split(b"\0")
    for run in runs:
        _add_run(out, run)
    # A last run that fills its block exactly needs no empty block behind it.
    _add_run(out, last, is_last=True)
    return bytes(out)


def _add_run(out: bytearray, run: bytes, is_last: bool = False) -> None:
    while len(run) >= _COBS_RUN:
        out += b"\xff" + run[:_COBS_RUN]
        run = run[_COBS_RUN:]
        if is_last and not run:
            return
    out.append(len(run) + 1)
    out += run


def cobs_decoded(coded: bytes) -> bytes | None:
    """The packet inside, ``None`` if the bytes are not COBS."""
    out = bytearray()
    at = 0
    while at < len(coded):
        code = coded[at]
        block = coded[at + 1:at + code]
        if code == 0 or len(block) != code - 1:
            return None
        out += block
        at += code
        if code <= _COBS_RUN and at < len(coded):
            out.append(0)
    return bytes(out)


def slip_encoded(packet: bytes) -> bytes:
    """The packet with END and ESC escaped; the delimiter is not added."""
    return packet.replace(_ESC, _ESC_ESC).replace(SLIP_END, _ESC_END)


def slip_decoded(coded: bytes) -> bytes | None:
    """The packet inside, ``None`` where ESC is followed by anything else than its codes."""
    first, *parts = coded.split(_ESC)
    unescaped = {b"\xdc": SLIP_END, b"\xdd": _ESC}
    out = bytearray(first)
    for part in parts:
        original = unescaped.get(part[:1])
        if original is None:
            return None
        out += original + part[1:]
    return bytes(out)
