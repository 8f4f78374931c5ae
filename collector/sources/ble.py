"""Bluetooth LE links: a byte stream of notifications, or the standard characteristics."""

from __future__ import annotations

import queue
import time
from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.exc import BleakGATTProtocolError

from ..errors import LinkLost, SourceUnavailable
from ..frames.gatt_stream import MOMENT_END, value_octets
from .ble_peripheral import Connection
from .ble_trouble import reason

if TYPE_CHECKING:
    from ..monitors.schema import Transport

#: Values that come within this time after the first one are one moment. [s]
#: Chosen here: longer than a peripheral needs for a row of notifications, shorter than the
#: period of any monitor.
GATHER_S: Final = 0.05



#: What can happen between the connection and the first value.
_NOT_OPENED: Final = (SourceUnavailable, LinkLost, BleakGATTProtocolError)


def _not_opened(name: str, error: BaseException) -> SourceUnavailable:
    if isinstance(error, SourceUnavailable):
        return error
    words = error.found if isinstance(error, LinkLost) else f"it refuses ({reason(error)})"
    return SourceUnavailable(name, words, "try once more")


class _Mailbox:
    """What the event loop's thread hands to the reader: values, and the loss as ``None``."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._letters: queue.SimpleQueue[bytes | None] = queue.SimpleQueue()
        self._is_lost = False

    def put(self, letter: bytes | None) -> None:
        self._letters.put(letter)

    def take(self, timeout_s: float, gather_s: float) -> bytes:
        """What came, soon after the first of it; raises ``LinkLost`` when all of it is taken."""
        if self._is_lost:
            raise LinkLost(self._name, "the peripheral is out of reach or switched off")
        try:
            letter = self._letters.get(timeout=timeout_s)
        except queue.Empty:
            return b""
        data = b""
        if letter is not None and gather_s:
            time.sleep(gather_s)
        while letter is not None:
            data += letter
            try:
                letter = self._letters.get_nowait()
            except queue.Empty:
                return data
        self._is_lost = True
        return data or self.take(0.0, 0.0)


class BleLink:
    """The notifications of one characteristic as a byte stream, however they are cut.

    The port is an address or an advertised name; empty for the one peripheral in reach that
    advertises the described service.
    """

    def __init__(self, port: str, transport: Transport) -> None:
        self._connection = Connection(port, transport)
        self._peripheral = self._connection.peripheral
        self.name = self._connection.name
        self._mailbox = _Mailbox(self.name)

    def open(self) -> None:
        """Connect and subscribe.

        Raises
        ------
        SourceUnavailable
            If Bluetooth is off, the peripheral is out of reach, or lacks the characteristic.
        """
        self.close()
        self._mailbox = mailbox = _Mailbox(self.name)
        self._connection.open(lambda: mailbox.put(None))
        wanted = self._peripheral.notify
        try:
            characteristic = self._connection.characteristic(wanted)
            if characteristic is None:
                raise SourceUnavailable(self.name, f"it has no characteristic {wanted}",
                                        "check the description's [ble] table")
            self._connection.subscribe(characteristic, mailbox.put)
        except _NOT_OPENED as error:
            self.close()
            raise _not_opened(self.name, error) from error

    def read(self, timeout_s: float) -> bytes:
        """The bytes that were notified, at once when there are any; raises ``LinkLost``."""
        return self._mailbox.take(timeout_s, 0.0)

    def write(self, data: bytes) -> None:
        """Write a request.

        Raises
        ------
        SourceUnavailable
            If nobody allowed it, or the peripheral takes none.
        LinkLost
            If the peripheral went away.
        """
        if not self._peripheral.may_write:
            raise SourceUnavailable(
                self.name, f"answers only when {data.hex(' ')} is written to it",
                "'packhand record ... --allow-writes' allows it, once for this logbook")
        characteristic = self._connection.characteristic(self._peripheral.write)
        if characteristic is None:
            raise SourceUnavailable(self.name,
                                    f"it has no characteristic {self._peripheral.write}",
                                    "check the description's [ble] table")
        try:
            self._connection.write(characteristic, data)
        except BleakGATTProtocolError as error:
            raise SourceUnavailable(self.name, f"it does not take the request ({error})",
                                    "check the description's [ask] table") from error

    def close(self) -> None:
        """Take the connection down; never raises, may be called twice."""
        self._connection.close()


class GattLink:
    """Standard characteristics: notified where the peripheral can, read in turn where not.

    What comes together ends with the mark of a moment; see ``frames.gatt_stream``.
    """

    def __init__(self, port: str, transport: Transport) -> None:
        self._connection = Connection(port, transport)
        self._peripheral = self._connection.peripheral
        self.name = self._connection.name
        self._mailbox = _Mailbox(self.name)
        #: Characteristics that have to be read, by UUID.
        self._polled: dict[int, BleakGATTCharacteristic] = {}
        self._due_s = 0.0

    def open(self) -> None:
        """Connect, and look which of the described characteristics there are.

        Raises
        ------
        SourceUnavailable
            If Bluetooth is off, the peripheral is out of reach, or has none of them.
        """
        self.close()
        self._mailbox = mailbox = _Mailbox(self.name)
        self._connection.open(lambda: mailbox.put(None))
        described = self._peripheral.characteristics
        try:
            there = {uuid: characteristic for uuid in described
                     if (characteristic := self._connection.characteristic(f"{uuid:04x}"))}
            if not there:
                names = ", ".join(f"0x{uuid:04X}" for uuid in described)
                raise SourceUnavailable(self.name, f"it has none of {names}",
                                        "another kind of monitor; 'packhand learn' may help")
            self._begin(there)
        except _NOT_OPENED as error:
            self.close()
            raise _not_opened(self.name, error) from error

    def _begin(self, there: dict[int, BleakGATTCharacteristic]) -> None:
        """Read everything once, then subscribe: a subscribed one must not be read any more."""
        self._polled = {uuid: one for uuid, one in there.items() if "read" in one.properties}
        self._mailbox.put(self._read_polled())
        for uuid, characteristic in there.items():
            if {"notify", "indicate"} & set(characteristic.properties):
                self._polled.pop(uuid, None)
                self._connection.subscribe(characteristic, self._poster(uuid))
        self._due_s = time.monotonic() + self._peripheral.every_s

    def _poster(self, uuid: int) -> Callable[[bytes], None]:
        mailbox = self._mailbox
        return lambda value: mailbox.put(value_octets(uuid, value))

    def _read_polled(self) -> bytes:
        """The values of all that have to be read; one that may not be is left out from now on."""
        data = b""
        for uuid, characteristic in list(self._polled.items()):
            try:
                data += value_octets(uuid, self._connection.read(characteristic))
            except BleakGATTProtocolError:
                del self._polled[uuid]
        return data

    def read(self, timeout_s: float) -> bytes:
        """The values of a moment, soon after its first; raises ``LinkLost``."""
        wait_s = timeout_s
        if self._polled:
            wait_s = min(timeout_s, max(0.0, self._due_s - time.monotonic()))
        data = self._mailbox.take(wait_s, GATHER_S)
        now_s = time.monotonic()
        if self._polled and now_s >= self._due_s:
            self._due_s = max(self._due_s + self._peripheral.every_s, now_s)
            try:
                data += self._read_polled()
            except LinkLost:
                if not data:
                    raise
        return data + MOMENT_END if data else b""

    def write(self, data: bytes) -> None:
        """Nothing is written to standard characteristics."""
        raise ValueError(f"{self.name}: {len(data)} bytes for a link that only reads")

    def close(self) -> None:
        """Take the connection down; never raises, may be called twice."""
        self._connection.close()
