"""Modbus as a stream of bytes: requests and answers in the form of the serial line (RTU) [1]_.

What went over the wire is kept in this form whatever the wire was, so that a raw capture can be
read again. A request is followed by its answer; an answer carries no address, so it counts only
behind a request of as many registers. No I/O and no clock.

.. [1] Modbus Application Protocol V1.1b3, 2012; MODBUS over Serial Line V1.02, 2006, Modbus
   Organization.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from .checks import CATALOGUE
from .counts import Counts
from .fields import Row
from .polling import Poll
from .registers import Block, RegisterMap, Registers

_CRC: Final = CATALOGUE["CRC-16/MODBUS"]
_READS: Final = (3, 4)
#: Set in the function of an answer that refuses.
_REFUSED: Final = 0x80
_REQUEST_SIZE: Final = 8
_REFUSAL_SIZE: Final = 5

#: Refusals that pass: the unit has no time now. The same request is good again later.
PASSING: Final = (4, 5, 6)
#: What a unit may say instead of an answer.
REFUSALS: Final = {
    1: "it does not know this function", 2: "it has no such registers",
    3: "it does not take this request", 4: "it has failed inside",
    5: "it needs more time", 6: "it is busy",
    10: "the gateway has no path to it", 11: "it does not answer its gateway",
}


def frame_gap_s(baud: int) -> float:
    """The silence between two frames of a serial line. [s]

    3.5 characters of 11 bits; fixed at 1.75 ms above 19 200 baud. [1]_, serial line, 2.5.1.1
    """
    return 3.5 * 11 / baud if baud <= 19_200 else 0.001_75


def request_octets(device_id: int, block: Block) -> bytes:
    """A request as it goes over a serial line."""
    return _checked(bytes([device_id, block.function]) + block.address.to_bytes(2, "big")
                    + block.count.to_bytes(2, "big"))


def answer_octets(device_id: int, function: int, registers: Registers) -> bytes:
    """An answer as it comes over a serial line."""
    data = b"".join(register.to_bytes(2, "big") for register in registers)
    return _checked(bytes([device_id, function, len(data)]) + data)


def refusal_octets(device_id: int, function: int, code: int) -> bytes:
    """A refusal as it comes over a serial line."""
    return _checked(bytes([device_id, function | _REFUSED, code]))


def _checked(message: bytes) -> bytes:
    return message + _CRC.compute(message).to_bytes(2, "little")


@dataclass(frozen=True, slots=True)
class Answer:
    """What a unit said to a request: registers, or the code of its refusal."""

    block: Block
    registers: Registers = ()
    refusal: int = 0


class Exchanges:
    """Finds requests and their answers in a stream, however it is cut."""

    def __init__(self, device_id: int) -> None:
        self.junk_bytes = 0
        self._device_id = device_id
        self._buffer = bytearray()
        #: The request that waits for its answer.
        self._asked: Block | None = None

    def feed(self, data: bytes) -> Iterator[Block | Answer]:
        """Requests as blocks, and answers, in order; an answer without request is junk."""
        self._buffer += data
        while self._buffer:
            size = self._answer_size()
            if size > len(self._buffer):
                return
            if size and self._is_good(size):
                yield self._answer(size)
            elif len(self._buffer) < _REQUEST_SIZE and self._may_be_request():
                return
            elif self._may_be_request() and self._is_good(_REQUEST_SIZE):
                yield self._request()
            else:
                self.junk_bytes += 1
                del self._buffer[:1]

    def _answer_size(self) -> int:
        """Bytes of the answer that begins here, 0 if none can; more than are there if unknown."""
        asked, head = self._asked, self._buffer
        if asked is None or head[0] != self._device_id:
            return 0
        if len(head) < 3:
            return 3 if len(head) < 2 or head[1] & ~_REFUSED == asked.function else 0
        if head[1] == asked.function | _REFUSED:
            return _REFUSAL_SIZE
        is_fitting = head[1] == asked.function and head[2] == 2 * asked.count
        return 5 + head[2] if is_fitting else 0

    def _may_be_request(self) -> bool:
        head = self._buffer
        return head[0] == self._device_id and (len(head) < 2 or head[1] in _READS)

    def _is_good(self, size: int) -> bool:
        message = bytes(self._buffer[:size])
        return len(message) == size and _checked(message[:-2]) == message

    def _take(self, size: int) -> bytes:
        message = bytes(self._buffer[:size])
        del self._buffer[:size]
        return message

    def _request(self) -> Block:
        message = self._take(_REQUEST_SIZE)
        self._asked = Block(message[1], int.from_bytes(message[2:4], "big"),
                            int.from_bytes(message[4:6], "big"))
        return self._asked

    def _answer(self, size: int) -> Answer:
        message, block = self._take(size), self._asked
        self._asked = None
        if block is None:
            raise ValueError("an answer is found only behind a request")
        if message[1] & _REFUSED:
            return Answer(block, refusal=message[2])
        data = message[3:-2]
        return Answer(block, tuple(int.from_bytes(data[at:at + 2], "big")
                                   for at in range(0, len(data), 2)))


class ModbusDecoder:
    """Requests and answers, as they arrive, to rows of figures."""

    def __init__(self, registers: RegisterMap) -> None:
        self._exchanges = Exchanges(registers.device_id)
        self._poll = Poll(registers)
        self._device_id = registers.device_id
        self._heard_bytes = self._asked = self._answered = self._rows = self._empty = 0
        self._refused = 0
        #: The last refusal in words, and requests without a word since the last answer.
        self._refusal = ""
        self._unanswered = 0
        self._is_followed = False

    @property
    def counts(self) -> Counts:
        """The counts at this moment: requests are not heard, a refusal counts as undecodable."""
        heard_bytes = self._heard_bytes - _REQUEST_SIZE * self._asked
        return Counts(heard_bytes, self._rows, 0, self._exchanges.junk_bytes,
                      self._empty + self._refused)

    def feed(self, data: bytes) -> list[Row]:
        """A row for each poll that these bytes made whole; what cannot be read is counted."""
        self._heard_bytes += len(data)
        rows = []
        for item in self._exchanges.feed(data):
            if isinstance(item, Block):
                self._asked += 1
                self._unanswered += 1
                self._is_followed = self._poll.follow(item)
            elif (row := self._read(item)) is not None:
                rows.append(row)
        self._rows += len(rows)
        return rows

    def _read(self, answer: Answer) -> Row | None:
        """The row an answer completes. Whether it had one without figures is counted."""
        self._unanswered = 0
        if answer.refusal:
            self._refused += 1
            why = REFUSALS.get(answer.refusal, "for a reason of its own")
            self._refusal = f"registers {answer.block.words}: {why} (exception {answer.refusal})"
            if answer.refusal in PASSING:
                return None
        else:
            self._answered += 1
        if not self._is_followed:
            return None
        row = self._poll.take(None if answer.refusal else answer.registers)
        self._empty += row == {}
        return row or None

    def describe_junk(self) -> str:
        """How the conversation goes, in words, for a person whose monitor gives no figures."""
        asked = f"unit {self._device_id} was asked {self._asked} times"
        if self._unanswered > 1:
            junk = self._exchanges.junk_bytes
            found = f"{junk} bytes came that are no answer; " if junk else ""
            return (f"{asked} and said nothing to the last {self._unanswered}: {found}check its "
                    "wires, its number, the baud rate and the parity")
        if self._poll.problem and not self._refused:
            return f"{asked}; {self._poll.problem}"
        if self._refusal:
            return f"{asked} and refused {self._refused} times, last {self._refusal}"
        return f"{asked} and answered {self._answered} times"
