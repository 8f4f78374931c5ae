"""Serving the pages, on this machine or to the home network."""

from __future__ import annotations

import errno
import os
import socket
from typing import Any, Final

from dash import Dash
from waitress import create_server  # type: ignore[import-untyped]

from collector.errors import SourceUnavailable

from .bench.brought import FILE_MAX
from .guard import BODY_MAX

#: Only this machine can reach it.
LOOPBACK: Final = "127.0.0.1"
#: Requests answered at the same time; one person's pages never ask for more.
THREADS: Final = 8


def open_server(app: Dash, port: int, address: str = LOOPBACK) -> Any:
    """A server bound to one address; ``run()`` serves, ``close()`` ends it.

    ``effective_port`` tells the port, which the system chooses where ``port`` is 0.

    Raises
    ------
    SourceUnavailable
        If the port is taken, not allowed or no port at all, or the address is another machine's.
    """
    # Files are brought in at the machine itself only.
    body_max = FILE_MAX if address == LOOPBACK else BODY_MAX
    return create_server(app.server, sockets=[_bound(port, address)], threads=THREADS, ident=None,
                         max_request_body_size=body_max)


def _bound(port: int, address: str) -> socket.socket:
    """A socket bound here, so that a taken port leaves nothing open."""
    bound = socket.socket()
    try:
        if os.name == "posix":  # elsewhere this would let two servers share a port
            bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        bound.bind((address, port))
    except (OSError, OverflowError) as error:
        bound.close()
        if getattr(error, "errno", None) == errno.EADDRNOTAVAIL:
            raise SourceUnavailable(f"address {address}", "not one of this machine",
                                    "leave --address away to take the usual one") from error
        raise SourceUnavailable(f"port {port}", getattr(error, "strerror", "") or "no such port",
                                "choose another with --port, or 0 for any free one") from error
    return bound
