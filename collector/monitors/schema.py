"""What a monitor description says, checked and typed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final, Literal

from ..frames.checks import Check
from ..frames.fields import Field, Only
from ..frames.framing import Framing
from ..frames.gatt_stream import gatt_columns
from ..frames.registers import RegisterMap
from ..frames.text import Form, TextField
from ..record import in_log_order

Parity = Literal["none", "even", "odd", "mark", "space"]

#: How a monitor may mean the sign of its amps.
CONVENTIONS: Final = (
    "negative_is_discharge", "positive_is_discharge", "unsigned", "undecided")

#: Without a frame for so long, a link is silent where the description says nothing. [s]
SILENCE_S: Final = 10.0
#: ... and where it tells how often frames come: so many periods.
SILENCE_PERIODS: Final = 5


@dataclass(frozen=True, slots=True)
class Peripheral:
    """A Bluetooth LE peripheral: how it is found, and what of it is heard."""

    #: UUID of a service that it advertises.
    service: str
    #: The name it advertises; empty for any.
    name: str = ""
    #: UUID of the characteristic whose notifications are the byte stream (kind ``ble``).
    notify: str = ""
    #: UUID of the characteristic that requests are written to; empty where none is.
    write: str = ""
    #: Standard characteristics by their 16-bit UUIDs (kind ``gatt``).
    characteristics: tuple[int, ...] = ()
    #: From one reading to the next, of what is not notified. [s]
    every_s: float = 1.0
    #: Whether a person has allowed writing. No description can say so.
    may_write: bool = False


@dataclass(frozen=True, slots=True)
class Transport:
    """How to reach the monitor."""

    #: A key of ``collector.sources.LINKS``.
    kind: str = "serial"
    baud: int = 9600
    bytesize: int = 8
    parity: Parity = "none"
    stopbits: float = 1
    #: No frame for so long is a gap. [s]
    silence_s: float = SILENCE_S
    #: What is read from the unit (kind ``modbus``).
    registers: RegisterMap | None = None
    #: The peripheral (kinds ``ble`` and ``gatt``).
    peripheral: Peripheral | None = None


@dataclass(frozen=True, slots=True)
class Ask:
    """The requests that make the monitor answer."""

    #: One, or several that are sent in turn, evenly over a round.
    sends: tuple[bytes, ...]
    #: From one round to the next. [s]
    every_s: float

    @property
    def step_s(self) -> float:
        """From one request to the next. [s]"""
        return self.every_s / len(self.sends)


@dataclass(frozen=True, slots=True)
class Sign:
    """What the monitor's signs mean, as far as somebody knows."""

    #: One of ``CONVENTIONS``.
    current_a: str = "undecided"


@dataclass(frozen=True, slots=True)
class Constant:
    """Bytes that are the same in every frame; the encoder writes them, nothing reads them."""

    at: int
    data: bytes


@dataclass(frozen=True, slots=True)
class Example:
    """A captured frame, as heard, and what it says."""

    data: bytes
    values: Mapping[str, float | str]


@dataclass(frozen=True, slots=True)
class Description:
    """A monitor, from the wire to the columns of a log.

    Of ``fields`` and ``text_fields`` one is empty: ``form`` is ``None`` for binary frames.
    """

    name: str
    title: str
    #: What a person should know about it.
    words: str
    transport: Transport
    ask: Ask | None
    framing: Framing
    check: Check | None
    form: Form | None
    fields: tuple[Field, ...]
    text_fields: tuple[TextField, ...]
    constants: tuple[Constant, ...]
    sign: Sign
    examples: tuple[Example, ...]
    _tables: Mapping[str, Any] = field(repr=False, compare=False)

    @property
    def columns(self) -> tuple[str, ...]:
        """The quantity columns it can fill, in log order."""
        return tuple(in_log_order({column for group in self.groups for column in group}))

    @property
    def groups(self) -> list[tuple[str, ...]]:
        """The columns of each field, in the order they are described."""
        peripheral = self.transport.peripheral
        standard = gatt_columns(peripheral.characteristics) if peripheral else ()
        return [part.columns for part in self.fields] + [
            part.columns for part in self.text_fields] + ([standard] if standard else [])

    @property
    def tail(self) -> int:
        """Bytes at a frame's end that are no content: check and end bytes."""
        end = len(self.framing.end) if self.framing.kind == "delimited" else 0
        check = self.check
        return max(end, len(check.mark) - check.at) if check and check.at < 0 else end

    @property
    def ahead(self) -> int:
        """Bytes up to the end of a check whose place counts from the start, 0 if none does."""
        return self.check.at + self.check.size if self.check and self.check.at >= 0 else 0

    @property
    def longest(self) -> int:
        """Bytes of the shortest frame that can hold any binary field."""
        return max([self.ahead, *(part.reach for part in self.fields)]) + self.tail

    @property
    def shortest(self) -> int:
        """Bytes of the shortest frame that can be read, the code of its kind included."""
        needed = [part.kind.reach if isinstance(part, Only) else part.reach
                  for part in self.fields]
        return max([self.ahead, *needed]) + self.tail

    def as_tables(self) -> dict[str, Any]:
        """The whole description as the tables of its TOML file, plain JSON."""
        return dict(self._tables)


