"""A real Modbus server on a pseudo-terminal or a network, with what goes wrong on a line.

The server of pymodbus opens one end of a line of its own; a thread carries bytes between it and
the end that a collector opens, and delays, damages or swallows answers on the way.
"""

from __future__ import annotations

import asyncio
import logging
import socket
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Self

from pymodbus import FramerType
from pymodbus.constants import ExcCodes
from pymodbus.server import ModbusSerialServer, ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

from ..frames.checks import CATALOGUE
from ..frames.fields import Values
from ..monitors import Description
from .modbus_units import Units
from .terminal import PseudoTerminal

logging.getLogger("pymodbus").addHandler(logging.NullHandler())

#: How long the carrying thread listens at one end before it turns to the other. [s]
_TURN_S: Final = 0.002
_STOP_S: Final = 10.0
#: A late answer comes this much after the time that monitors are given by default. [s]
_LATE_S: Final = 0.8
_NOISE: Final = bytes.fromhex("A7 00 5C F1 13")
#: More answers than anybody asks for.
_ALL: Final = 1_000_000_000


@dataclass(slots=True)
class LineFaults:
    """What goes wrong with the next answers; each number counts down."""

    #: Answers that come too late, and how late. [s]
    late: int = 0
    late_s: float = 0.0
    #: Answers with one bit turned.
    damaged: int = 0
    #: Answers that never come.
    swallowed: int = 0
    #: Answers that come twice.
    doubled: int = 0
    #: Answers that carry another unit's number.
    foreign: int = 0
    #: Answers that break off in the middle, and with random bytes before them.
    torn: int = 0
    noisy: int = 0
    #: Requests that are refused, and with which code.
    refused: int = 0
    refusal: ExcCodes = ExcCodes.DEVICE_BUSY


class _Server:
    """A server of pymodbus in a thread of its own."""

    def __init__(self, units: Units, faults: LineFaults) -> None:
        self._units = units
        self._faults = faults
        self._server: ModbusSerialServer | ModbusTcpServer | None = None

    def start(self, make: Callable[[list[SimDevice]], ModbusSerialServer | ModbusTcpServer],
              ) -> None:
        """Answer for all units, at a server made inside the thread."""
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True,
                                        name="Modbus units")
        self._thread.start()

        async def serve() -> None:
            self._server = make([self._device(number) for number in self._units.images])
            await self._server.serve_forever(background=True)

        asyncio.run_coroutine_threadsafe(serve(), self._loop).result(_STOP_S)

    def stop(self) -> None:
        """Close every connection and end the thread."""

        async def end() -> None:
            if self._server is not None:
                await self._server.shutdown()  # type: ignore[no-untyped-call]

        asyncio.run_coroutine_threadsafe(end(), self._loop).result(_STOP_S)
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(_STOP_S)
        self._loop.close()

    def _device(self, number: int) -> SimDevice:
        image = self._units.images[number]
        first = min(image)

        async def look(_function: int, start: int, _address: int, _count: int,
                       registers: list[int], _values: object) -> ExcCodes | None:
            if self._faults.refused:
                self._faults.refused -= 1
                return self._faults.refusal
            registers[first - start:] = list(self._units.images[number].values())
            return None

        return SimDevice(number, [SimData(first, values=list(image.values()),
                                          datatype=DataType.REGISTERS)], action=look)


class ModbusNetworkVoice:
    """The units of the demo, as Modbus TCP or as a serial line behind a serial server."""

    def __init__(self, framer: FramerType = FramerType.SOCKET, *, host: str = "127.0.0.1",
                 tcp_port: int = 0, description: Description | None = None,
                 values: Values | None = None) -> None:
        self.units = Units(description, values)
        self.faults = LineFaults()
        self._framer = framer
        self._host = host
        self._tcp_port = tcp_port or _free_port(host)
        self._server = _Server(self.units, self.faults)

    @property
    def port(self) -> str:
        """What to listen to."""
        scheme = "tcp" if self._framer is FramerType.SOCKET else "socket"
        return f"{scheme}://{self._host}:{self._tcp_port}"

    def start(self) -> Self:
        """Answer whoever connects."""
        self._server.start(lambda devices: ModbusTcpServer(
            devices, framer=self._framer, address=(self._host, self._tcp_port)))
        return self

    def show(self, values: Values) -> None:
        """Put a new row into the registers; raises ``ValueError`` for one that does not fit."""
        self.units.show(values)

    def begin(self, fault: str) -> None:
        """Refuse a request; what can happen to a serial line cannot happen here."""
        self.faults.refused += fault == "busy"

    def end(self, fault: str) -> None:
        """Nothing lasts."""

    def stop(self) -> None:
        """Close every connection."""
        self._server.stop()

    def __enter__(self) -> Self:
        return self.start()

    def __exit__(self, *exc_info: object) -> None:
        self.stop()


def _free_port(host: str) -> int:
    with socket.create_server((host, 0)) as probe:
        return int(probe.getsockname()[1])


class ModbusVoice:
    """The units of the demo, on a pseudo-terminal. Methods may be called from any thread."""

    def __init__(self, terminal: PseudoTerminal, description: Description | None = None,
                 values: Values | None = None) -> None:
        self.units = Units(description, values)
        self.faults = LineFaults()
        self._outer = terminal
        self._inner = PseudoTerminal()
        self._server = _Server(self.units, self.faults)
        self._wish_plugged = True
        self._settled = threading.Event()
        self._closing = threading.Event()
        self._late: deque[tuple[float, bytes]] = deque()
        self._carrying = threading.Thread(target=self._carry, daemon=True, name="Modbus line")

    @property
    def port(self) -> str:
        """What to listen to."""
        return self._outer.port

    def start(self) -> Self:
        """Plug the line in and answer; raises ``SourceUnavailable``."""
        self._outer.plug()
        self._inner.plug()
        self._server.start(lambda devices: ModbusSerialServer(
            devices, port=self._inner.port, trace_packet=self._own_answer))
        self._carrying.start()
        return self

    def stop(self) -> None:
        """Answer no more and close the line."""
        self._closing.set()
        self._carrying.join(_STOP_S)
        self._server.stop()
        self._inner.unplug()
        self._outer.unplug()

    def __enter__(self) -> Self:
        return self.start()

    def __exit__(self, *exc_info: object) -> None:
        self.stop()

    def show(self, values: Values) -> None:
        """Put a new row into the registers; raises ``ValueError`` for one that does not fit."""
        self.units.show(values)

    def begin(self, fault: str) -> None:
        """Let something go wrong, by its name in ``stage.kinds_for``."""
        faults = self.faults
        match fault:
            case "unplug":
                self.plug(is_plugged=False)
            case "pause":
                faults.swallowed = _ALL
            case "wrong-check":
                faults.damaged += 1
            case "torn":
                faults.torn += 1
            case "garbage":
                faults.noisy += 1
            case "late":
                faults.late, faults.late_s = faults.late + 1, _LATE_S
            case "busy":
                faults.refused += 1
            case "twice":
                faults.doubled += 1
            case "other-unit":
                faults.foreign += 1

    def end(self, fault: str) -> None:
        """Mend what lasted."""
        if fault == "unplug":
            self.plug(is_plugged=True)
        if fault == "pause":
            self.faults.swallowed = 0

    def plug(self, *, is_plugged: bool) -> None:
        """Pull the collector's cable out, or put it back."""
        self._settled.clear()
        self._wish_plugged = is_plugged
        self._settled.wait(_STOP_S)

    def _own_answer(self, is_sending: bool, data: bytes) -> bytes:
        """On a line nobody answers for a unit that is not there."""
        return b"" if is_sending and data[0] not in self.units.images else data

    def _carry(self) -> None:
        while not self._closing.is_set():
            self._settle()
            if self._outer.is_plugged and (asked := self._outer.read(_TURN_S)):
                self._inner.write(asked)
            answer = self._inner.read(_TURN_S)
            for piece in [*self._spoilt(answer), *self._due()]:
                if self._outer.is_plugged:
                    self._outer.write(piece)

    def _settle(self) -> None:
        if self._wish_plugged is not self._outer.is_plugged:
            if self._wish_plugged:
                self._outer.plug()
            else:
                self._outer.unplug()
        self._settled.set()

    def _spoilt(self, answer: bytes) -> list[bytes]:
        """What comes out of the line at once, where an answer goes in."""
        faults = self.faults
        if not answer:
            return []
        if faults.swallowed:
            faults.swallowed -= 1
            return []
        if faults.late:
            faults.late -= 1
            self._late.append((time.monotonic() + faults.late_s, answer))
            return []
        return [self._changed(answer)]

    def _changed(self, answer: bytes) -> bytes:
        faults = self.faults
        if faults.damaged:
            faults.damaged -= 1
            return answer[:-1] + bytes([answer[-1] ^ 0x10])
        if faults.foreign:
            faults.foreign -= 1
            return _of_another_unit(answer)
        if faults.torn:
            faults.torn -= 1
            return answer[:len(answer) // 2]
        if faults.noisy:
            faults.noisy -= 1
            return _NOISE + answer
        if faults.doubled:
            faults.doubled -= 1
            return answer + answer
        return answer

    def _due(self) -> list[bytes]:
        due = []
        while self._late and self._late[0][0] <= time.monotonic():
            due.append(self._late.popleft()[1])
        return due


def _of_another_unit(answer: bytes) -> bytes:
    """The same answer from the unit with the next number, its check right."""
    message = bytes([answer[0] + 1]) + answer[1:-2]
    return message + CATALOGUE["CRC-16/MODBUS"].compute(message).to_bytes(2, "little")
