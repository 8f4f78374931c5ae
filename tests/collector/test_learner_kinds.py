"""Frames that tell their length: several kinds of message, and one kind of varying length."""

import struct
import tomllib
from collections.abc import Iterator

import numpy as np
import pytest
from crccheck.crc import Crc16Modbus

from collector.learner import Lesson, Reading, learn
from collector.learner.description import description_tables, share_read_back, toml_text
from collector.monitors import description_from_tables
from collector.rawfile import Chunk
from tests.benchmarks.invented_drives import Drive, drive


def frame(at_s: float, code: int, body: bytes) -> Chunk:
    """Start bytes, length of the whole frame, code, body, check by crccheck."""
    data = bytes([0xA7, 0x31, len(body) + 6, code]) + body
    return Chunk(round(1000 * at_s), at_s, data + Crc16Modbus.calc(data).to_bytes(2, "little"))


def three_kinds(trip: Drive) -> Iterator[Chunk]:
    """Volts and amps in each round, percent in every third, cells in every fourth."""
    for n, at_s in enumerate(trip.time_s):
        pack = round(trip.voltage_v[n] * 100), round(trip.current_a[n] * 10)
        yield frame(at_s, 5, struct.pack(">Hh", *pack) + bytes([n % 256, 9]))
        if n % 3 == 0:
            yield frame(at_s + 0.03, 9, bytes([round(trip.soc_pct[n]), 3, 17]))
        if n % 4 == 0:
            cells = np.round(trip.cells_v[n] * 1000).astype(">u2")
            yield frame(at_s + 0.06, 12, cells.tobytes())


def varying(trip: Drive) -> Iterator[Chunk]:
    """All in one kind, with a list of up to four bytes at the end."""
    rng = np.random.default_rng(5)
    for n, at_s in enumerate(trip.time_s):
        pack = round(trip.voltage_v[n] * 100), round(trip.current_a[n] * 10)
        yield frame(at_s, 5, struct.pack(">HhB", *pack, round(trip.soc_pct[n]))
                    + bytes(range(int(rng.integers(5)))))


def typed(trip: Drive) -> list[Reading]:
    """The display at five moments in three states, typed 1.5 s later."""
    rng = np.random.default_rng(2)
    last = 3 if (trip.state == 3).any() else 2
    rows = [int(rng.choice(np.flatnonzero((trip.state == state) & (trip.time_s > 8))))
            for state in (0, 1, last, 1, 2)]
    return [Reading.from_texts(round(1000 * trip.time_s[n]) + 1500, {
        "voltage_v": f"{trip.voltage_v[n]:.1f}", "current_a": f"{trip.current_a[n]:.1f}",
        "soc_pct": f"{trip.soc_pct[n]:.0f}"}) for n in sorted(rows)]


def spots(lesson: Lesson) -> dict[str, tuple[int | str, tuple[int, int] | None]]:
    """Byte and kind of each figure found."""
    return {name: (c.spot.at, c.spot.only) for name, c in lesson.found.items()}


@pytest.mark.parametrize("seed", [1, 2])
def test_each_kind_of_message_keeps_its_own_figures(seed: int) -> None:
    """Places count within the message, and the description says in which one."""
    trip = drive(np.random.default_rng(seed), 2.0)
    chunks = list(three_kinds(trip))
    lesson = learn(chunks, typed(trip))
    top = description_tables(lesson, "learned")
    assert top is not None
    description = description_from_tables(tomllib.loads(toml_text(top)), "learned.toml")

    assert spots(lesson) == {"voltage_v": (4, (3, 5)), "current_a": (6, (3, 5)),
                             "soc_pct": (4, (3, 9))}
    (cells,) = [table for table in top["field"] if table["name"] == "cell_{n}_v"]
    assert (cells["at"], cells["only"]) == (4, {"at": 3, "codes": [12]})
    assert share_read_back(description, chunks, lesson) > 0.98


def test_a_length_that_varies_within_one_kind() -> None:
    """A list at the end moves the check, not the figures in front."""
    trip = drive(np.random.default_rng(1), 2.0)
    chunks = list(varying(trip))
    lesson = learn(chunks, typed(trip))
    top = description_tables(lesson, "learned")
    assert top is not None
    description = description_from_tables(tomllib.loads(toml_text(top)), "learned.toml")

    assert spots(lesson) == {"voltage_v": (4, None), "current_a": (6, None),
                             "soc_pct": (8, None)}
    assert top["framing"] | {"max_length": 0} == {
        "kind": "length", "start_hex": "A7 31", "length_at": 2, "length_adds": 0, "max_length": 0}
    assert share_read_back(description, chunks, lesson) > 0.98
