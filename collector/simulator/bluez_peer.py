"""A stand-in for Linux's Bluetooth service, with one peripheral in reach.

It answers on a D-Bus as ``org.bluez`` does: an adapter that can scan, a device that can be
connected to, services and characteristics that can be read, written and subscribed to. What the
peripheral says is put in from outside; what can go wrong is switched on by ``Troubles``. Interface
names, properties and signatures are those of the public BlueZ D-Bus API [1]_.

.. [1] BlueZ documentation, doc/org.bluez.{Adapter,Device,GattService,GattCharacteristic}.rst.
"""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import Callable, Coroutine
from typing import Any, Final, Self, TypeVar

from dbus_fast import Message, MessageType, RequestNameReply, Variant
from dbus_fast.aio import MessageBus

from ..errors import SourceUnavailable
from ..frames.gatt import full_uuid
from .played_peripheral import PlayedCharacteristic, PlayedPeripheral, Troubles

_T = TypeVar("_T")
#: What stands at one path: properties by interface.
_Interfaces = dict[str, dict[str, Variant]]
#: Signature and body of a reply.
_Reply = tuple[str, list[Any]]

_SERVICE_NAME: Final = "org.bluez"
_ADAPTER_PATH: Final = "/org/bluez/hci0"
_OBJECTS: Final = "org.freedesktop.DBus.ObjectManager"
_PROPERTIES: Final = "org.freedesktop.DBus.Properties"
_ADAPTER: Final = "org.bluez.Adapter1"
_DEVICE: Final = "org.bluez.Device1"
_GATT_SERVICE: Final = "org.bluez.GattService1"
_CHARACTERISTIC: Final = "org.bluez.GattCharacteristic1"

#: From one sign of life of an advertising peripheral to the next. [s]
_ADVERTISE_S: Final = 0.05
#: Longest wait for the stand-in's own thread. [s]
_ANSWER_S: Final = 10.0


class BluezPeer:
    """The stand-in, in a thread of its own. All its methods may be called from any thread."""

    def __init__(self, bus_address: str, peripheral: PlayedPeripheral) -> None:
        self.peripheral = peripheral
        self.troubles = Troubles()
        #: Called in the stand-in's thread with each value that a client writes.
        self.on_write: Callable[[str, bytes], None] = lambda _uuid, _value: None
        #: Calls by member, to see what a client did.
        self.calls: list[str] = []
        self._bus_address = bus_address
        self._device_path = f"{_ADAPTER_PATH}/dev_{peripheral.address.replace(':', '_')}"
        self._objects: dict[str, _Interfaces] = {}
        self._tasks: set[asyncio.Task[None]] = set()

    def start(self) -> Self:
        """Take the name ``org.bluez`` on the bus.

        Raises
        ------
        SourceUnavailable
            If the bus cannot be reached, or another one has the name already.
        """
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True,
                                        name="Bluetooth stand-in")
        self._thread.start()
        try:
            self._run(self._open())
        except (OSError, EOFError) as error:
            raise SourceUnavailable(self._bus_address, f"no D-Bus there ({error})",
                                    "start one") from error
        return self

    def stop(self) -> None:
        """Leave the bus and end the thread."""
        self._run(self._close())
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(_ANSWER_S)
        self._loop.close()

    def __enter__(self) -> Self:
        return self.start()

    def __exit__(self, *exc_info: object) -> None:
        self.stop()

    def put(self, uuid: str, value: bytes) -> None:
        """Give a characteristic a value; whoever subscribed is notified."""
        self._run(self._put(uuid, value))

    def stream(self, uuid: str, data: bytes) -> None:
        """Notify bytes in as many packets as the MTU demands, as a byte stream does."""
        self._run(self._stream(uuid, data))

    def stream_soon(self, uuid: str, data: bytes) -> None:
        """The same without waiting for it, for ``on_write``."""
        self._loop.call_soon_threadsafe(self._start, self._stream(uuid, data))

    def drop(self) -> None:
        """Break the connection, as leaving the reach does."""
        self._run(self._drop())

    def switch(self, *, is_on: bool) -> None:
        """Switch the adapter on or off; off breaks the connection."""
        self._run(self._switch(is_on))

    @property
    def is_connected(self) -> bool:
        return self._run(self._connected())

    @property
    def subscribed(self) -> list[str]:
        """UUIDs whose notifications a client wants now."""
        return self._run(self._notifying())

    def _run(self, work: Coroutine[Any, Any, _T]) -> _T:
        return asyncio.run_coroutine_threadsafe(work, self._loop).result(_ANSWER_S)

    async def _open(self) -> None:
        self._bus = MessageBus(bus_address=self._bus_address, negotiate_unix_fd=True)
        await self._bus.connect()
        self._objects = {_ADAPTER_PATH: {_ADAPTER: {
            "Address": Variant("s", "00:00:00:00:00:01"), "Powered": Variant("b", True),
            "Discovering": Variant("b", False), "Roles": Variant("as", ["central"])}}}
        self._bus.add_message_handler(self._hear)
        if await self._bus.request_name(_SERVICE_NAME) is not RequestNameReply.PRIMARY_OWNER:
            raise OSError("another Bluetooth service is there already")
        self._start(self._advertise())

    async def _close(self) -> None:
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        self._bus.disconnect()
        with contextlib.suppress(OSError, EOFError):
            await self._bus.wait_for_disconnect()  # type: ignore[no-untyped-call]

    def _start(self, work: Coroutine[Any, Any, None]) -> None:
        task = self._loop.create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    def _hear(self, message: Message) -> bool:
        """Each call is a task, so that a slow connection keeps nobody else waiting."""
        if message.message_type is not MessageType.METHOD_CALL:
            return False
        self._start(self._answer(message))
        return True

    async def _answer(self, message: Message) -> None:
        member = message.member or ""
        self.calls.append(member)
        handler = getattr(self, f"_on_{member}", None)
        if handler is None:
            await self._bus.send(Message.new_error(
                message, "org.freedesktop.DBus.Error.UnknownMethod", member))
            return
        try:
            signature, body = await handler(message)
        except _Refusal as refusal:
            reply = Message.new_error(message, f"org.bluez.Error.{refusal.name}", refusal.words)
        else:
            reply = Message.new_method_return(message, signature, body)
        await self._bus.send(reply)

    async def _signal(self, path: str, interface: str, member: str, signature: str,
                      body: list[Any]) -> None:
        await self._bus.send(Message.new_signal(path, interface, member, signature, body))

    async def _add(self, path: str, interfaces: _Interfaces) -> None:
        self._objects[path] = interfaces
        await self._signal("/", _OBJECTS, "InterfacesAdded", "oa{sa{sv}}", [path, interfaces])

    async def _remove(self, path: str) -> None:
        names = list(self._objects.pop(path))
        await self._signal("/", _OBJECTS, "InterfacesRemoved", "oas", [path, names])

    async def _change(self, path: str, interface: str, **values: Variant) -> None:
        self._objects[path][interface] |= values
        await self._signal(path, _PROPERTIES, "PropertiesChanged", "sa{sv}as",
                           [interface, values, []])

    async def _on_GetManagedObjects(self, _message: Message) -> _Reply:
        return "a{oa{sa{sv}}}", [self._objects]

    async def _on_GetAll(self, message: Message) -> _Reply:
        interfaces = self._objects[message.path or ""]
        return "a{sv}", [interfaces.get(message.body[0], {})]

    async def _on_SetDiscoveryFilter(self, _message: Message) -> _Reply:
        return "", []

    async def _on_StartDiscovery(self, _message: Message) -> _Reply:
        if self.troubles.is_off:
            raise _Refusal("NotReady", "Resource Not Ready")
        await self._change(_ADAPTER_PATH, _ADAPTER, Discovering=Variant("b", True))
        return "", []

    async def _on_StopDiscovery(self, _message: Message) -> _Reply:
        await self._change(_ADAPTER_PATH, _ADAPTER, Discovering=Variant("b", False))
        return "", []

    async def _on_RemoveDevice(self, _message: Message) -> _Reply:
        return "", []

    async def _advertise(self) -> None:
        """Be seen while somebody scans, nobody is connected and the peripheral is in reach."""
        wobble = 0
        while True:
            await asyncio.sleep(_ADVERTISE_S)
            adapter = self._objects[_ADAPTER_PATH][_ADAPTER]
            is_quiet = self.troubles.is_off or self.troubles.is_away
            if is_quiet or not adapter["Discovering"].value or await self._connected():
                continue
            wobble = 1 - wobble
            rssi = Variant("n", self.peripheral.rssi_dbm + wobble)
            if self._device_path in self._objects:
                await self._change(self._device_path, _DEVICE, RSSI=rssi)
            else:
                await self._add(self._device_path, {_DEVICE: self._device(rssi)})

    def _device(self, rssi: Variant) -> dict[str, Variant]:
        peripheral = self.peripheral
        return {
            "Address": Variant("s", peripheral.address), "AddressType": Variant("s", "public"),
            "Name": Variant("s", peripheral.name), "Alias": Variant("s", peripheral.name),
            "RSSI": rssi, "UUIDs": Variant("as", [full_uuid(peripheral.service)]),
            "ManufacturerData": Variant("a{qv}", {}), "Paired": Variant("b", False),
            "Connected": Variant("b", False), "ServicesResolved": Variant("b", False),
            "Adapter": Variant("o", _ADAPTER_PATH),
        }

    async def _connected(self) -> bool:
        thing = self._objects.get(self._device_path)
        return thing is not None and bool(thing[_DEVICE]["Connected"].value)

    async def _on_Connect(self, _message: Message) -> _Reply:
        troubles = self.troubles
        if troubles.is_off:
            raise _Refusal("NotReady", "Resource Not Ready")
        if troubles.is_away:
            raise _Refusal("Failed", "le-connection-timeout")
        await self._change(self._device_path, _DEVICE, Connected=Variant("b", True))
        if troubles.refused_connects:
            troubles.refused_connects -= 1
            await self._change(self._device_path, _DEVICE, Connected=Variant("b", False))
            raise _Refusal("Failed", "le-connection-abort-by-local")
        self._start(self._resolve())
        return "", []

    async def _resolve(self) -> None:
        """Show services and characteristics, and say last that they are all there."""
        service = f"{self._device_path}/service0010"
        await self._add(service, {_GATT_SERVICE: {
            "UUID": Variant("s", full_uuid(self.peripheral.service)),
            "Device": Variant("o", self._device_path), "Primary": Variant("b", True),
            "Includes": Variant("ao", [])}})
        if self.troubles.dropped_discoveries:
            self.troubles.dropped_discoveries -= 1
            await self._drop()
            return
        for characteristic in self.peripheral.characteristics:
            await self._add(self._path(characteristic.uuid), {_CHARACTERISTIC: {
                "UUID": Variant("s", full_uuid(characteristic.uuid)),
                "Service": Variant("o", service), "Value": Variant("ay", b""),
                "Flags": Variant("as", list(characteristic.flags)),
                "MTU": Variant("q", self.peripheral.mtu), "Notifying": Variant("b", False)}})
        await self._change(self._device_path, _DEVICE, ServicesResolved=Variant("b", True))
        if self.troubles.dropped_connections:
            self.troubles.dropped_connections -= 1
            await self._drop()

    def _path(self, uuid: str) -> str:
        """Bleak reads handles from the last four digits, which have to be hexadecimal."""
        number = [full_uuid(one.uuid) for one in self.peripheral.characteristics].index(
            full_uuid(uuid))
        return f"{self._device_path}/service0010/char{0x20 + 4 * number:04x}"

    async def _drop(self) -> None:
        if not await self._connected():
            return
        await self._change(self._device_path, _DEVICE, ServicesResolved=Variant("b", False))
        await self._change(self._device_path, _DEVICE, Connected=Variant("b", False))
        for path in sorted(self._objects, reverse=True):
            if path.startswith(f"{self._device_path}/"):
                await self._remove(path)

    async def _on_Disconnect(self, _message: Message) -> _Reply:
        if not await self._connected():
            raise _Refusal("NotConnected", "Not Connected")
        await self._drop()
        return "", []

    async def _switch(self, is_on: bool) -> None:
        self.troubles.is_off = not is_on
        if not is_on:
            await self._drop()
        await self._change(_ADAPTER_PATH, _ADAPTER, Powered=Variant("b", is_on))

    def _of(self, message: Message) -> PlayedCharacteristic:
        for characteristic in self.peripheral.characteristics:
            if self._path(characteristic.uuid) == message.path:
                return characteristic
        raise _Refusal("DoesNotExist", "Does Not Exist")

    async def _on_ReadValue(self, message: Message) -> _Reply:
        characteristic = self._of(message)
        if "read" not in characteristic.flags:
            raise _Refusal("NotPermitted", "Read not permitted")
        await self._change(message.path or "", _CHARACTERISTIC,
                           Value=Variant("ay", characteristic.value))
        return "ay", [characteristic.value]

    async def _on_WriteValue(self, message: Message) -> _Reply:
        characteristic = self._of(message)
        if not any(flag.startswith("write") for flag in characteristic.flags):
            raise _Refusal("NotPermitted", "Write not permitted")
        value = bytes(message.body[0])
        # An answer follows as a notification of its own, never inside the reply.
        self._loop.call_soon(self.on_write, characteristic.uuid, value)
        return "", []

    async def _on_StartNotify(self, message: Message) -> _Reply:
        self._of(message)
        await self._change(message.path or "", _CHARACTERISTIC, Notifying=Variant("b", True))
        return "", []

    async def _on_StopNotify(self, message: Message) -> _Reply:
        await self._change(message.path or "", _CHARACTERISTIC, Notifying=Variant("b", False))
        return "", []

    async def _notifying(self) -> list[str]:
        return [one.uuid for one in self.peripheral.characteristics
                if (thing := self._objects.get(self._path(one.uuid)))
                and thing[_CHARACTERISTIC]["Notifying"].value]

    async def _stream(self, uuid: str, data: bytes) -> None:
        room = self.peripheral.mtu - 3
        for at in range(0, len(data), room):
            await self._put(uuid, data[at:at + room])

    async def _put(self, uuid: str, value: bytes) -> None:
        for characteristic in self.peripheral.characteristics:
            if full_uuid(characteristic.uuid) == full_uuid(uuid):
                characteristic.value = value
        if uuid in await self._notifying():
            await self._change(self._path(uuid), _CHARACTERISTIC, Value=Variant("ay", value))


class _Refusal(Exception):
    """An error that the service answers with."""

    def __init__(self, name: str, words: str) -> None:
        super().__init__(name, words)
        self.name = name
        self.words = words
