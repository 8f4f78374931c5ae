"""A Modbus unit over a serial line (RTU) or a network, asked with pymodbus.

A late answer is dangerous: on a serial line it carries no address, so it could be taken for the
answer to the next request. After a request without answer the line is therefore left alone until
a late answer must have passed, the same registers are asked for again, and an answer with
another number of registers is never taken.
"""

from __future__ import annotations

import contextlib
import logging
import time
from typing import TYPE_CHECKING, Final
from urllib.parse import urlsplit

from pymodbus import FramerType
from pymodbus.client import ModbusSerialClient, ModbusTcpClient
from pymodbus.exceptions import ConnectionException, ModbusException, ModbusIOException
from pymodbus.pdu import ModbusPDU

from ..errors import LinkLost, SourceUnavailable
from ..frames.modbus import (
    PASSING,
    answer_octets,
    frame_gap_s,
    refusal_octets,
    request_octets,
)
from ..frames.polling import Poll
from ..frames.registers import Block, RegisterMap
from .serial_line import SerialLink

if TYPE_CHECKING:
    from ..monitors.schema import Transport

#: What went wrong is told by this module's errors; the library's own lines are for its makers.
logging.getLogger("pymodbus").addHandler(logging.NullHandler())

#: The line is left alone for so many timeouts after a request without answer.
SILENT_TIMEOUTS: Final = 2
#: Longest wait for a network connection. [s]
_CONNECT_S: Final = 3.0
#: The port that the standard reserves for Modbus on a network.
_TCP_PORT: Final = 502

Client = ModbusSerialClient | ModbusTcpClient


class ModbusLink:
    """Asks one unit for its registers, again and again, and hands out requests and answers.

    The port is a serial port (``/dev/ttyUSB0``, ``COM3``), ``tcp://host:502`` for Modbus TCP, or
    ``socket://host:port`` for a serial line behind a serial server. Bytes are in the form of the
    serial line, whatever the wire.
    """

    def __init__(self, port: str, transport: Transport) -> None:
        if transport.registers is None:
            raise ValueError(f"{port}: a Modbus link needs a register map")
        self.name = port
        self._transport = transport
        self._map: RegisterMap = transport.registers
        self._poll = Poll(self._map)
        self._client: Client | None = None
        #: When to ask next, and when the round began. [s, monotonic]
        self._due_s = self._round_s = 0.0
        #: Requests without answer so far for the same registers.
        self._tries = 0
        self._heard = b""

    def open(self) -> None:
        """Connect; an open port is closed first.

        Raises
        ------
        SourceUnavailable
            No such port, busy, no permission, no answer from the address.
        """
        self.close()
        client = self._new_client()
        if not client.connect():
            raise self._unavailable()
        client.comm_params.timeout_connect = self._map.timeout_s
        self._client = client
        self._poll = Poll(self._map)
        self._tries, self._due_s = 0, time.monotonic()

    def read(self, timeout_s: float) -> bytes:
        """One request with its answer when it is time to ask, else nothing after the timeout.

        Raises
        ------
        LinkLost
            When the port or the connection went away.
        """
        wait_s = self._due_s - time.monotonic()
        if wait_s > 0:
            time.sleep(min(wait_s, timeout_s))
        return self._exchange() if wait_s <= timeout_s else b""

    def write(self, data: bytes) -> None:
        """Nothing may be sent from outside: this link only reads registers."""
        raise ValueError(f"{self.name}: {len(data)} bytes for a link that only reads registers")

    def close(self) -> None:
        """Let go; never raises, may be called twice."""
        client, self._client = self._client, None
        if client is not None:
            with contextlib.suppress(OSError):
                client.close()  # type: ignore[no-untyped-call]

    def _exchange(self) -> bytes:
        block = self._poll.request
        if self._poll.is_new:
            # Keep the beat; after a stall start a new one rather than catch up with a burst.
            now_s = time.monotonic()
            is_late = now_s - self._due_s > self._map.every_s
            self._round_s = now_s if is_late else self._due_s
        request = request_octets(self._map.device_id, block)
        response = self._ask(block)
        if response is None:
            self._fail()
            return request + self._heard
        function, code = block.function, response.exception_code
        if response.isError():
            self._refused(code)
            return request + refusal_octets(self._map.device_id, function, code)
        registers = tuple(response.registers)
        if len(registers) != block.count:
            self._fail()
        else:
            self._poll.take(registers)
            self._go_on()
        return request + answer_octets(self._map.device_id, function, registers)

    def _ask(self, block: Block) -> ModbusPDU | None:
        """What the unit answers, ``None`` for nothing in time."""
        client = self._client
        if client is None or not client.connected:
            raise LinkLost(self.name, "not open")
        read = (client.read_holding_registers if block.function == 3
                else client.read_input_registers)
        self._heard = b""
        try:
            self._drain(client)
            return read(block.address, count=block.count, device_id=self._map.device_id)
        except ModbusIOException:
            return None
        except (ConnectionException, OSError) as error:
            raise LinkLost(self.name, "the link went away") from error
        except ModbusException:  # bytes that look like an answer and are none
            return None

    def _drain(self, client: Client) -> None:
        """Throw away what came too late; for a serial port the library does it."""
        if isinstance(client, ModbusTcpClient) and client.socket is not None:
            client.socket.setblocking(False)
            with contextlib.suppress(BlockingIOError):
                while client.socket.recv(4096):
                    pass
                raise OSError("closed by the other side")

    def _refused(self, code: int) -> None:
        if code in PASSING:
            self._fail()
            return
        self._poll.take(None)
        self._go_on()

    def _go_on(self) -> None:
        """Ask next at once within a round, after the period for a new one.

        Where it took a repeated request, the answer to the first one may still come.
        """
        self._wait(SILENT_TIMEOUTS if self._tries else 0)
        self._tries = 0

    def _fail(self) -> None:
        """Ask again after a silence; where that was in vain, begin the round anew later."""
        self._tries += 1
        if self._tries > self._map.retries:
            self._tries = 0
            if self._poll.is_marker:
                self._poll.take(None)
            else:
                self._poll.restart()
        self._wait(SILENT_TIMEOUTS)

    def _wait(self, timeouts: int) -> None:
        self._due_s = time.monotonic() + max(timeouts * self._map.timeout_s,
                                             frame_gap_s(self._transport.baud))
        if self._poll.is_new:
            self._due_s = max(self._due_s, self._round_s + self._map.every_s)

    def _new_client(self) -> Client:
        address = urlsplit(self.name)
        if address.scheme in ("tcp", "socket"):
            framer = FramerType.SOCKET if address.scheme == "tcp" else FramerType.RTU
            try:
                host, port = address.hostname or "", address.port or _TCP_PORT
            except ValueError as error:
                raise SourceUnavailable(self.name, f"not an address ({error})",
                                        "such as tcp://192.168.1.20:502") from error
            return ModbusTcpClient(host, port=port, framer=framer, timeout=_CONNECT_S,
                                   retries=0, trace_packet=self._listen)
        line = self._transport
        return ModbusSerialClient(
            self.name, framer=FramerType.RTU, baudrate=line.baud, bytesize=line.bytesize,
            parity=line.parity[0].upper(), stopbits=int(line.stopbits),
            timeout=self._map.timeout_s, retries=0, trace_packet=self._listen)

    def _listen(self, is_sending: bool, data: bytes) -> bytes:
        """Keep what comes on a serial line, so that bytes which are no answer are seen too."""
        if not is_sending and not self.name.startswith("tcp:"):
            self._heard = bytes(data)
        return data

    def _unavailable(self) -> SourceUnavailable:
        """Why it does not open; the library keeps the reason to itself."""
        if "://" in self.name:
            return SourceUnavailable(self.name, "no connection",
                                     "check the address, and that the unit is switched on")
        line = SerialLink(self.name, self._transport)
        try:
            line.open()
        except SourceUnavailable as error:
            return error
        line.close()
        return SourceUnavailable(self.name, "cannot be opened", "try once more")
