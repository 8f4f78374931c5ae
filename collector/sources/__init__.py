"""Where samples come from.

A ``Source`` is what the recorder reads: an iterator of what was heard. A ``Link`` is a byte
stream to a monitor; ``described.DescribedSource`` joins a link to a monitor description, and is
the only place where bytes become samples. To add a way in, write a leaf module with a link (or a
whole source) and put it into ``LINKS``.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from importlib import import_module
from typing import TYPE_CHECKING, Final, Protocol

from ..clock import Clock
from ..errors import DescriptionError
from ..rawfile import Chunk
from ..record import Sample

if TYPE_CHECKING:
    from ..monitors.schema import Description

#: What a source yields: bytes as they arrived, and the samples read from them.
Heard = Chunk | Sample


class Source(Protocol):
    """Yields what it hears until told to stop.

    Once open, a source opens its monitor again, with growing pauses, after it was lost; a gap is
    a sample with an ``event``.
    """

    #: What the log says it came from, such as a port's name.
    name: str
    #: Quantity columns that its samples can hold, in log order.
    columns: tuple[str, ...]
    #: The clock that its stamps are made with: this computer's, or that of a capture.
    clock: Clock

    def open(self) -> None:
        """Connect for the first time; raises ``SourceUnavailable``."""
        ...

    def heard(self, stop: threading.Event) -> Iterator[Heard]:
        """Chunks and samples in the order they arrived, until ``stop`` is set or all is played."""
        ...

    def close(self) -> None:
        """Let go; never raises, may be called twice."""
        ...


class Link(Protocol):
    """A byte stream to a monitor."""

    #: What a person calls it: ``/dev/ttyUSB0``, ``socket://host:port``.
    name: str

    def open(self) -> None:
        """Connect; raises ``SourceUnavailable``."""
        ...

    def read(self, timeout_s: float) -> bytes:
        """The bytes that arrived, at once when there are any, empty after the timeout.

        Raises ``LinkLost`` when the link went away, ``EOFError`` when there will never be more
        (a capture played to its end).
        """
        ...

    def write(self, data: bytes) -> None:
        """Send a request; raises ``LinkLost``."""
        ...

    def close(self) -> None:
        """Let go; never raises, may be called twice."""
        ...


#: Transport kinds of a monitor description: ``module:class``, loaded when asked for. The class
#: takes ``(port, transport table)``.
LINKS: Final = {
    "serial": "collector.sources.serial_line:SerialLink",
    "modbus": "collector.sources.modbus:ModbusLink",
    "ble": "collector.sources.ble:BleLink",
    "gatt": "collector.sources.ble:GattLink",
}


def open_link(description: Description, port: str) -> Link:
    """The link a description asks for, not opened yet.

    Raises
    ------
    DescriptionError
        If the transport is not one of ``LINKS``.
    """
    kind = description.transport.kind
    if kind not in LINKS:
        raise DescriptionError(description.name, f"unknown transport {kind!r}",
                               f"known: {', '.join(sorted(LINKS))}")
    module, _, name = LINKS[kind].partition(":")
    link: Link = getattr(import_module(module), name)(port, description.transport)
    return link
