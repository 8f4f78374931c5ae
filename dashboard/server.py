"""Serving the pages on this machine."""

from __future__ import annotations

import errno
from typing import Any, Final

from dash import Dash
from waitress import create_server  # type: ignore[import-untyped]

from collector.errors import SourceUnavailable

from .guard import BODY_MAX

#: Only this machine can reach it.
LOOPBACK: Final = "127.0.0.1"
#: Requests answered at the same time; one person's pages never ask for more.
THREADS: Final = 8


def open_server(app: Dash, port: int) -> Any:
    """A server bound to the loopback address; ``run()`` serves, ``close()`` ends it.

    ``effective_port`` tells the port, which the system chooses where ``port`` is 0.

    Raises
    ------
    SourceUnavailable
        If the port is taken.
    """
    try:
        return create_server(app.server, host=LOOPBACK, port=port, threads=THREADS, ident=None,
                             max_request_body_size=BODY_MAX)
    except OSError as error:
        if error.errno not in (errno.EADDRINUSE, errno.EACCES):
            raise
        raise SourceUnavailable(f"port {port}", error.strerror or "taken",
                                "choose another with --port, or 0 for any free one") from error
