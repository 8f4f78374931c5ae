"""A connection to a Bluetooth LE peripheral, by bleak.

Bleak runs in one event loop in a thread of its own; a connection is used from the outside like
anything else. It is always taken down after a loss, or each return would leave a handle open.
"""

from __future__ import annotations

import asyncio
import concurrent.futures
import contextlib
import logging
import threading
from collections.abc import Callable, Coroutine
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, TypeVar

from bleak import BleakClient, BleakScanner
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData
from bleak.exc import BleakError, BleakGATTProtocolError

from ..errors import LinkLost, SourceUnavailable
from ..frames.gatt import full_uuid
from .ble_trouble import reason, unavailable

if TYPE_CHECKING:
    from ..monitors.schema import Peripheral, Transport

_T = TypeVar("_T")

#: What went wrong is told by this module's errors; the library's own lines are for its makers.
logging.getLogger("bleak").addHandler(logging.NullHandler())

#: How long a peripheral is looked for. [s]
SCAN_S: Final = 5.0
#: Longest wait for a connection, and for one reading or writing. [s]
CONNECT_S: Final = 10.0
_ACT_S: Final = 5.0
#: What bleak lets through when something goes wrong; time-outs and D-Bus losses are OS errors.
_FAILURES: Final = (BleakError, OSError, EOFError)


class _LoopThread:
    """The event loop that all links share, started when first needed."""

    def __init__(self) -> None:
        self._loop: asyncio.AbstractEventLoop | None = None
        self._lock = threading.Lock()

    def run(self, work: Coroutine[Any, Any, _T], timeout_s: float) -> _T:
        """The result of the work; ``TimeoutError`` if it takes longer."""
        future = asyncio.run_coroutine_threadsafe(work, self._started())
        try:
            return future.result(timeout_s)
        except concurrent.futures.TimeoutError:
            future.cancel()
            raise

    def _started(self) -> asyncio.AbstractEventLoop:
        with self._lock:
            if self._loop is None:
                self._loop = asyncio.new_event_loop()
                threading.Thread(target=self._loop.run_forever, daemon=True,
                                 name="Bluetooth").start()
            return self._loop


_LOOP: Final = _LoopThread()


@dataclass(frozen=True, slots=True)
class BleDevice:
    """A Bluetooth LE device in reach."""

    #: What to type behind ``--port``.
    address: str
    #: What it calls itself; empty if it does not.
    name: str
    #: Strength of its signal. [dBm]
    rssi_dbm: int

    @property
    def words(self) -> str:
        """The device in one line."""
        return f"{self.address}: {self.name or 'no name'}, signal {self.rssi_dbm} dBm"


def scan_ble(seconds: float = SCAN_S) -> list[BleDevice]:
    """Bluetooth LE devices that were heard within so many seconds, the strongest first.

    Raises
    ------
    SourceUnavailable
        If Bluetooth is missing, switched off or not allowed; says what to do.
    """
    try:
        found = _LOOP.run(BleakScanner.discover(seconds, return_adv=True), seconds + CONNECT_S)
    except _FAILURES as error:
        raise unavailable("Bluetooth", error) from error
    devices = [BleDevice(device.address, advertised.local_name or device.name or "",
                         advertised.rssi) for device, advertised in found.values()]
    return sorted(devices, key=lambda device: -device.rssi_dbm)


class Connection:
    """A connection to one peripheral, from the outside of the event loop."""

    def __init__(self, port: str, transport: Transport) -> None:
        if transport.peripheral is None:
            raise ValueError(f"{port}: a Bluetooth link needs a peripheral")
        self.peripheral: Peripheral = transport.peripheral
        self.name = port or self.peripheral.name or f"service {self.peripheral.service}"
        self._port = port
        self._client: BleakClient | None = None

    def open(self, on_loss: Callable[[], None]) -> None:
        """Find it and connect; raises ``SourceUnavailable``."""
        try:
            device = _LOOP.run(self._find(), SCAN_S + CONNECT_S)
            # From now on this one and no other, even if its likes come into reach.
            self._port = device.address
            # Bleak repeats a connection that a busy radio refused, and calls back each time.
            is_up = threading.Event()
            self._client = BleakClient(
                device, disconnected_callback=lambda _: on_loss() if is_up.is_set() else None,
                timeout=CONNECT_S)
            _LOOP.run(self._client.connect(), 2 * CONNECT_S)
            is_up.set()
            if not self._client.is_connected:
                raise BleakError("the connection broke at once")
        except _FAILURES as error:
            self.close()
            raise unavailable(self.name, error) from error

    async def _find(self) -> BLEDevice:
        if self._port:
            found = await BleakScanner.find_device_by_filter(self._is_wanted, timeout=SCAN_S)
            matching = [found] if found else []
        else:
            heard = await BleakScanner.discover(SCAN_S, return_adv=True)
            matching = [device for device, advertised in heard.values()
                        if self._is_wanted(device, advertised)]
        if not matching:
            raise SourceUnavailable(self.name, f"not heard within {SCAN_S:g} s",
                                    "switch it on and come nearer; close other programs that "
                                    "may hold it; 'packhand ports' lists what is in reach")
        if len(matching) > 1:
            names = ", ".join(f"{one.address} ({one.name})" for one in matching)
            raise SourceUnavailable(self.name, f"several in reach: {names}",
                                    "say which with --port")
        return matching[0]

    def _is_wanted(self, device: BLEDevice, advertised: AdvertisementData) -> bool:
        name = advertised.local_name or device.name or ""
        if self._port:
            return self._port.lower() in (device.address.lower(), name.lower())
        is_named = self.peripheral.name in ("", name)
        return is_named and full_uuid(self.peripheral.service) in advertised.service_uuids

    def characteristic(self, uuid: str) -> BleakGATTCharacteristic | None:
        """A characteristic of the connected peripheral, ``None`` if it has none such.

        Raises
        ------
        LinkLost
            If it went away meanwhile.
        """
        try:
            return self._connected().services.get_characteristic(full_uuid(uuid))
        except BleakError as error:  # bleak forgets the services with the connection
            raise self._lost(error) from error

    def subscribe(self, characteristic: BleakGATTCharacteristic,
                  on_value: Callable[[bytes], None]) -> None:
        """Hear its notifications; the callback runs in the event loop's thread."""
        def hand_on(_: BleakGATTCharacteristic, value: bytearray) -> None:
            on_value(bytes(value))

        self._act(lambda client: client.start_notify(characteristic, hand_on))

    def read(self, characteristic: BleakGATTCharacteristic) -> bytes:
        """Its value; raises ``LinkLost``, or ``BleakGATTProtocolError`` if it may not be read."""
        return bytes(self._act(lambda client: client.read_gatt_char(characteristic)))

    def write(self, characteristic: BleakGATTCharacteristic, data: bytes) -> None:
        """Write a request; raises ``LinkLost``."""
        is_answered = "write" in characteristic.properties
        self._act(lambda client: client.write_gatt_char(
            characteristic, data, response=is_answered))

    def _act(self, work: Callable[[BleakClient], Coroutine[Any, Any, _T]]) -> _T:
        client = self._connected()
        try:
            return _LOOP.run(work(client), _ACT_S)
        except BleakGATTProtocolError:
            raise
        except _FAILURES as error:
            raise self._lost(error) from error

    def _connected(self) -> BleakClient:
        if self._client is None:
            raise LinkLost(self.name, "not open")
        return self._client

    def _lost(self, error: BaseException) -> LinkLost:
        return LinkLost(self.name, f"the link went away ({reason(error)})")

    def close(self) -> None:
        """Take the connection down, also one that is gone; never raises."""
        client, self._client = self._client, None
        if client is not None:
            with contextlib.suppress(*_FAILURES):
                _LOOP.run(client.disconnect(), _ACT_S)
