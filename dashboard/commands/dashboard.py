"""Open the pages of a logbook: what is being recorded now, and every drive to replay.

Only this machine can reach the pages. Ctrl-C ends them.

example:
  packhand dashboard logbook --open
"""

from __future__ import annotations

import argparse
from pathlib import Path

PORT = 8050


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("logbook", type=Path, help="the logbook's folder")
    parser.add_argument("--port", type=int, default=PORT, metavar="N",
                        help=f"where to serve; 0 takes any free port (default {PORT})")
    parser.add_argument("--open", action="store_true", help="open the pages in the browser")


def run(arguments: argparse.Namespace) -> int:
    from collector.logbook import Logbook

    from ..app import create_app
    from ..server import open_server
    from ..store import Store

    server = open_server(create_app(Store(Logbook.open(arguments.logbook))), arguments.port)
    address = f"http://127.0.0.1:{server.effective_port}"
    print(f"The pages of {arguments.logbook} are at {address}", flush=True)
    print("Ctrl-C ends them.", flush=True)
    if arguments.open:
        import webbrowser

        webbrowser.open(address)
    try:
        server.run()
    except KeyboardInterrupt:
        pass
    finally:
        server.close()
    return 0
