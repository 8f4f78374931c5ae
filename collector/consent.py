"""A person's leave to write to a Bluetooth monitor, kept in the logbook.

Packhand only listens, with one exception: a monitor that speaks when something is written to it,
as its description says. What would be written is shown first, and nothing is written before a
person has allowed exactly that, once for each logbook.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from .clock import Clock, iso_utc
from .logbook import unwritable

if TYPE_CHECKING:
    from .monitors.schema import Description

#: Where leave is kept: a line for each, time, characteristic and bytes.
CONSENT_NAME: Final = "allowed-writes.txt"


def with_consent(description: Description, logbook: Path, *, is_given: bool) -> Description:
    """The description, free to write if a person allows it now or did so before.

    Raises
    ------
    LogbookError
        If leave is given now and cannot be kept.
    """
    transport, ask = description.transport, description.ask
    peripheral = transport.peripheral
    if peripheral is None or ask is None:
        return description
    wanted = [f"{peripheral.write} {send.hex(' ')}" for send in ask.sends]
    for each in wanted if is_given else []:
        if each not in _allowed(logbook):
            _keep(logbook, each)
    if not _allowed(logbook).issuperset(wanted):
        return description
    allowed = replace(peripheral, may_write=True)
    return replace(description, transport=replace(transport, peripheral=allowed))


def _allowed(logbook: Path) -> set[str]:
    try:
        lines = (logbook / CONSENT_NAME).read_text(encoding="utf-8").splitlines()
    except (FileNotFoundError, NotADirectoryError):
        return set()
    return {line.partition(" ")[2] for line in lines}


def _keep(logbook: Path, wanted: str) -> None:
    try:
        logbook.mkdir(parents=True, exist_ok=True)
        with (logbook / CONSENT_NAME).open("a", encoding="utf-8") as file:
            file.write(f"{iso_utc(Clock().now()[0])} {wanted}\n")
    except OSError as error:
        raise unwritable(logbook, error) from error
