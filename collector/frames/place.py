"""Where an integer lies in a frame, and what its bits stand for."""

from __future__ import annotations

import re
import struct
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

Order = Literal["big", "little"]


@dataclass(frozen=True, slots=True)
class Place:
    """One to eight bytes of a frame, or some neighbouring bits of them, as a bare integer."""

    #: First byte, counted from the frame's first byte.
    at: int
    length: int = 1
    order: Order = "big"
    #: The bits meant, 0 for all of them.
    mask: int = 0

    @property
    def bits(self) -> int:
        """Number of bits the integer has."""
        return self.mask.bit_count() or 8 * self.length

    @property
    def reach(self) -> int:
        """The shortest frame that holds it. [bytes]"""
        return self.at + self.length

    def read(self, frame: bytes | bytearray) -> int:
        """The bits without sign; the frame has to reach that far."""
        raw = int.from_bytes(frame[self.at:self.reach], self.order)
        return (raw & self.mask) >> self._shift if self.mask else raw

    def write(self, frame: bytearray, raw: int) -> None:
        """Set the bits and leave their neighbours alone."""
        if self.mask:
            around = int.from_bytes(frame[self.at:self.reach], self.order) & ~self.mask
            raw = around | raw << self._shift
        frame[self.at:self.reach] = raw.to_bytes(self.length, self.order)

    @property
    def _shift(self) -> int:
        return (self.mask & -self.mask).bit_length() - 1


#: Reads the members of a group from a frame as bare integers.
Reader = Callable[[bytes], Sequence[int]]
_STRUCT_CODES: Final = {1: "B", 2: "H", 4: "I", 8: "Q"}


def places_from(place: Place, count: int, stride: int) -> tuple[Place, ...]:
    """The place of each member of a group, ``stride`` bytes apart."""
    return tuple(replace(place, at=place.at + n * stride) for n in range(count))


def reader_of(place: Place, count: int, stride: int) -> Reader:
    """The quickest way to read a group: at once where its layout allows."""
    code = _STRUCT_CODES.get(place.length)
    if code is None or place.mask:
        places = places_from(place, count, stride)
        return lambda frame: [member.read(frame) for member in places]
    step = f"{code}{stride - place.length}x"
    layout = struct.Struct((">" if place.order == "big" else "<") + step * (count - 1) + code)
    return lambda frame: layout.unpack_from(frame, place.at)


@dataclass(frozen=True, slots=True)
class Coding:
    """How bits stand for a number: ``decode(raw, bits)`` and the way back.

    ``decode`` gives ``None`` for bits that are no number, such as a BCD digit above nine;
    ``encode`` raises ``ValueError`` or ``OverflowError`` for a number that does not fit.
    """

    decode: Callable[[int, int], float | None]
    encode: Callable[[float, int], int]
    #: Lengths that make sense. [bytes]
    lengths: tuple[int, ...] = (1, 2, 3, 4)


def _fits(raw: int, low: int, high: int) -> int:
    if not low <= raw <= high:
        raise ValueError(f"{raw} is not within {low} to {high}")
    return raw


def _encode_unsigned(number: float, bits: int) -> int:
    return _fits(round(number), 0, (1 << bits) - 1)


def _decode_signed(raw: int, bits: int) -> int:
    return raw - (raw >> (bits - 1) << bits)


def _encode_signed(number: float, bits: int) -> int:
    half = 1 << (bits - 1)
    return _fits(round(number), -half, half - 1) & ((1 << bits) - 1)


def _decode_offset_binary(raw: int, bits: int) -> int:
    return raw - (1 << (bits - 1))


def _encode_offset_binary(number: float, bits: int) -> int:
    half = 1 << (bits - 1)
    return _fits(round(number), -half, half - 1) + half


def _decode_sign_magnitude(raw: int, bits: int) -> int:
    top = 1 << (bits - 1)
    return top - raw if raw & top else raw


def _encode_sign_magnitude(number: float, bits: int) -> int:
    top = 1 << (bits - 1)
    size = _fits(abs(round(number)), 0, top - 1)
    return size | top if number < 0 else size


def _decode_bcd(raw: int, bits: int) -> int | None:
    digits = f"{raw:0{-(-bits // 4)}x}"
    return int(digits) if digits.isdecimal() else None


def _encode_bcd(number: float, bits: int) -> int:
    return _fits(int(str(_fits(round(number), 0, 10 ** (-(-bits // 4)) - 1)), 16),
                 0, (1 << bits) - 1)


_DIGITS = re.compile(rb" *([+-]?[0-9]+) *")


def _decode_digits(raw: int, bits: int) -> int | None:
    match = _DIGITS.fullmatch(raw.to_bytes(bits // 8))
    return int(match[1]) if match else None


def _encode_digits(number: float, bits: int) -> int:
    text = b"%0*d" % (bits // 8, round(number))
    if len(text) > bits // 8:
        raise ValueError(f"{round(number)} has more than {bits // 8} digits")
    return int.from_bytes(text)


def _decode_float(raw: int, bits: int) -> float | None:
    value: float = struct.unpack(_FLOAT[bits], raw.to_bytes(bits // 8))[0]
    return value if abs(value) < float("inf") else None


def _encode_float(number: float, bits: int) -> int:
    return int.from_bytes(struct.pack(_FLOAT[bits], number))


_FLOAT: Final = {32: ">f", 64: ">d"}

#: The codings a description can name. Bytes are put in order first: ``digits`` in their usual
#: order are big-endian.
CODINGS: Final[Mapping[str, Coding]] = {
    "unsigned": Coding(lambda raw, _bits: raw, _encode_unsigned),
    "signed": Coding(_decode_signed, _encode_signed),
    "offset-binary": Coding(_decode_offset_binary, _encode_offset_binary),
    "sign-magnitude": Coding(_decode_sign_magnitude, _encode_sign_magnitude),
    "bcd": Coding(_decode_bcd, _encode_bcd),
    "digits": Coding(_decode_digits, _encode_digits, tuple(range(1, 9))),
    "float": Coding(_decode_float, _encode_float, (4, 8)),
}
