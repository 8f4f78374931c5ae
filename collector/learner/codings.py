"""Every way in which bytes of a frame can stand for a number, worked out for all places at once."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..frames.place import Order
from .stream import Bytes

Figures = NDArray[np.float64]
Bits = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Form:
    """How bits are taken from a frame and what they stand for; names as in descriptions."""

    coding: str
    length: int
    order: Order = "big"
    mask: int = 0

    @property
    def bits(self) -> int:
        return self.mask.bit_count() or 8 * self.length

    def figures(self, frames: Bytes) -> Figures:
        """The number at each place of each frame, NaN where the bits are none.

        Returns
        -------
        Figures
            Shape (frames, places); place ``n`` begins at byte ``n``.
        """
        if frames.shape[1] < self.length:
            return np.empty((len(frames), 0))
        if self.coding == "digits":
            return _digits(frames, self.length)
        raw = _integers(frames, self.length, self.order)
        if self.mask:
            raw = (raw & self.mask) >> _shift(self.mask)
        return _NUMBERS[self.coding](raw, self.bits)

    def figures_at(self, frames: Bytes, at: int) -> Figures:
        """The number at one place of each frame."""
        return self.figures(frames[:, at:at + self.length])[:, 0]

    def span(self) -> tuple[float, float]:
        """Lowest and highest number that fits."""
        half = float(1 << (self.bits - 1))
        return {"signed": (-half, half - 1), "offset-binary": (-half, half - 1),
                "sign-magnitude": (1 - half, half - 1), "float": (-3e38, 3e38),
                "bcd": (0.0, 10.0 ** (self.bits // 4) - 1),
                "digits": (-(10.0 ** (self.length - 1)) + 1, 10.0 ** self.length - 1),
                }.get(self.coding, (0.0, 2 * half - 1))


def _shift(mask: int) -> int:
    return (mask & -mask).bit_length() - 1


def _integers(frames: Bytes, length: int, order: Order) -> Bits:
    places = frames.shape[1] - length + 1
    raw = np.zeros((len(frames), places), dtype=np.int64)
    for k in range(length) if order == "big" else reversed(range(length)):
        raw = raw << 8 | frames[:, k:k + places]
    return raw


def _signed(raw: Bits, bits: int) -> Figures:
    return (raw - (raw >> (bits - 1) << bits)).astype(float)


def _sign_magnitude(raw: Bits, bits: int) -> Figures:
    top = 1 << (bits - 1)
    return np.where(raw & top, top - raw, raw).astype(float)


def _bcd(raw: Bits, bits: int) -> Figures:
    total = np.zeros(raw.shape)
    good = np.ones(raw.shape, dtype=bool)
    for k in range(bits // 4):
        digit = raw >> 4 * k & 0xF
        good &= digit <= 9
        total += digit * 10.0 ** k
    return np.where(good, total, np.nan)


def _float(raw: Bits, _bits: int) -> Figures:
    with np.errstate(invalid="ignore"):
        value = raw.astype(np.uint32).view(np.float32).astype(float)
    return np.where(np.abs(value) < 1e9, value, np.nan)


def _digits(frames: Bytes, length: int) -> Figures:
    """Decimal digits behind an optional sign or spaces, as the ``digits`` coding reads them."""
    places = frames.shape[1] - length + 1
    total = np.zeros((len(frames), places))
    begun = np.zeros(total.shape, dtype=bool)
    good = np.ones(total.shape, dtype=bool)
    negative = np.zeros(total.shape, dtype=bool)
    for k in range(length):
        byte = frames[:, k:k + places]
        is_digit = (byte >= 0x30) & (byte <= 0x39)
        is_lead = ~begun & np.isin(byte, [0x20, 0x2B, 0x2D])
        good &= is_digit | is_lead
        negative |= byte == 0x2D
        begun |= is_digit | (byte == 0x2B) | (byte == 0x2D)
        total = np.where(is_digit, 10 * total + (byte & 0xF), total)
    is_digit_last = (frames[:, length - 1:] >= 0x30) & (frames[:, length - 1:] <= 0x39)
    return np.where(good & is_digit_last, np.where(negative, -total, total), np.nan)


_NUMBERS: Final[dict[str, Callable[[Bits, int], Figures]]] = {
    "unsigned": lambda raw, _bits: raw.astype(float),
    "signed": _signed,
    "offset-binary": lambda raw, bits: (raw - (1 << (bits - 1))).astype(float),
    "sign-magnitude": _sign_magnitude,
    "bcd": _bcd,
    "float": _float,
}

BYTE_ORDERS: Final[tuple[Order, ...]] = ("big", "little")


@cache
def all_forms() -> tuple[Form, ...]:
    """Every form that is tried, the plainest first."""
    return tuple(_forms())


def _forms() -> Iterator[Form]:
    for coding in ("unsigned", "signed"):
        yield Form(coding, 1)
    for length in (2, 4, 3):
        for order in BYTE_ORDERS:
            yield Form("unsigned", length, order)
            yield Form("signed", length, order)
    for coding in ("offset-binary", "sign-magnitude"):
        yield Form(coding, 1)
        for length in (2, 3, 4):
            for order in BYTE_ORDERS:
                yield Form(coding, length, order)
    for length in (2, 3, 4, 5, 6, 7):
        yield Form("digits", length)
    yield Form("bcd", 1)
    for length in (2, 3):
        for order in BYTE_ORDERS:
            yield Form("bcd", length, order)
    yield from _bit_fields()
    for order in BYTE_ORDERS:
        yield Form("float", 4, order)


def _bit_fields() -> Iterator[Form]:
    for mask in (0x7F, 0xFE):
        yield Form("unsigned", 1, mask=mask)
    for mask in (0x0FFF, 0xFFF0, 0x03FF, 0x3FFF, 0x7FFF):
        for order in BYTE_ORDERS:
            yield Form("unsigned", 2, order, mask)
            yield Form("signed", 2, order, mask)
