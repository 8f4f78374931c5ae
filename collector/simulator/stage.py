"""Monitors that are asked or subscribed to: a Modbus unit, a Bluetooth peripheral.

They send no frames of their own accord: a stage shows a row, and whoever listens takes it. What
goes wrong begins and ends on the stage.
"""

from __future__ import annotations

import threading
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final, Protocol

from ..clock import Clock
from ..errors import DescriptionError, PackhandError
from ..frames.fields import Values
from ..monitors import Description
from .faults import AWAY, FLAP_S, Fault
from .row_faults import Teller

if TYPE_CHECKING:
    from .live import Row

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
    troubles, shown = _Troubles(stage, script), 0
    for row in rows:
        if stop.wait(max(0.0, due_s - clock.steady())):
            break
        troubles.at(clock.steady() - start_s)
        if troubles.kind != "stale":
            stage.show(troubles.told(row))
            shown += 1
        late_s = clock.steady() - due_s
        due_s += interval_s if late_s < _BEHIND_S else late_s + interval_s
    return shown


class _Troubles:
    """What goes wrong on a stage, at its time."""

    def __init__(self, stage: Stage, script: Iterator[Fault]) -> None:
        self._stage = stage
        self._script = script
        self._coming = next(script, None)
        self._lasting: Fault | None = None
        self._is_away = False
        self._teller = Teller()

    @property
    def kind(self) -> str:
        """The fault that lasts now, empty for none."""
        return self._lasting.kind if self._lasting else ""

    def at(self, now_s: float) -> None:
        """End and begin what is due."""
        lasting, coming = self._lasting, self._coming
        if lasting and now_s >= lasting.end_s:
            self._end(lasting.kind)
            self._lasting = lasting = None
        elif lasting and lasting.kind == "flap":
            self._go(is_away=(now_s - lasting.at_s) // FLAP_S % 2 == 0)
        if coming and not lasting and now_s >= coming.at_s:
            self._begin(coming.kind)
            self._lasting = Fault(now_s, coming.kind, coming.for_s) if coming.for_s else None
            self._coming = next(self._script, None)

    def told(self, row: Row) -> Row:
        """The row as the faults of the moment let it be told."""
        return self._teller.tell(row, self.kind)

    def _begin(self, kind: str) -> None:
        if kind in AWAY or kind == "flap":
            self._go(is_away=True)
        else:
            self._stage.begin(kind)

    def _end(self, kind: str) -> None:
        if kind in AWAY or kind == "flap":
            self._go(is_away=False)
        else:
            self._stage.end(kind)

    def _go(self, *, is_away: bool) -> None:
        if is_away is not self._is_away:
            self._is_away = is_away
            (self._stage.begin if is_away else self._stage.end)("unplug")
