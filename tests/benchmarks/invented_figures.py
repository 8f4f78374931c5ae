"""How invented monitors write figures as bytes, what else they send, and what is true of it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.invented_drives import Drive, Trace

Bytes = NDArray[np.uint8]


def _int_bytes(raw: NDArray[np.int64], length: int, order: str) -> Bytes:
    raw = raw.astype(np.int64) & ((1 << 8 * length) - 1)
    columns = [(raw >> 8 * k & 0xFF).astype(np.uint8) for k in range(length)]
    return np.stack(columns if order == "little" else columns[::-1], axis=1)


@dataclass(frozen=True)
class Truth:
    """How one figure lies in the frame, and what it says at every frame."""

    place: str
    type: str
    scale: float
    offset: float
    values: Trace
    #: Byte of the flag that tells the direction of unsigned amps.
    flag_at: int | None = None


@dataclass(frozen=True)
class Sent:
    """What one monitor sends over a drive, and what a learner should find in it."""

    title: str
    #: Frames as they lie on the wire.
    wire: list[bytes]
    #: When each begins. [s]
    times_s: Trace
    truth: dict[str, Truth]
    #: Volts of each cell at each frame, where they are told. [frames, cells]
    cells_v: Trace | None


@dataclass(frozen=True)
class Coded:
    """One figure on the wire: its bytes, and how to read them."""

    data: Bytes
    type: str
    scale: float
    offset: float = 0.0
    mask: int = 0
    order: str = "big"
    #: Steps as read back, before scale and offset.
    raw: NDArray[np.int64] | None = None


def coded(values: Trace, kind: str, length: int, order: str, scale: float,
           zero: int = 0) -> Coded:
    """``kind`` of the frames' codings; ``zero`` is the raw value that means 0."""
    raw = np.round(values / scale).astype(np.int64) + zero
    if kind == "digits":
        text = [f"{n:+0{length}d}" if raw.min() < 0 else f"{n:0{length}d}" for n in raw]
        data = np.frombuffer("".join(text).encode(), np.uint8).reshape(len(raw), length)
        return Coded(data, kind, scale, raw=raw)
    bits = raw
    if kind == "bcd":
        bits = np.array([int(str(n), 16) for n in raw])
    elif kind == "offset-binary":
        bits = raw + (1 << (8 * length - 1))
    elif kind == "sign-magnitude":
        bits = np.abs(raw) | ((raw < 0).astype(np.int64) << (8 * length - 1))
    return Coded(_int_bytes(bits, length, order), kind, scale, -zero * scale, 0, order, raw)


def truth_of(name: str, coded: Coded, at: int, sign: int) -> Truth:
    """``sign`` is -1 where the display shows the wire's amps the other way round."""
    turn = sign if name == "current_a" else 1
    length = coded.data.shape[1]
    place = f"{at}..{at + length - 1}" if length > 1 else f"{at}"
    if coded.mask:
        place += f" bits {coded.mask:#x}"
    order = f", {coded.order}" if length > 1 and coded.type != "digits" else ""
    assert coded.raw is not None
    return Truth(place, f"{coded.type}{order}", turn * coded.scale, turn * coded.offset,
                 turn * (coded.raw * coded.scale + coded.offset))


def volts_coded(rng: np.random.Generator, v: Trace) -> Coded:
    order = str(rng.choice(["big", "little"]))
    pick = rng.random()
    if pick < 0.72:
        return coded(v, "unsigned", 2, order, float(rng.choice([0.1, 0.01, 0.01, 0.001 * (
            v.max() < 65) or 0.01, 0.05, 1 / 64])))
    if pick < 0.80:
        return coded(v, "unsigned", 4, order, 0.001)
    if pick < 0.86:
        return coded(v, "unsigned", 3, order, 0.001)
    if pick < 0.93:
        return coded(v, "bcd", 2, order, 0.1 if v.max() >= 99.9 else float(
            rng.choice([0.1, 0.01])))
    return coded(v, "digits", 4, "big", 0.1)


def amps_coded(rng: np.random.Generator, a: Trace) -> Coded:
    """Signed in every way; ``a`` has the wire's own sign."""
    order = str(rng.choice(["big", "little"]))
    pick = rng.random()
    scale = float(rng.choice([0.1, 0.1, 0.01, 0.05, 1 / 64]))
    if pick < 0.45:
        return coded(a, "signed", 2, order, scale)
    if pick < 0.55:
        return coded(a, "signed", int(rng.choice([3, 4])), order, 0.001)
    if pick < 0.70:
        return coded(a, "offset-binary", 2, order, scale)
    if pick < 0.82:
        zero = int(rng.choice([30000, 20000, 10000, 32000, 25000, 5000]))
        return coded(a, "unsigned", 2, order, 0.1 if zero <= 10000 else scale, zero)
    if pick < 0.92:
        return coded(a, "sign-magnitude", 2, order, scale)
    return coded(a, "digits", 5, "big", 0.1)


def directed_coded(rng: np.random.Generator, a: Trace) -> tuple[Coded, Bytes]:
    """Unsigned amps, and the byte that says which way they flow; ``a`` negative out."""
    order = str(rng.choice(["big", "little"]))
    scale = float(rng.choice([0.1, 0.1, 0.01]))
    raw = np.round(a / scale).astype(np.int64)
    size = coded(np.abs(a), "bcd", 2, order, 0.1) if rng.random() < 0.15 else coded(
        np.abs(raw) * scale, "unsigned", 2, order, scale)
    raw = np.round(a / size.scale).astype(np.int64)
    is_out = (raw < 0) if rng.random() < 0.5 else (raw <= 0)
    pick = rng.random()
    if pick < 0.5:  # a bit among others, one of them slow
        k, other = rng.permutation(8)[:2]
        is_set = is_out if rng.random() < 0.5 else ~is_out
        slow = np.arange(len(a)) // int(rng.integers(40, 300)) % 2
        flag = is_set.astype(np.int64) << k | slow << other
    else:
        out, into = rng.choice(256, 2, replace=False) if pick < 0.7 else (1, 2)
        flag = np.where(is_out, out, into)
    return replace(size, raw=raw), flag.astype(np.uint8)[:, None]


def percent_coded(rng: np.random.Generator, p: Trace) -> Coded:
    p = np.clip(p, 0, 99.99)
    order = str(rng.choice(["big", "little"]))
    pick = rng.random()
    if pick < 0.5:
        return coded(np.round(p - 0.001), "unsigned", 1, "big", 1.0)
    if pick < 0.62:
        return coded(p, "unsigned", 1, "big", 0.5)
    if pick < 0.80:
        return coded(p, "unsigned", 2, order, float(rng.choice([0.1, 0.01])))
    if pick < 0.87:
        return coded(np.minimum(np.round(p), 99), "bcd", 1, "big", 1.0)
    if pick < 0.93:
        return coded(np.round(p), "digits", 3, "big", 1.0)
    return _flagged(rng, np.round(p).astype(np.int64))


def _flagged(rng: np.random.Generator, steps: NDArray[np.int64]) -> Coded:
    """Seven bits of a byte; the eighth is a flag that comes and goes."""
    flag = (np.arange(len(steps)) // int(rng.integers(20, 90))) % 2
    if rng.random() < 0.5:
        return Coded(_int_bytes(steps | flag << 7, 1, "big"), "unsigned", 1.0, mask=0x7F,
                      raw=steps)
    return Coded(_int_bytes(steps << 1 | flag, 1, "big"), "unsigned", 1.0, mask=0xFE, raw=steps)


def decoys(rng: np.random.Generator, trip: Drive) -> list[Bytes]:
    """Everything else a frame may carry, in random order."""
    n = len(trip.time_s)
    order = str(rng.choice(["big", "little"]))
    ticks = np.arange(n)

    def constant(length: int) -> Bytes:
        return np.tile(rng.integers(0, 256, length, dtype=np.uint8), (n, 1))

    def smooth(values: Trace, count: int) -> Trace:
        padded = np.concatenate([np.full(count - 1, values[0]), values])
        return np.convolve(padded, np.ones(count) / count, "valid")

    power = np.round(trip.current_a * trip.voltage_v).astype(np.int64)
    low, high = trip.cells_v.min(axis=1), trip.cells_v.max(axis=1)
    rate = 1 / (trip.time_s[1] - trip.time_s[0])
    limit = int(rng.uniform(0.9, 1.1) * trip.voltage_v.max() * 10)
    choices: list[Bytes] = [
        constant(1), constant(2), _int_bytes(np.full(n, limit), 2, order),
        np.zeros((n, 2), np.uint8),
        _int_bytes(ticks, int(rng.choice([1, 2])), order),
        _int_bytes((trip.time_s + rng.uniform(0, 1e6)).astype(np.int64), 4, order),
        rng.integers(0, 256, (n, 1), dtype=np.uint8),
        _int_bytes(power, int(rng.choice([2, 4])), order),
        _int_bytes(np.round(smooth(trip.current_a, int(20 * rate)) * 10).astype(np.int64), 2,
                   order),
        _int_bytes(np.round(trip.charge_left_ah * float(rng.choice([1, 10, 100]))).astype(
            np.int64), 2, order),
        _int_bytes(np.round(low * 1000).astype(np.int64), 2, order),
        _int_bytes(np.round(high * 1000).astype(np.int64), 2, order),
        _int_bytes(np.round((high - low) * 1000).astype(np.int64), 2, order),
        np.stack([trip.cells_v.argmin(axis=1), trip.cells_v.argmax(axis=1)], axis=1).astype(
            np.uint8),
        _int_bytes(trip.state, 1, "big"),
        _int_bytes((trip.current_a > 2).astype(np.int64) * 2 + (trip.current_a < -2), 1, "big"),
        _int_bytes(np.full(n, int(rng.integers(94, 101))), 1, "big"),
        _int_bytes(np.full(n, int(rng.integers(3, 400))), 2, order),
        _int_bytes(np.round(np.abs(trip.current_a) * 3.7).astype(np.int64), 2, order),
        constant(4),
    ]
    return [choices[k] for k in rng.permutation(len(choices))]


def degrees_coded(rng: np.random.Generator, warm_c: Trace) -> Coded:
    """One sensor, as a byte above some zero point, in tenths, or in tenths above absolute zero."""
    order = str(rng.choice(["big", "little"]))
    pick = rng.random()
    if pick < 0.4:
        return coded(warm_c, "unsigned", 1, "big", 1.0, int(rng.choice([40, 40, 50, 30, 100])))
    if pick < 0.6:
        return coded(warm_c, "signed", 1, "big", 1.0)
    if pick < 0.85:
        return coded(warm_c, "signed", 2, order, 0.1)
    return coded(warm_c, "unsigned", 2, order, 0.1, 2731)


@dataclass(frozen=True)
class CodedCells:
    """All cells side by side, and what they say. [frames, cells]"""

    data: Bytes
    values: Trace


def cells_coded(rng: np.random.Generator, cells_v: Trace) -> CodedCells:
    """Millivolts whole, above the lowest cell or above a constant, or coarse in one byte."""
    order = str(rng.choice(["big", "little"]))
    millivolts = np.round(cells_v * 1000).astype(np.int64)
    pick = rng.random()
    if pick < 0.4:
        return CodedCells(_side_by_side(millivolts, 2, order), millivolts / 1000)
    if pick < 0.65:
        base = millivolts.min(axis=1)
        above = np.clip(millivolts - base[:, None], 0, 255)
        return CodedCells(np.hstack([_int_bytes(base, 2, order), above.astype(np.uint8)]),
                          (base[:, None] + above) / 1000)
    if pick < 0.85:
        base = int(rng.choice([1000, 1500, 1700, 2000]))
        return CodedCells(_side_by_side(millivolts - base, 2, order), millivolts / 1000)
    step, base = (20, 0) if rng.random() < 0.5 else (10, int(rng.choice([1800, 2000])))
    raw = np.clip(np.round((cells_v * 1000 - base) / step), 0, 255).astype(np.int64)
    return CodedCells(_side_by_side(raw, 1, order), (raw * step + base) / 1000)


def _side_by_side(raw: NDArray[np.int64], length: int, order: str) -> Bytes:
    return np.hstack([_int_bytes(raw[:, k], length, order) for k in range(raw.shape[1])])
