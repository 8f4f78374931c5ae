"""Bluetooth LE: unmodified bleak against a Bluetooth stand-in on a private D-Bus, with faults."""

from __future__ import annotations

import os
import shutil
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from collector.errors import LinkLost, SourceUnavailable
from collector.monitors import Description, description_from_tables, load_description
from collector.rawfile import Chunk, RawWriter
from collector.record import Sample
from collector.sources import Heard, open_link
from collector.sources.described import DescribedSource
from collector.sources.replay import CaptureLink
from tests.collector.listening import (
    allowed_to_write,
    enough_rows,
    events,
    heard_until,
    kinds,
    rows,
)

if sys.platform != "linux" or shutil.which("dbus-daemon") is None:
    pytest.skip("Bluetooth is played on Linux with dbus-daemon only", allow_module_level=True)

from collector.simulator.ble_voice import BleVoice
from collector.simulator.private_bus import ADDRESS_VARIABLE, PrivateBus
from collector.sources import ble_peripheral
from collector.sources.ble_peripheral import Connection, scan_ble

NAME = "packhand demo"
OUT: dict[str, float | str] = {
    "voltage_v": 51.25, "current_a": -35.4, "soc_pct": 87.0, "time_left_h": 2.5,
    "temp_1_c": -3.5, "temp_2_c": 20.0, "state": "discharging", "fault": "none",
} | {f"cell_{n:02d}_v": (3200 + n) / 1000 for n in range(1, 17)}
IN = OUT | {"current_a": 12.0, "state": "charging"}

#: What the standard characteristics tell of ``OUT``; the watts are a medical float of 1 W steps.
GATT_OUT = {"voltage_v": 51.25, "current_a": -35.4, "power_w": -1814.0, "soc_pct": 87.0,
            "time_left_h": 2.5, "temp_1_c": -3.5, "state": "discharging",
            "fault": "none"}


def quick(name: str, **changes: Any) -> Description:
    """A built-in monitor, asked more often and given up sooner."""
    tables = load_description(name).as_tables()
    tables |= {"transport": tables["transport"] | {"silence_s": 1.0}}
    tables |= {"ble": tables["ble"] | changes}
    if "ask" in tables:
        tables |= {"ask": tables["ask"] | {"every_s": 0.05}}
    return description_from_tables(tables, name)


@pytest.fixture
def bus(monkeypatch: pytest.MonkeyPatch) -> Iterator[PrivateBus]:
    """A system bus of our own, with short waits."""
    monkeypatch.setattr(ble_peripheral, "SCAN_S", 1.0)
    with PrivateBus() as bus:
        monkeypatch.setenv(ADDRESS_VARIABLE, bus.address)
        yield bus


@pytest.fixture
def standard(bus: PrivateBus) -> Iterator[BleVoice]:
    """A peripheral with the standard characteristics."""
    voice = BleVoice(load_description("demo-ble"), bus.address, OUT)
    with voice.peer:
        yield voice


@pytest.fixture
def opaque(bus: PrivateBus) -> Iterator[BleVoice]:
    """A peripheral with frames of its own, sent when asked."""
    voice = BleVoice(load_description("demo-ble-opaque"), bus.address, OUT)
    with voice.peer:
        yield voice


def showing(voice: BleVoice, *shown: dict[str, float | str],
            then: Callable[[list[Sample]], bool]) -> Callable[[list[Sample]], bool]:
    """Show one row after each that was heard."""
    left = list(shown)

    def is_enough(samples: list[Sample]) -> bool:
        if left and len(rows(samples)) > len(shown) - len(left):
            voice.show(left.pop(0))
        return then(samples)

    return is_enough


def test_scan_tells_name_address_and_strength(standard: BleVoice) -> None:
    """What is in reach can be chosen by its name or its address."""
    found = scan_ble(0.5)

    assert [(one.name, one.address) for one in found] == [(NAME, "D0:5E:7A:11:22:33")]
    assert -60 <= found[0].rssi_dbm <= -55
    assert found[0].words.startswith("D0:5E:7A:11:22:33: packhand demo, signal -5")


@pytest.mark.parametrize("port", [NAME, "d0:5e:7a:11:22:33", ""])
def test_standard_characteristics_make_rows(standard: BleVoice, port: str) -> None:
    """Found by name, by address, or as the only one with the service; amps get their sign."""
    samples = heard_until(quick("demo-ble"), port,
                          showing(standard, IN, OUT, then=enough_rows(3)))

    told = rows(samples)
    assert told[0] == told[2] == GATT_OUT
    assert (told[1]["current_a"], told[1]["state"]) == (12.0, "charging")


def test_what_is_not_notified_is_read_in_turn(bus: PrivateBus) -> None:
    """Characteristics that can only be read are read each period."""
    voice = BleVoice(load_description("demo-ble"), bus.address, OUT)
    for one in voice.peer.peripheral.characteristics:
        one.flags = ("read",)
    with voice.peer:
        samples = heard_until(quick("demo-ble", every_s=0.1), NAME,
                              showing(voice, IN, then=enough_rows(5)))

    assert rows(samples)[0] == GATT_OUT
    assert rows(samples)[-1]["current_a"] == 12.0
    assert "StartNotify" not in voice.peer.calls


def test_a_subscribed_characteristic_is_read_only_once(standard: BleVoice) -> None:
    """Reading what is subscribed would tell every value twice."""
    heard_until(quick("demo-ble"), NAME, showing(standard, IN, OUT, IN, then=enough_rows(4)))

    assert standard.peer.calls.count("ReadValue") == 8


def test_a_value_that_breaks_the_standard_is_counted(standard: BleVoice) -> None:
    """A reserved percentage loses itself, not the rest of the moment and not the connection."""
    description = quick("demo-ble")
    source = DescribedSource(open_link(description, NAME), description)
    source.open()
    stop = threading.Event()
    for item in source.heard(stop):
        if isinstance(item, Sample) and item.values:
            if "soc_pct" not in item.values:
                break
            for uuid, value in (("2bed", b"\x00\xc1\x00"), ("2a19", b"\x65"), ("2b18", b"\0\x0d")):
                standard.peer.put(uuid, value)
    stop.set()
    list(source.heard(stop))
    source.close()

    assert item.values["voltage_v"] == 52.0


@pytest.mark.parametrize("mtu", [23, 185])
def test_frames_arrive_whole_however_they_are_cut(opaque: BleVoice, mtu: int) -> None:
    """Asked by a write, answered by notifications of 20 bytes or of the whole frame."""
    opaque.peer.peripheral.mtu = mtu
    description = quick("demo-ble-opaque")
    chunks: list[Chunk] = []

    samples = heard_until(allowed_to_write(description), NAME, enough_rows(4), chunks)

    wanted = {name: value for name, value in OUT.items() if name != "time_left_h"}
    assert rows(samples) == [wanted | {"temp_1_c": -4.0, "sequence": n} for n in range(4)]
    assert max(len(chunk.data) for chunk in chunks) <= 36 * 4


def test_nothing_is_written_before_a_person_allows_it(opaque: BleVoice) -> None:
    """A monitor that has to be written to says so, and what would be written."""
    with pytest.raises(SourceUnavailable, match=r"answers only when 51 0c 03 is written to it — "
                                                r".*--allow-writes"):
        heard_until(quick("demo-ble-opaque"), NAME, enough_rows(1))

    assert "WriteValue" not in opaque.peer.calls


def dropping(voice: BleVoice, drop: Callable[[], None]) -> Callable[[list[Sample]], bool]:
    """Break the connection after the first row; enough is a row after the return."""
    dropped: list[bool] = []

    def is_enough(samples: list[Sample]) -> bool:
        if rows(samples) and not dropped:
            dropped.append(True)
            drop()
        if "link back" in kinds(samples):
            voice.show(IN)
            return rows(samples)[-1].get("current_a") == 12.0
        return False

    return is_enough


def test_a_drop_is_a_gap_and_the_link_comes_back(standard: BleVoice) -> None:
    """One loss, one return, and the direction of the amps is known at once."""
    samples = heard_until(quick("demo-ble"), NAME, dropping(standard, standard.peer.drop))

    assert kinds(samples) == ["link lost", "link back"]
    back = next(n for n, sample in enumerate(samples) if sample.event.startswith("link back"))
    assert "current_a" in samples[back + 1].values


@pytest.mark.parametrize("trouble", ["dropped_discoveries", "dropped_connections"])
@pytest.mark.parametrize("name", ["demo-ble", "demo-ble-opaque"])
def test_a_drop_while_connecting_is_tried_again(
        bus: PrivateBus, name: str, trouble: str) -> None:
    """A return that breaks half-way, or at once, is no return."""
    voice = BleVoice(load_description(name), bus.address, OUT)

    def drop() -> None:
        setattr(voice.peer.troubles, trouble, 2)
        voice.peer.drop()

    with voice.peer:
        samples = heard_until(allowed_to_write(quick(name)), NAME, dropping(voice, drop))

    assert kinds(samples)[0] == "link lost"
    assert kinds(samples)[-1] == "link back"
    assert getattr(voice.peer.troubles, trouble) == 0


def test_a_connection_that_is_gone_is_a_lost_link(standard: BleVoice) -> None:
    """Whatever is asked of it then, it is the loss that is told."""
    connection = Connection(NAME, quick("demo-ble").transport)
    is_lost = threading.Event()
    connection.open(is_lost.set)
    there = connection.characteristic("2b18")
    standard.peer.drop()

    assert there is not None
    assert is_lost.wait(10)
    with pytest.raises(LinkLost, match="the link went away"):
        connection.characteristic("2b18")
    with pytest.raises(LinkLost, match="the link went away"):
        connection.read(there)
    connection.close()
    with pytest.raises(LinkLost, match="not open"):
        connection.read(there)


def test_a_connection_refused_twice_is_made_the_third_time(standard: BleVoice) -> None:
    """A busy radio refuses now and then."""
    standard.peer.troubles.refused_connects = 2

    heard_until(quick("demo-ble"), NAME, enough_rows(1))

    assert standard.peer.calls.count("Connect") == 3


def test_bluetooth_switched_off_is_told(standard: BleVoice) -> None:
    """Off at the start: one line with what to do."""
    standard.peer.switch(is_on=False)

    with pytest.raises(SourceUnavailable, match="switched off — switch it on: 'bluetoothctl"):
        open_link(quick("demo-ble"), NAME).open()
    with pytest.raises(SourceUnavailable, match="Bluetooth is switched off"):
        scan_ble(0.5)


def test_bluetooth_switched_off_and_on_is_a_gap(standard: BleVoice) -> None:
    """Off while recording: the link comes back when it is on again."""
    timers: list[threading.Timer] = []

    def drop() -> None:
        standard.peer.switch(is_on=False)
        timers.append(threading.Timer(0.5, lambda: standard.peer.switch(is_on=True)))
        timers[0].start()

    samples = heard_until(quick("demo-ble"), NAME, dropping(standard, drop))
    timers[0].join()

    assert kinds(samples) == ["link lost", "link back"]


def test_a_peripheral_out_of_reach_is_told(standard: BleVoice) -> None:
    """Not heard: switch it on, come nearer."""
    standard.peer.troubles.is_away = True

    with pytest.raises(SourceUnavailable, match="not heard within 1 s — switch it on and come"):
        open_link(quick("demo-ble"), NAME).open()


def test_two_of_a_kind_in_reach_have_to_be_told_apart(
        standard: BleVoice, monkeypatch: pytest.MonkeyPatch) -> None:
    """Which pack it is, is for a person to say. The stand-in has one, so the scan is doubled."""
    discover = ble_peripheral.BleakScanner.discover

    async def doubled(*words: Any, **more: Any) -> dict[str, Any]:
        heard = await discover(*words, **more)
        return {f"{copy} {key}": value for copy in (1, 2) for key, value in heard.items()}

    monkeypatch.setattr(ble_peripheral.BleakScanner, "discover", doubled)
    with pytest.raises(SourceUnavailable, match=r"several in reach: D0:5E.*say which with --port"):
        open_link(quick("demo-ble"), "").open()


def test_a_peripheral_of_another_kind_is_told(opaque: BleVoice) -> None:
    """Without the described characteristics there is nothing to hear."""
    with pytest.raises(SourceUnavailable, match="it has none of 0x2B18, 0x2AEE"):
        open_link(quick("demo-ble"), NAME).open()


def test_a_bus_that_dies_is_a_gap(bus: PrivateBus) -> None:
    """The system's Bluetooth service may be restarted while recording."""
    first = BleVoice(load_description("demo-ble"), bus.address, OUT)
    first.peer.start()
    second: list[BleVoice] = []

    def is_enough(samples: list[Sample]) -> bool:
        if rows(samples) and not events(samples):
            bus.end()
        if kinds(samples) == ["link lost"] and not second:
            second.append(BleVoice(load_description("demo-ble"), bus.start().address, IN))
            second[0].peer.start()
        return kinds(samples) == ["link lost", "link back"] and "voltage_v" in samples[-1].values

    samples = heard_until(quick("demo-ble"), NAME, is_enough)
    second[0].peer.stop()
    first.peer.stop()

    assert rows(samples)[-1]["current_a"] == 12.0


def test_no_bluetooth_service_is_told(bus: PrivateBus) -> None:
    """A computer without a Bluetooth service, or without its bus."""
    with pytest.raises(SourceUnavailable, match="no Bluetooth"):
        scan_ble(0.2)
    bus.end()
    with pytest.raises(SourceUnavailable, match="no Bluetooth service"):
        scan_ble(0.2)


def test_coming_and_going_leaves_no_handle_open(standard: BleVoice) -> None:
    """Twelve losses and returns use no more file handles than two."""
    open_handles: list[int] = []

    def is_enough(samples: list[Sample]) -> bool:
        if samples and samples[-1].values and kinds(samples)[-1:] != ["link lost"]:
            open_handles.append(len(os.listdir("/proc/self/fd")))  # noqa: PTH208
            standard.peer.drop()
        return kinds(samples).count("link back") == 12 and bool(samples[-1].values)

    heard_until(quick("demo-ble"), NAME, is_enough)

    assert max(open_handles[-3:]) <= max(open_handles[1:4])


def test_a_raw_capture_gives_the_same_rows_again(standard: BleVoice, tmp_path: Path) -> None:
    """The values as they came are read again through the same description."""
    description = quick("demo-ble")
    chunks: list[Chunk] = []
    samples = heard_until(description, NAME, showing(standard, IN, OUT, then=enough_rows(3)),
                          chunks)
    with RawWriter(tmp_path / "heard.raw", "bytes as heard") as raw:
        for chunk in chunks:
            raw.write(chunk)

    capture = CaptureLink(tmp_path / "heard.raw")
    capture.open()
    again: list[Heard] = list(DescribedSource(capture, description, capture.clock).heard(
        threading.Event()))

    assert rows([item for item in again if isinstance(item, Sample)]) == rows(samples)
