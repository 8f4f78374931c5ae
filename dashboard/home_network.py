"""The address under which a phone at home finds this machine, as text and as a code to scan."""

from __future__ import annotations

import io
import ipaddress
import socket
from typing import Final

import segno

from collector.errors import SourceUnavailable

#: Nobody is there (RFC 5737, TEST-NET-1); a datagram socket sends nothing when it connects.
_ELSEWHERE: Final = ("192.0.2.1", 9)


def own_address() -> str:
    """This machine's address on the network that its traffic takes.

    Raises
    ------
    SourceUnavailable
        If it is on no network.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_ELSEWHERE)
        except OSError as error:
            raise SourceUnavailable("--lan", "this machine is on no network",
                                    "join one, or name the address with --address") from error
        return str(probe.getsockname()[0])


def home_address(text: str) -> str:
    """An address that only a network at home can reach.

    Raises
    ------
    SourceUnavailable
        If it is no IPv4 address, stands for all of them, or can be reached from the internet.
    """
    try:
        address = ipaddress.IPv4Address(text)
    except ValueError:
        raise SourceUnavailable(f"address {text}", "not an IPv4 address",
                                "such as 192.168.1.7") from None
    if address.is_unspecified or address.is_multicast:
        raise SourceUnavailable(f"address {text}", "not one address of this machine",
                                "name the one of your home network, such as 192.168.1.7")
    if address.is_global:
        raise SourceUnavailable(f"address {text}", "can be reached from the internet",
                                "the pages are for a network at home, such as 192.168.1.7")
    return str(address)


def code_of(address: str) -> str:
    """A QR code (ISO/IEC 18004) drawn with characters, light on dark as terminals are."""
    drawn = io.StringIO()
    segno.make(address, error="l", micro=False).terminal(drawn, compact=True, border=2)
    return drawn.getvalue()
