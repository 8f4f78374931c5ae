"""A Bluetooth LE peripheral to be played: how it shows itself, what it holds, what goes wrong."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(slots=True)
class PlayedCharacteristic:
    """One characteristic of the played peripheral."""

    uuid: str
    value: bytes = b""
    #: What a client may do: ``read``, ``notify``, ``write``, ``write-without-response``.
    flags: tuple[str, ...] = ("read", "notify")


@dataclass(slots=True)
class PlayedPeripheral:
    """A peripheral as it advertises itself, and what it holds."""

    name: str
    address: str
    service: str
    characteristics: list[PlayedCharacteristic]
    rssi_dbm: int = -58
    #: Largest packet; a notification carries three bytes less. [bytes]
    mtu: int = 185


@dataclass(slots=True)
class Troubles:
    """What goes wrong, counted down where it is a number."""

    #: Connections that fail as a busy radio makes them fail.
    refused_connects: int = 0
    #: Connections that break while services are being found.
    dropped_discoveries: int = 0
    #: Connections that break as soon as the services are found.
    dropped_connections: int = 0
    #: The adapter is switched off.
    is_off: bool = False
    #: The peripheral is out of reach: it neither advertises nor connects.
    is_away: bool = False
