"""Invented monitors that send binary frames: one kind, or several kinds of message in turn."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from collector.frames.stuffing import cobs_encoded, slip_encoded
from tests.benchmarks.invented_checks import RULES, rule_of
from tests.benchmarks.invented_drives import Drive, Trace
from tests.benchmarks.invented_figures import (
    Bytes,
    Coded,
    Sent,
    Truth,
    amps_coded,
    cells_coded,
    decoys,
    degrees_coded,
    directed_coded,
    percent_coded,
    truth_of,
    volts_coded,
)


@dataclass(frozen=True)
class _Part:
    """Some bytes of every frame; a name where they are a figure to be found."""

    name: str
    data: Bytes


def _figures(rng: np.random.Generator, trip: Drive, wire_sign: int) -> dict[str, Coded]:
    return {"voltage_v": volts_coded(rng, trip.voltage_v),
            "current_a": amps_coded(rng, wire_sign * trip.current_a),
            "soc_pct": percent_coded(rng, trip.soc_pct)}


def _extras(rng: np.random.Generator, trip: Drive,
            figures: dict[str, Coded]) -> tuple[list[_Part], Trace]:
    """Cells, temperatures and decoys in the order of their claim to room, and what cells say."""
    cells = cells_coded(rng, trip.cells_v)
    parts = [_Part("cells", cells.data)]
    if rng.random() < 0.6:
        figures["temp_1_c"] = degrees_coded(rng, trip.temp_c[:, 0])
        parts.append(_Part("temp_1_c", figures["temp_1_c"].data))
    if rng.random() < 0.4:
        parts.append(_Part("", degrees_coded(rng, trip.temp_c[:, 1]).data))
    parts += [_Part("", data) for data in decoys(rng, trip)]
    return parts, cells.values


# ---------------------------------------------------------------- one kind of frame

def binary_monitor(rng: np.random.Generator, trip: Drive, display_sign: int) -> Sent:
    """Frames of 8 to 120 bytes, all alike."""
    length = int(np.clip(rng.lognormal(3.5, 0.6), 8, 120))
    wire_sign = 1 if rng.random() < 0.7 else -1
    figures = _figures(rng, trip, wire_sign)
    flag: list[_Part] = []
    if rng.random() < 0.15:
        wire_sign = 1
        figures["current_a"], data = directed_coded(rng, trip.current_a)
        flag = [_Part("flag", data)]
    kind = str(rng.choice(["start", "start", "delimited", "length", "silence", "cobs", "slip"]))
    rule = str(rng.choice(RULES)) if kind == "silence" or rng.random() < 0.9 else ""
    head = rng.integers(1, 256, {"start": int(rng.integers(1, 4)), "delimited": 1,
                                 "length": 2}.get(kind, 0), dtype=np.uint8)
    if kind in ("start", "delimited") and len(head) == 1 and not rule:
        head = rng.integers(1, 256, 2, dtype=np.uint8)
    tail = rng.integers(1, 256, 1, dtype=np.uint8) if kind == "delimited" else head[:0]
    parts = [_Part(name, coded.data) for name, coded in figures.items()] + flag
    extras, cells_v = _extras(rng, trip, figures)
    parts += _that_fit(extras, length - _width(parts) - len(head) - len(tail) - 2)
    parts = [parts[k] for k in rng.permutation(len(parts))]
    n = len(trip.time_s)
    body = [np.tile(head, (n, 1))]
    at = len(head)
    if kind == "length":
        total = at + 1 + _width(parts) + (rule_of(rule)[0] if rule else 0)
        body.append(np.full((n, 1), total - int(rng.choice([0, 3])), np.uint8))
        at += 1
    truth = _placed(parts, figures, at, wire_sign * display_sign)
    frames = np.hstack(body + [part.data for part in parts])
    check_from = int(rng.choice([0, len(head)]))
    check_order = str(rng.choice(["big", "little"]))
    wire = [_wrapped(kind, _checked(row.tobytes(), rule, check_from, check_order)
                     + tail.tobytes()) for row in frames]
    return Sent(f"{kind} {frames.shape[1]} bytes, check {rule or 'none'}", wire, trip.time_s,
                truth, cells_v if any(part.name == "cells" for part in parts) else None)


def _width(parts: list[_Part]) -> int:
    return sum(part.data.shape[1] for part in parts)


def _that_fit(parts: list[_Part], room: int) -> list[_Part]:
    """The first ones that have room, some small ones behind larger ones."""
    kept = []
    for part in parts:
        if part.data.shape[1] <= room:
            kept.append(part)
            room -= part.data.shape[1]
    return kept


def _placed(parts: list[_Part], figures: dict[str, Coded], at: int,
            sign: int) -> dict[str, Truth]:
    """What is to be found among these parts, the first of which begins at ``at``."""
    truth, flag_at = {}, None
    for part in parts:
        if part.name in figures:
            truth[part.name] = truth_of(part.name, figures[part.name], at, sign)
        elif part.name == "flag":
            flag_at = at
        at += part.data.shape[1]
    if flag_at is not None:
        truth["current_a"] = replace(truth["current_a"], flag_at=flag_at,
                                     scale=figures["current_a"].scale)
    return truth


def _checked(frame: bytes, rule: str, start: int = 0, order: str = "big") -> bytes:
    """With the check value of its bytes from ``start`` on behind it."""
    if not rule:
        return frame
    width, compute = rule_of(rule)
    return frame + compute(frame[start:]).to_bytes(width, order)  # type: ignore[arg-type]


def _wrapped(kind: str, frame: bytes) -> bytes:
    wrap: dict[str, Callable[[bytes], bytes]] = {
        "cobs": lambda f: cobs_encoded(f) + b"\0",
        "slip": lambda f: b"\xc0" + slip_encoded(f) + b"\xc0"}
    return wrap.get(kind, bytes)(frame)


# ---------------------------------------------------------------- several kinds of message

#: How messages of several kinds are told apart: by a length of one byte or two, by packets
#: between delimiters, or not at all where all have one length.
_KINDS = ("length", "length", "length", "two-byte length", "two-byte length", "cobs",
          "one length", "one length")


@dataclass(frozen=True)
class _Envelope:
    """What is around the body of each message."""

    kind: str
    head: bytes
    rule: str
    #: Bytes of the whole frame that its length does not count.
    adds: int
    order: str
    #: A code in front instead of behind head and length.
    is_code_first: bool

    @property
    def length_size(self) -> int:
        return {"length": 1, "two-byte length": 2}.get(self.kind, 0)

    def front(self, has_code: bool) -> int:
        """Bytes before the body."""
        return len(self.head) + self.length_size + has_code

    def frame(self, code: bytes, body: bytes) -> bytes:
        """The whole frame as it lies on the wire."""
        if self.length_size:
            width = rule_of(self.rule)[0] if self.rule else 0
            size = self.front(bool(code)) + len(body) + width - self.adds
            length = size.to_bytes(self.length_size, self.order)  # type: ignore[arg-type]
            return _checked(self.head + length + code + body, self.rule)
        front = code + self.head if self.is_code_first else self.head + code
        return _wrapped(self.kind, _checked(front + body, self.rule))


def mixed_monitor(rng: np.random.Generator, trip: Drive, display_sign: int) -> Sent:
    """Kinds of messages in turn, or one kind with a list at its end."""
    wire_sign = 1 if rng.random() < 0.7 else -1
    figures = _figures(rng, trip, wire_sign)
    envelope = _envelope(rng)
    count = int(rng.choice([2, 2, 3] if envelope.kind == "one length" else [1, 2, 2, 3]))
    codes, rounds = rng.choice(256, count, replace=False), [1, *rng.integers(1, 5, count - 1)]
    groups: list[list[_Part]] = [[] for _ in range(count)]
    for name, coded in figures.items():
        groups[int(rng.integers(count))].append(_Part(name, coded.data))
    extras, cells_v = _extras(rng, trip, figures)
    extras = extras[:int(rng.integers(4, 12))]
    for part in extras:
        groups[int(rng.integers(count))].append(part)
    bodies = _bodies(rng, envelope, groups, len(trip.time_s))
    wire, sent, ticks = [], [], []
    for n in range(len(trip.time_s)):
        for kind in (kind for kind in range(count) if n % rounds[kind] == 0):
            body = bodies[kind][n].tobytes()
            body += b"" if count > 1 else bytes(range(1, 1 + int(rng.integers(5))))
            wire.append(envelope.frame(bytes([codes[kind]]) if count > 1 else b"", body))
            sent.append(kind)
            ticks.append(n)
    kinds, at_tick = np.array(sent), np.array(ticks)
    truth: dict[str, Truth] = {}
    for kind, group in enumerate(groups):
        last = _last(kinds == kind, at_tick)
        found = _placed(group, figures, envelope.front(count > 1), wire_sign * display_sign)
        truth |= {name: replace(one, values=one.values[last]) for name, one in found.items()}
        if any(part.name == "cells" for part in group):
            cells_v = cells_v[last]
    title = (f"{envelope.kind}, {count} kinds" if count > 1 else f"{envelope.kind}, varying")
    return Sent(f"{title}, check {envelope.rule or 'none'}", wire,
                trip.time_s[at_tick] + 0.03 * kinds, truth, cells_v)


def _envelope(rng: np.random.Generator) -> _Envelope:
    kind = str(rng.choice(_KINDS))
    head = rng.integers(1, 256, int(rng.integers(1, 3)), dtype=np.uint8).tobytes()
    return _Envelope(kind, b"" if kind == "cobs" else head,
                     str(rng.choice(RULES)) if rng.random() < 0.9 else "",
                     int(rng.choice([0, 0, 2, 3])), str(rng.choice(["big", "little"])),
                     bool(rng.random() < 0.3))


def _last(is_kind: NDArray[np.bool_], at_tick: NDArray[np.int64]) -> NDArray[np.int64]:
    """The tick of the latest message of this kind at each message."""
    found: NDArray[np.int64] = np.maximum.accumulate(np.where(is_kind, at_tick, 0))
    return found


def _bodies(rng: np.random.Generator, envelope: _Envelope, groups: list[list[_Part]],
            count: int) -> list[Bytes]:
    """The bytes of each kind at each tick, filled up where all kinds have one length."""
    bodies = [np.hstack([part.data for part in group]) if group else np.zeros(
        (count, 2), np.uint8) for group in groups]
    if envelope.kind == "two-byte length" and rng.random() < 0.4:
        long = np.tile(rng.integers(0, 256, int(rng.integers(200, 300)), np.uint8), (count, 1))
        bodies[-1] = np.hstack([bodies[-1], long])
    if envelope.kind == "one length":
        width = max(body.shape[1] for body in bodies)
        bodies = [np.pad(body, ((0, 0), (0, width - body.shape[1]))) for body in bodies]
    return bodies
