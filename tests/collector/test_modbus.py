"""Modbus on a real pseudo-terminal and a real network, against a real server, with faults."""

from __future__ import annotations

import itertools
import socket
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pymodbus import FramerType
from pymodbus.constants import ExcCodes

from collector.errors import SourceUnavailable
from collector.monitors import Description, description_from_tables, load_description
from collector.rawfile import Chunk, RawWriter
from collector.record import Sample
from collector.simulator.modbus_voice import ModbusNetworkVoice, ModbusVoice
from collector.simulator.terminal import PseudoTerminal
from collector.sources import Heard, open_link
from collector.sources.described import DescribedSource
from collector.sources.modbus import ModbusLink
from collector.sources.replay import CaptureLink
from tests.collector.listening import enough_rows, events, heard_until, kinds, rows

SHOWN: dict[str, float | str] = {
    "voltage_v": 51.2, "current_a": -35.4, "soc_pct": 87.0, "time_left_h": 2.5,
    "state": "discharging", "fault": "none", "temp_1_c": 21.5, "temp_2_c": -3.0,
} | {f"cell_{n:02d}_v": (3200 + n) / 1000 for n in range(1, 17)}


def quick(name: str, **changes: Any) -> Description:
    """A built-in monitor, asked more often than a wire would allow."""
    tables = load_description(name).as_tables()
    modbus = tables["modbus"] | {"every_s": 0.05, "timeout_s": 0.15} | changes
    transport = tables["transport"] | {"silence_s": 0.8}
    return description_from_tables(tables | {"modbus": modbus, "transport": transport}, name)


@pytest.fixture
def line(tmp_path: Path) -> Iterator[ModbusVoice]:
    """The demo's units on a pseudo-terminal."""
    with ModbusVoice(PseudoTerminal(tmp_path / "port")) as voice:
        voice.units.show(SHOWN)
        yield voice


def test_a_serial_unit_is_read_as_it_shows(line: ModbusVoice) -> None:
    """Every figure of the invented register map arrives, 32 bits and signs included."""
    samples = heard_until(quick("demo-modbus"), line.port, enough_rows(3))

    for row in rows(samples):
        assert row.pop("sequence") == 1
        assert row == SHOWN
    assert events(samples) == []


def test_a_sunspec_battery_is_found_and_read(line: ModbusVoice) -> None:
    """The unit beside it answers as a SunSpec battery, whose plus is out of the pack."""
    row = rows(heard_until(quick("sunspec-battery"), line.port, enough_rows(2)))[-1]

    assert row == {"voltage_v": 51.2, "current_a": 35.4, "power_w": 1812.0, "soc_pct": 87.0,
                   "soh_pct": 100.0, "cell_min_v": 3.201, "cell_max_v": 3.216,
                   "state": "discharging", "fault": "none"}


@pytest.mark.parametrize("framer", [FramerType.SOCKET, FramerType.RTU])
def test_a_unit_on_the_network_is_read_the_same(framer: FramerType) -> None:
    """Modbus TCP, and a serial line behind a serial server."""
    with ModbusNetworkVoice(framer) as voice:
        voice.units.show(SHOWN)
        samples = heard_until(quick("demo-modbus"), voice.port, enough_rows(3))

    assert all(row == SHOWN | {"sequence": 1} for row in rows(samples))


def test_a_network_that_breaks_is_a_gap() -> None:
    """The server goes and comes back at the same address: one loss, one return."""
    voice = ModbusNetworkVoice()
    port = voice.port
    voice.start()
    voices = [voice]

    def is_enough(samples: list[Sample]) -> bool:
        if len(voices) == 1 and rows(samples):
            voices[0].stop()
            voices.append(ModbusNetworkVoice(tcp_port=int(port.rpartition(":")[2])).start())
        return bool(events(samples)) and bool(samples[-1].values)

    samples = heard_until(quick("demo-modbus"), port, is_enough)
    voices[1].stop()

    assert kinds(samples) == ["link lost", "link back"]


def test_unplugged_and_plugged_in_again(line: ModbusVoice) -> None:
    """A pulled cable is one loss and one return; the chain is walked anew."""
    pulled = threading.Event()

    def is_enough(samples: list[Sample]) -> bool:
        if rows(samples) and not pulled.is_set():
            pulled.set()
            line.plug(is_plugged=False)
        if events(samples) and samples[-1].event.startswith("link lost"):
            line.plug(is_plugged=True)
        return len(events(samples)) == 2 and bool(samples[-1].values)

    samples = heard_until(quick("sunspec-battery"), line.port, is_enough)

    assert kinds(samples) == ["link lost", "link back"]
    assert all(row["voltage_v"] == 51.2 for row in rows(samples))


@pytest.mark.parametrize("fault", ["damaged", "swallowed", "doubled"])
def test_spoilt_answers_lose_nothing_but_themselves(line: ModbusVoice, fault: str) -> None:
    """Wrong check, no answer, answer twice: asked again, and never a wrong figure."""
    setattr(line.faults, fault, 2)

    samples = heard_until(quick("demo-modbus"), line.port, enough_rows(4))

    assert all(row == SHOWN | {"sequence": 1} for row in rows(samples))
    assert getattr(line.faults, fault) == 0


@pytest.mark.parametrize("code", [ExcCodes.DEVICE_FAILURE, ExcCodes.DEVICE_BUSY])
def test_a_unit_that_is_busy_is_asked_again(line: ModbusVoice, code: ExcCodes) -> None:
    """Exceptions 4 and 6 pass."""
    line.faults.refusal, line.faults.refused = code, 2

    samples = heard_until(quick("demo-modbus"), line.port, enough_rows(2))

    assert rows(samples)[0] == SHOWN | {"sequence": 1}


def test_registers_that_are_not_there_are_told(line: ModbusVoice) -> None:
    """Exception 2 gives no figures, and says which registers to look after."""
    line.faults.refusal, line.faults.refused = ExcCodes.ILLEGAL_ADDRESS, 1_000_000

    samples = heard_until(quick("demo-modbus"), line.port, lambda heard: bool(events(heard)))

    assert rows(samples) == []
    assert "it has no such registers (exception 2)" in events(samples)[0]


def test_a_wrong_unit_number_is_told(line: ModbusVoice) -> None:
    """Nobody answers to a number that no unit has."""
    samples = heard_until(quick("demo-modbus", unit=9), line.port,
                          lambda heard: bool(events(heard)))

    assert "unit 9 was asked" in events(samples)[0]
    assert "check its wires, its number, the baud rate and the parity" in events(samples)[0]


def two_equal_blocks() -> Description:
    """Two blocks of two registers each, whose answers look alike: cells, and temperatures."""
    return description_from_tables({
        "name": "two-blocks", "transport": {"kind": "modbus", "baud": 19200},
        "modbus": {"unit": 5, "function": 4, "every_s": 0.05, "timeout_s": 0.15, "max_gap": 0},
        "field": [
            {"name": "cell_{n}_v", "register": 1210, "count": 2, "scale": 0.001},
            {"name": "temp_{n}_c", "register": 1230, "count": 2, "type": "signed", "scale": 0.1}],
    }, "two-blocks")


@pytest.mark.parametrize("late_s", [0.2, 0.35])
def test_a_late_answer_is_never_taken_for_another(line: ModbusVoice, late_s: float) -> None:
    """An answer that comes after its time, with as many registers as the next, is thrown away."""
    line.faults.late, line.faults.late_s = 5, late_s

    samples = heard_until(two_equal_blocks(), line.port, enough_rows(3))

    assert line.faults.late == 0
    assert rows(samples) == 3 * [{"cell_01_v": 3.201, "cell_02_v": 3.202,
                                  "temp_1_c": 21.5, "temp_2_c": -3.0}]


def test_a_raw_capture_gives_the_same_rows_again(line: ModbusVoice, tmp_path: Path) -> None:
    """What went over the wire, faults and all, is read again through the same description."""
    line.faults.damaged = line.faults.swallowed = 1
    description = quick("sunspec-battery")
    chunks: list[Chunk] = []
    samples = heard_until(description, line.port, enough_rows(4), chunks)
    with RawWriter(tmp_path / "heard.raw", "bytes as heard") as raw:
        for chunk in chunks:
            raw.write(chunk)

    capture = CaptureLink(tmp_path / "heard.raw")
    again: list[Heard] = list(DescribedSource(capture, description, capture.clock).heard(
        threading.Event())) if capture.open() is None else []

    assert rows([item for item in again if isinstance(item, Sample)]) == rows(samples)


def test_no_such_port_is_told(tmp_path: Path) -> None:
    """A port that is not there is told as for any serial monitor."""
    link = open_link(load_description("demo-modbus"), str(tmp_path / "nothing"))

    with pytest.raises(SourceUnavailable, match="no such port — 'packhand ports'"):
        link.open()


def test_nobody_at_the_address_is_told() -> None:
    """A network address where nobody answers."""
    port = ModbusNetworkVoice().port

    with pytest.raises(SourceUnavailable, match=f"{port}: no connection — check the address"):
        open_link(load_description("demo-modbus"), port).open()


def test_a_wrong_address_is_told() -> None:
    """A network address whose port is no number."""
    with pytest.raises(SourceUnavailable, match="not an address"):
        open_link(load_description("demo-modbus"), "tcp://unit:many").open()


def test_nothing_is_ever_written_to_a_unit() -> None:
    """The link has no way to send anything but requests to read."""
    link = open_link(load_description("demo-modbus"), "COM9")

    assert isinstance(link, ModbusLink)
    with pytest.raises(ValueError, match="only reads registers"):
        link.write(b"\x05\x06\x04\xb0\x00\x00")


def test_polls_keep_their_period(line: ModbusVoice) -> None:
    """Forty periods of 50 ms take 2 s: the beat does not stretch with the asking."""
    samples = heard_until(quick("demo-modbus"), line.port, enough_rows(41))
    stamps = [sample.monotonic_s for sample in samples]
    steps = sorted(after - before for before, after in itertools.pairwise(stamps))

    assert steps[20] == pytest.approx(0.05, abs=0.002)


def test_a_network_unit_that_never_answers_is_silence_and_no_error() -> None:
    """Something takes the connection and says nothing, for more requests than any library's
    patience; the link goes on asking, or comes back."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = f"tcp://127.0.0.1:{server.getsockname()[1]}"
        samples = heard_until(quick("demo-modbus", timeout_s=0.02, every_s=0.02), port,
                              lambda heard: "silent" in kinds(heard))

    assert rows(samples) == []
    assert "unit 5 was asked" in events(samples)[-1]
