"""What the played peripherals say, over the real attribute protocol on a virtual radio.

The stand-in for the system's Bluetooth service knows no packets. Here the same values go through
the link and attribute layers of bumble, a Bluetooth stack in Python: whether they can be served,
read and notified as they are, and whether frames are cut where the protocol would cut them.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from bumble.controller import Controller
from bumble.device import Device, Peer
from bumble.gatt import Characteristic, Service
from bumble.hci import Address
from bumble.host import Host
from bumble.link import LocalLink
from bumble.transport.common import AsyncPipeSink

from collector.frames.gatt_stream import MOMENT_END, value_octets
from collector.frames.stream import open_decoder
from collector.monitors import load_description
from collector.simulator.ble_voice import gatt_values
from tests.collector.test_ble import GATT_OUT, OUT

ADDRESSES = ("F0:F1:F2:F3:F4:F5", "C0:C1:C2:C3:C4:C5")
DEADLINE_S = 20.0


def device_on(link: LocalLink, address: str) -> Device:
    controller = Controller(address, link=link, public_address=address)
    return Device(address, address=Address(address),
                  host=Host(controller, AsyncPipeSink(controller)))


async def connected(service: Service) -> tuple[Device, Peer]:
    """A peripheral with a service, and who is connected to it."""
    link = LocalLink()
    peripheral, central = (device_on(link, address) for address in ADDRESSES)
    peripheral.add_service(service)
    await peripheral.power_on()
    await central.power_on()
    await peripheral.start_advertising()
    peer = Peer(await central.connect(peripheral.random_address))
    await peer.discover_services()
    await peer.discover_characteristics()
    return peripheral, peer


def run(work: Callable[[], Any]) -> Any:
    """In a thread of its own: a browser that other tests left open keeps a loop in this one."""
    def alone() -> Any:
        return asyncio.run(asyncio.wait_for(work(), DEADLINE_S))

    with ThreadPoolExecutor(1) as own:
        return own.submit(alone).result()


def test_standard_values_read_over_att_make_the_same_row() -> None:
    """Eight characteristics served and read one by one: the row that bleak brings from the
    stand-in."""
    monitor = load_description("demo-ble")
    told = gatt_values(OUT)
    service = Service("180F", [Characteristic(
        f"{uuid:04X}", Characteristic.Properties.READ, Characteristic.READABLE, value)
        for uuid, value in told.items()])

    async def work() -> bytes:
        _, peer = await connected(service)
        return b"".join([value_octets(uuid, await peer.read_value(
            peer.get_characteristics_by_uuid(one.uuid)[0]))
            for uuid, one in zip(told, service.characteristics, strict=True)])

    assert open_decoder(monitor).feed(run(work) + MOMENT_END) == [GATT_OUT]


@pytest.mark.parametrize("mtu", [23, 185])
def test_a_frame_cut_at_the_mtu_arrives_whole_and_uncut_would_not(mtu: int) -> None:
    """A notification carries three bytes less than the MTU (Bluetooth Core Specification, vol 3
    part F, 3.4.7.1); longer ones are cut off. So frames have to be cut before, as they are played.
    """
    monitor = load_description("demo-ble-opaque")
    frame = monitor.examples[0].data
    stream = Characteristic("3c9a1f61-58d2-4b07-9d1e-6b2f70c4a911",
                            Characteristic.Properties.NOTIFY, Characteristic.READABLE, b"")

    async def heard(pieces: list[bytes]) -> bytes:
        peripheral, peer = await connected(Service("180F", [stream]))
        await peer.request_mtu(mtu)
        found: list[bytes] = []
        await peer.subscribe(peer.get_characteristics_by_uuid(stream.uuid)[0], found.append)
        for piece in pieces:
            await peripheral.notify_subscribers(stream, piece)
        while len(found) < len(pieces):
            await asyncio.sleep(0.01)
        return b"".join(found)

    size = mtu - 3
    cut = [frame[at:at + size] for at in range(0, len(frame), size)]

    assert open_decoder(monitor).feed(run(lambda: heard(cut))) == [monitor.examples[0].values]
    assert run(lambda: heard([frame])) == frame[:size]
