"""Modbus registers: which are read, in which blocks, and the figures that lie in them.

A *frame* here is the bytes of an area's registers, in order and high byte first, so that the
ordinary fields of ``fields`` read figures out of it. An area is either a whole register map or
one model of a SunSpec device, whose place is known only when it has been found. No I/O.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from .fields import Field, Number, Row, Values
from .joining import Join, joined
from .place import Place

#: The most registers that one request of function 3 or 4 may ask for. [1]_
#:
#: .. [1] Modbus Application Protocol V1.1b3, 6.3 and 6.4, Modbus Organization, 2012.
COUNT_MAX: Final = 125

Registers = tuple[int, ...]


@dataclass(frozen=True, slots=True, order=True)
class Block:
    """Neighbouring registers that are read by one request."""

    #: 3 for holding registers, 4 for input registers.
    function: int
    address: int
    count: int

    @property
    def stop(self) -> int:
        """The first register behind it."""
        return self.address + self.count

    @property
    def words(self) -> str:
        last = f" to {self.stop - 1}" if self.count > 1 else ""
        return f"{self.address}{last} (function {self.function})"


@dataclass(frozen=True, slots=True)
class Area:
    """Blocks whose registers make one frame."""

    blocks: tuple[Block, ...]
    #: The SunSpec model it is, 0 for a register map with places of its own.
    model: int = 0


def planned(spans: Iterable[Block], max_gap: int) -> tuple[Block, ...]:
    """The fewest blocks that hold all spans, each span whole in one block.

    Registers between two spans are read along where they are at most ``max_gap``; a figure of
    several registers is never torn over two answers.
    """
    blocks: list[Block] = []
    for span in sorted(spans):
        last = blocks[-1] if blocks else None
        if last and last.function == span.function and span.address - last.stop <= max_gap:
            count = max(last.stop, span.stop) - last.address
            if count <= COUNT_MAX:
                blocks[-1] = Block(last.function, last.address, count)
                continue
        blocks.append(span)
    return tuple(blocks)


def consecutive(address: int, count: int, function: int = 3) -> tuple[Block, ...]:
    """Blocks for a run of registers that may be longer than one request can ask for."""
    return tuple(Block(function, at, min(COUNT_MAX, address + count - at))
                 for at in range(address, address + count, COUNT_MAX))


@dataclass(frozen=True, slots=True)
class PowerScaled:
    """Figures whose power of ten stands in a register of its own, as in SunSpec.

    A power outside -10 to 10 is none; 0x8000, SunSpec's "not implemented", is one of those.
    """

    number: Number
    #: The register that holds the power, in two's complement.
    power: Place

    @property
    def columns(self) -> tuple[str, ...]:
        return self.number.columns

    @property
    def reach(self) -> int:
        return max(self.number.reach, self.power.reach)

    def read_into(self, row: Row, frame: bytes) -> None:
        power = self._power(frame)
        if power is None:
            return
        bare: Row = {}
        self.number.read_into(bare, frame)
        for column, value in bare.items():
            if isinstance(value, float):
                # Dividing by a whole power gives the double nearest to the decimal meant.
                row[column] = value * 10**power if power >= 0 else value / 10**-power

    def write_into(self, frame: bytearray, values: Values) -> None:
        """Put figures in, for the power that stands in the frame already."""
        power = self._power(frame)
        if power is None:
            raise ValueError(f"{self.columns[0]}: no power of ten in its register")
        self.number.write_into(frame, {
            column: value * 10.0**-power for column in self.columns
            if isinstance(value := values.get(column), float | int)})

    def _power(self, frame: bytes | bytearray) -> int | None:
        raw = self.power.read(frame)
        power = raw - (raw >> 15 << 16)
        return power if -10 <= power <= 10 else None


@dataclass(frozen=True, slots=True)
class RegisterMap:
    """Everything that is read from one Modbus unit."""

    device_id: int
    #: From one poll to the next. [s]
    every_s: float
    #: An answer comes within this time or not at all. [s]
    timeout_s: float
    #: How often a request without answer is repeated.
    retries: int
    #: Fields by the model they lie in, 0 where places are fixed.
    fields: tuple[tuple[int, Field], ...]
    #: The register map's own area; empty for a SunSpec device.
    blocks: tuple[Block, ...] = ()
    #: Where a SunSpec device may have its marker, in the order they are tried.
    bases: tuple[int, ...] = ()
    #: Places in the frame where the low register comes first.
    swapped: tuple[Place, ...] = ()
    #: How each of ``fields`` is told where a SunSpec device has several of its model.
    joins: tuple[Join, ...] = ()
    #: Of SunSpec models with a repeated group: its first register and its length.
    groups: Mapping[int, tuple[int, int]] = field(default_factory=dict)

    @property
    def models(self) -> frozenset[int]:
        """The SunSpec models that fields lie in."""
        return frozenset(model for model, _ in self.fields if model)

    def frame_of(self, registers: Sequence[int]) -> bytes:
        """The frame of an area, words in their usual order."""
        frame = bytearray(b"".join(register.to_bytes(2, "big") for register in registers))
        for place in self.swapped:
            words = [frame[at:at + 2] for at in range(place.at, place.reach, 2)]
            frame[place.at:place.reach] = b"".join(reversed(words))
        return bytes(frame)

    def frames_of(self, model: int, registers: Sequence[int]) -> list[bytes]:
        """The frames of an area: one, or one for each member of the model's repeated group, each
        behind what all of them share."""
        frame = self.frame_of(registers)
        if model not in self.groups:
            return [frame]
        start, size = (2 * registers for registers in self.groups[model])
        return [frame[:start] + frame[at:at + size]
                for at in range(start, len(frame) - size + 1, size)]

    def read(self, frames: Mapping[int, Sequence[bytes]]) -> Row:
        """The figures of one poll, from the frames by model.

        Where several models tell a quantity, the field described first has the word.
        """
        row: Row = {}
        first: Join = "first"
        joins = self.joins or (first,) * len(self.fields)
        for (model, part), join in zip(self.fields, joins, strict=True):
            told = frames.get(model, ())
            row = joined(part, join, told, [_members(part, frame) for frame in told]) | row
        return row


def _members(part: Field, frame: bytes) -> int:
    """How many members of a group a frame has room for."""
    number = part.number if isinstance(part, PowerScaled) else part
    if not isinstance(number, Number):
        return 1
    return (len(frame) - number.place.at) // max(number.stride, number.place.length)
