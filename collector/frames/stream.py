"""Which decoder reads a monitor's stream."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from .counts import Counts
from .decoder import Decoder
from .fields import Row
from .gatt_stream import GattDecoder
from .modbus import ModbusDecoder

if TYPE_CHECKING:
    from ..monitors.schema import Description


class StreamDecoder(Protocol):
    """Turns one monitor's bytes into rows, however they are cut."""

    @property
    def counts(self) -> Counts:
        """What was made of the bytes so far."""
        ...

    def feed(self, data: bytes) -> list[Row]:
        """The rows these bytes made whole; what cannot be read is counted, never raised."""
        ...

    def describe_junk(self) -> str:
        """What was heard, in words, for a person whose monitor gives no figures."""
        ...


def open_decoder(description: Description) -> StreamDecoder:
    """A decoder for one connection to the monitor."""
    transport = description.transport
    if transport.registers is not None:
        return ModbusDecoder(transport.registers)
    if transport.peripheral is not None and transport.peripheral.characteristics:
        return GattDecoder(transport.peripheral.characteristics)
    return Decoder(description)
