"""Invented monitors drawn at random, for the learner's benchmark; none copies a known layout.

Each draw fixes framing, check, decoys and how each figure is coded, plays an invented drive
through it, and lets a person read the display five times in three states: rounded, up to three
seconds late. ``Invented.truth`` is what a learner should find.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from crccheck import crc as reference_crc

from collector.frames.stuffing import cobs_encoded, slip_encoded
from collector.learner import Reading
from collector.rawfile import Chunk
from tests.benchmarks.invented_drives import Drive, Trace, drive
from tests.benchmarks.invented_figures import (
    Bytes,
    Coded,
    amps_coded,
    cells_coded,
    decoys,
    directed_coded,
    percent_coded,
    volts_coded,
)

START_MS = 1_775_116_800_000

#: The rules, worked out by ``crccheck`` and plain Python, not by the code under test.
_CRCS = {
    "CRC-8/SMBUS": "Crc8Smbus", "CRC-8/MAXIM-DOW": "Crc8MaximDow",
    "CRC-8/SAE-J1850": "Crc8SaeJ1850", "CRC-8/DARC": "Crc8Darc", "CRC-8/ROHC": "Crc8Rohc",
    "CRC-16/ARC": "Crc16Arc", "CRC-16/MODBUS": "Crc16Modbus", "CRC-16/IBM-3740": "Crc16Ibm3740",
    "CRC-16/XMODEM": "Crc16Xmodem", "CRC-16/KERMIT": "Crc16Kermit", "CRC-16/DNP": "Crc16Dnp",
    "CRC-16/IBM-SDLC": "Crc16IbmSdlc", "CRC-16/T10-DIF": "Crc16T10Dif",
    "CRC-32/ISO-HDLC": "Crc32IsoHdlc", "CRC-32/MPEG-2": "Crc32Mpeg2",
}


def _rule(name: str) -> tuple[int, Callable[[bytes], int]]:
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
class Invented:
    """One monitor, what it sent, and what a person read off its display."""

    seed: int
    title: str
    chunks: list[Chunk]
    readings: list[Reading]
    truth: dict[str, Truth]
    #: Frames as they should be cut, and when each was whole. [s]
    times_s: Trace


def invent(seed: int) -> Invented:
    """The monitor of this seed."""
    rng = np.random.default_rng(seed)
    rate_hz = float(rng.choice([1, 1, 2, 4, 5, 10]))
    trip = drive(rng, rate_hz)
    display_sign = 1 if rng.random() < 0.75 else -1
    pick = rng.random()
    times_s = trip.time_s
    if pick > 0.85:
        title, wire, truth, times_s = _mixed_monitor(rng, trip, display_sign)
    else:
        maker = _text_monitor if pick < 0.2 else _binary_monitor
        title, wire, truth = maker(rng, trip, display_sign)
    chunks = _as_heard(rng, wire, times_s)
    readings = _typed(rng, trip, truth, times_s)
    return Invented(seed, f"{title}, {rate_hz:g} Hz", chunks, readings, truth, times_s)


# ---------------------------------------------------------------- frames

def _binary_monitor(rng: np.random.Generator, trip: Drive,
                    display_sign: int) -> tuple[str, list[bytes], dict[str, Truth]]:
    length = int(np.clip(rng.lognormal(3.5, 0.6), 8, 120))
    wire_sign = 1 if rng.random() < 0.7 else -1
    figures = {"voltage_v": volts_coded(rng, trip.voltage_v),
               "current_a": amps_coded(rng, wire_sign * trip.current_a),
               "soc_pct": percent_coded(rng, trip.soc_pct)}
    flag: Bytes | None = None
    more = np.random.default_rng([int(rng.integers(1 << 31)), 1])
    if more.random() < 0.15:
        wire_sign = 1
        figures["current_a"], flag = directed_coded(more, trip.current_a)
    kind = str(rng.choice(["start", "start", "delimited", "length", "silence", "cobs", "slip"]))
    rule = str(rng.choice(RULES)) if kind == "silence" or rng.random() < 0.9 else ""
    head = rng.integers(1, 256, {"start": int(rng.integers(1, 4)), "delimited": 1,
                                 "length": 2}.get(kind, 0), dtype=np.uint8)
    if kind in ("start", "delimited") and len(head) == 1 and not rule:
        head = rng.integers(1, 256, 2, dtype=np.uint8)
    tail = rng.integers(1, 256, 1, dtype=np.uint8) if kind == "delimited" else head[:0]
    parts = [(name, coded.data) for name, coded in figures.items()]
    parts += [("flag", flag)] if flag is not None else []
    room = length - sum(data.shape[1] for _, data in parts) - len(head) - len(tail) - 2
    extra = cells_coded(rng, trip.cells_v) + decoys(rng, trip)
    for data in extra:
        if data.shape[1] <= room:
            parts.append(("", data))
            room -= data.shape[1]
    parts = [parts[k] for k in rng.permutation(len(parts))]
    n = len(trip.time_s)
    body = [np.tile(head, (n, 1))]
    at = len(head)
    if kind == "length":
        total = at + 1 + sum(data.shape[1] for _, data in parts) + (_rule(rule)[0] if rule else 0)
        body.append(np.full((n, 1), total - int(rng.choice([0, 3])), np.uint8))
        at += 1
    truth = {}
    flag_at = None
    for name, data in parts:
        if name == "flag":
            flag_at = at
        elif name:
            truth[name] = _truth(name, figures[name], at, data.shape[1],
                                 wire_sign * display_sign)
        body.append(data)
        at += data.shape[1]
    truth["current_a"] = replace(truth["current_a"], flag_at=flag_at)
    if flag_at is not None:
        truth["current_a"] = replace(truth["current_a"], scale=figures["current_a"].scale)
    frames = np.hstack(body)
    check_from = int(rng.choice([0, len(head)]))
    check_order = str(rng.choice(["big", "little"]))
    wrap: dict[str, Callable[[bytes], bytes]] = {
        "cobs": lambda f: cobs_encoded(f) + b"\0",
        "slip": lambda f: b"\xc0" + slip_encoded(f) + b"\xc0"}
    wire = []
    for row in frames:
        frame = row.tobytes()
        if rule:
            width, compute = _rule(rule)
            frame += compute(frame[check_from:]).to_bytes(width, check_order)  # type: ignore[arg-type]
        wire.append(wrap.get(kind, bytes)(frame + tail.tobytes()))
    return f"{kind} {at} bytes, check {rule or 'none'}", wire, truth


def _mixed_monitor(rng: np.random.Generator, trip: Drive, display_sign: int
                   ) -> tuple[str, list[bytes], dict[str, Truth], Trace]:
    """Frames of several lengths: kinds of messages in turn, or one with a list at its end."""
    wire_sign = 1 if rng.random() < 0.7 else -1
    figures = {"voltage_v": volts_coded(rng, trip.voltage_v),
               "current_a": amps_coded(rng, wire_sign * trip.current_a),
               "soc_pct": percent_coded(rng, trip.soc_pct)}
    count = int(rng.choice([1, 2, 2, 3]))
    head = rng.integers(1, 256, int(rng.integers(1, 3)), dtype=np.uint8)
    rule = str(rng.choice(RULES)) if rng.random() < 0.9 else ""
    adds, front = int(rng.choice([0, 0, 2, 3])), len(head) + 1 + (count > 1)
    codes, rounds = rng.choice(256, count, replace=False), [1, *rng.integers(1, 5, count - 1)]
    parts: list[list[tuple[str, Bytes]]] = [[] for _ in range(count)]
    for name, coded in figures.items():
        parts[int(rng.integers(count))].append((name, coded.data))
    for data in (cells_coded(rng, trip.cells_v) + decoys(rng, trip))[:int(rng.integers(4, 12))]:
        parts[int(rng.integers(count))].append(("", data))
    bodies = [np.hstack([data for _, data in group]) if group else np.zeros(
        (len(trip.time_s), 2), np.uint8) for group in parts]
    wire, sent, ticks = [], [], []
    for n in range(len(trip.time_s)):
        for kind in range(count):
            if n % rounds[kind] == 0:
                body = bodies[kind][n].tobytes()
                body += b"" if count > 1 else bytes(range(1, 1 + int(rng.integers(5))))
                code = bytes([codes[kind]]) if count > 1 else b""
                wire.append(_with_length(head.tobytes(), code + body, rule, adds))
                sent.append(kind)
                ticks.append(n)
    kinds, at_tick = np.array(sent), np.array(ticks)
    truth = {}
    for kind, group in enumerate(parts):
        last = np.maximum.accumulate(np.where(kinds == kind, at_tick, 0))
        at = front
        for name, data in group:
            if name:
                one = _truth(name, figures[name], at, data.shape[1], wire_sign * display_sign)
                truth[name] = replace(one, values=one.values[last])
            at += data.shape[1]
    times_s = trip.time_s[at_tick] + 0.03 * kinds
    title = f"{count} kinds" if count > 1 else "varying length"
    return f"{title}, check {rule or 'none'}", wire, truth, times_s


def _with_length(head: bytes, body: bytes, rule: str, adds: int) -> bytes:
    """Head, a byte that counts all but ``adds`` bytes of the frame, body and check."""
    width, compute = _rule(rule) if rule else (0, len)
    frame = head + bytes([len(head) + 1 + len(body) + width - adds]) + body
    return frame + (compute(frame).to_bytes(width, "big") if rule else b"")


def _truth(name: str, coded: Coded, at: int, length: int, sign: int) -> Truth:
    """``sign`` is -1 where the display shows the wire's amps the other way round."""
    turn = sign if name == "current_a" else 1
    place = f"{at}..{at + length - 1}" if length > 1 else f"{at}"
    if coded.mask:
        place += f" bits {coded.mask:#x}"
    order = f", {coded.order}" if length > 1 and coded.type != "digits" else ""
    assert coded.raw is not None
    return Truth(place, f"{coded.type}{order}", turn * coded.scale, turn * coded.offset,
                 turn * (coded.raw * coded.scale + coded.offset))


def _text_monitor(rng: np.random.Generator, trip: Drive,
                  display_sign: int) -> tuple[str, list[bytes], dict[str, Truth]]:
    form = str(rng.choice(["comma", "key=value", "json"]))
    scales = {"voltage_v": float(rng.choice([1, 1, 0.001])), "soc_pct": 1.0,
              "current_a": float(rng.choice([1, 1, 0.001]))}
    decimals = {"voltage_v": int(rng.choice([1, 2])), "current_a": int(rng.choice([1, 2])),
                "soc_pct": int(rng.choice([0, 0, 1]))}
    wire_sign = 1 if rng.random() < 0.7 else -1
    source = {"voltage_v": trip.voltage_v, "current_a": wire_sign * trip.current_a,
              "soc_pct": trip.soc_pct, "d0": np.arange(len(trip.time_s)) % 1000.0,
              "d1": np.full(len(trip.time_s), 51.2), "d2": trip.temp_c[:, 0],
              "d3": trip.charge_left_ah, "d4": trip.current_a * trip.voltage_v,
              "d5": trip.cells_v.min(axis=1), "d6": trip.cells_v.max(axis=1)}
    places = {"d0": 0, "d1": 1, "d2": 1, "d3": 1, "d4": 0, "d5": 3, "d6": 3} | {
        name: 0 if scales[name] < 1 else decimals[name] for name in scales}
    names = [list(source)[k] for k in rng.permutation(len(source))]
    keys = {name: f"{chr(97 + int(rng.integers(26)))}{k}" for k, name in enumerate(names)}
    texts = {name: [f"{value / scales.get(name, 1):.{places[name]}f}" for value in source[name]]
             for name in names}
    start = str(rng.choice(["", "$", ":"])) if form != "json" else ""
    rule = str(rng.choice(["", "xor8", "sum8", "CRC-16/MODBUS"])) if form != "json" else ""
    wire = [_line(form, start, rule, {keys[name]: texts[name][k] for name in names})
            for k in range(len(trip.time_s))]
    truth = {}
    for name, scale in scales.items():
        turn = wire_sign * display_sign if name == "current_a" else 1
        place = str(names.index(name)) if form == "comma" else keys[name]
        truth[name] = Truth(place, "text", turn * scale, 0.0,
                            turn * scale * np.array([float(text) for text in texts[name]]))
    return f"text {form}, check {rule or 'none'}", wire, truth


def _line(form: str, start: str, rule: str, tokens: dict[str, str]) -> bytes:
    text = {"comma": ",".join(tokens.values()),
            "key=value": " ".join(f"{k}={v}" for k, v in tokens.items()),
            "json": json.dumps({k: float(v) for k, v in tokens.items()})}[form]
    if rule:
        width, compute = _rule(rule)
        text += f"*{compute(text.encode()):0{2 * width}X}"
    return f"{start}{text}\r\n".encode()


# ---------------------------------------------------------------- the link and the person

def _as_heard(rng: np.random.Generator, wire: list[bytes], time_s: Trace) -> list[Chunk]:
    """Frames in one, two or three pieces, the first torn, now and then junk or a lost piece."""
    pieces, junk = int(rng.choice([1, 1, 2, 3])), rng.random() < 0.3
    chunks = []
    for n, (whole, at_s) in enumerate(zip(wire, time_s, strict=True)):
        frame = whole
        if n == 0:
            frame = whole[len(whole) // 2:]
        elif junk and rng.random() < 0.004:
            frame = rng.integers(0, 256, int(rng.integers(1, 9)), dtype=np.uint8).tobytes() + whole
        elif junk and rng.random() < 0.004:
            frame = whole[:int(rng.integers(1, len(whole)))]
        cuts = np.linspace(0, len(frame), pieces + 1).astype(int)
        for k in range(pieces):
            late_s = at_s + 0.012 * k + rng.uniform(0, 0.004)
            data = frame[cuts[k]:cuts[k + 1]]
            if data:
                chunks.append(Chunk(START_MS + round(1000 * late_s), late_s, data))
    return chunks


def _typed(rng: np.random.Generator, trip: Drive, truth: dict[str, Truth],
           times_s: Trace) -> list[Reading]:
    """Five readings in three states, each figure as displayed, late by up to three seconds."""
    states = [0, 1, 3 if (trip.state == 3).any() else 2]
    states += [int(k) for k in rng.choice(states, 2)]
    decimals = {"voltage_v": 1, "current_a": int(rng.choice([1, 1, 0])), "soc_pct": 0}
    lag_s = rng.uniform(0, 2.4)
    moments = []
    for state in states:
        inside = np.flatnonzero((trip.state == state) & (trip.time_s > 8))
        moments.append(float(trip.time_s[rng.choice(inside)]))
    readings = []
    for at_s in sorted(moments):
        shown = np.searchsorted(times_s, at_s - lag_s - rng.uniform(0, 0.5), "right") - 1
        values = {name: f"{truth[name].values[shown]:.{places}f}"
                  for name, places in decimals.items()}
        readings.append(Reading.from_texts(START_MS + round(1000 * at_s), values))
    return readings
