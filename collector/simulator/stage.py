"""Monitors that are asked or subscribed to: a Modbus unit, a Bluetooth peripheral.

They send no frames of their own accord: a stage shows a row, and whoever listens takes it. What
goes wrong begins and ends on the stage.
"""

from __future__ import annotations

import threading
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final, Protocol

from ..clock import Clock
from ..errors import DescriptionError, PackhandError
from ..frames.fields import Values
from ..monitors import Description
from .faults import KINDS, Fault, FaultKinds

if TYPE_CHECKING:
    from .live import Row

#: What can go wrong beside ``faults.KINDS``, by the kind of transport.
MORE_KINDS: Final[Mapping[str, FaultKinds]] = {
    "modbus": {"late": ("an answer comes too late", 0.0, 0.0),
               "busy": ("a request is refused for want of time", 0.0, 0.0)},
    "ble": {"off": ("Bluetooth is switched off, and on again", 1.0, 4.0)},
    "gatt": {"off": ("Bluetooth is switched off, and on again", 1.0, 4.0)},
}
#: Falling behind by more than this (a sleeping laptop) sets the pace anew. [s]
_BEHIND_S: Final = 1.0


class Stage(Protocol):
    """A played monitor."""

    def show(self, values: Values) -> None:
        """Show a new row from now on."""
        ...

    def begin(self, fault: str) -> None:
        """Let something go wrong."""
        ...

    def end(self, fault: str) -> None:
        """Mend what lasted."""
        ...


def kinds_for(description: Description) -> FaultKinds:
    """What can go wrong with this monitor."""
    return {**KINDS, **MORE_KINDS.get(description.transport.kind, {})}


@contextmanager
def open_stage(description: Description, first: Row, *, link: Path | None,
               tcp_port: int | None) -> Iterator[tuple[Stage, str]]:
    """The stage for a monitor, and the words that lead a listener to it.

    Raises
    ------
    SourceUnavailable
        If this computer cannot play it.
    """
    if description.transport.registers is None:
        with _bluetooth(description, first) as opened:
            yield opened
        return
    from .modbus_voice import ModbusNetworkVoice, ModbusVoice
    from .terminal import PseudoTerminal

    try:
        voice: ModbusVoice | ModbusNetworkVoice = (
            ModbusVoice(PseudoTerminal(link), description, first) if tcp_port is None
            else ModbusNetworkVoice(tcp_port=tcp_port, description=description, values=first))
    except ValueError as error:
        raise DescriptionError(description.name, f"the flatbed cannot speak so: {error}",
                               "play demo-modbus") from error
    with voice:
        yield voice, f"packhand record {description.name} --port {voice.port}"


@contextmanager
def _bluetooth(description: Description, first: Row) -> Iterator[tuple[Stage, str]]:
    try:
        from .ble_voice import BleVoice
        from .private_bus import ADDRESS_VARIABLE, PrivateBus
    except ImportError:
        raise PackhandError(description.name, "Bluetooth cannot be played on this system",
                            "play it on Linux, or play demo-modbus") from None

    with PrivateBus() as bus:
        voice = BleVoice(description, bus.address, first)
        leave = " --allow-writes" if description.ask else ""
        with voice.peer:
            yield voice, (f"{ADDRESS_VARIABLE}='{bus.address}' "
                          f"packhand record {description.name}{leave}")


def play(stage: Stage, rows: Iterable[Row], interval_s: float, stop: threading.Event,
         script: Iterator[Fault], clock: Clock | None = None) -> int:
    """Show one row each interval until ``stop`` is set; how many were shown."""
    clock = clock or Clock()
    start_s = due_s = clock.steady()
    coming, lasting, shown = next(script, None), None, 0
    for row in rows:
        if stop.wait(max(0.0, due_s - clock.steady())):
            break
        now_s = clock.steady() - start_s
        if lasting and now_s >= lasting.end_s:
            stage.end(lasting.kind)
            lasting = None
        if coming and not lasting and now_s >= coming.at_s:
            stage.begin(coming.kind)
            lasting = Fault(now_s, coming.kind, coming.for_s) if coming.for_s else None
            coming = next(script, None)
        if not (lasting and lasting.kind == "stale"):
            stage.show(row)
            shown += 1
        late_s = clock.steady() - due_s
        due_s += interval_s if late_s < _BEHIND_S else late_s + interval_s
    return shown
