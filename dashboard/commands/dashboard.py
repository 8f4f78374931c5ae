"""Open the pages of a logbook: what is being recorded now, every drive to replay, the diary.

Only this machine can reach the pages, unless --lan opens them to your home network. Then a phone
scans the code, its person types the PIN, and both are new at each start. That connection is not
encrypted: use it on a network of your own only. Ctrl-C ends the pages.

examples:
  packhand dashboard logbook --open
  packhand dashboard logbook --lan
  packhand dashboard logbook --lan --address 192.168.1.7
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from collector.commands.numbers import whole

PORT = 8050


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("logbook", type=Path, help="the logbook's folder")
    parser.add_argument("--port", type=whole, default=PORT, metavar="N",
                        help=f"where to serve; 0 takes any free port (default {PORT})")
    parser.add_argument("--open", action="store_true", help="open the pages in the browser")
    parser.add_argument("--lan", action="store_true",
                        help="for phones on the home network, behind a PIN; not encrypted")
    parser.add_argument("--address", metavar="A",
                        help="with --lan: which of this machine's addresses (default: the one "
                             "that its traffic takes)")
    parser.set_defaults(misuse=parser.error)


def run(arguments: argparse.Namespace) -> int:
    if arguments.address and not arguments.lan:
        arguments.misuse("--address goes with --lan")
    server, address, pin = _opened(arguments)
    print(f"The pages of {arguments.logbook} are at {address}", flush=True)
    if pin:
        _tell_phone(address, pin)
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


def _opened(arguments: argparse.Namespace) -> tuple[Any, str, str]:
    """The server, where it is, and the PIN if it is open to the network."""
    from collector.logbook import Logbook

    from ..app import create_app
    from ..door import Door, Key
    from ..home_network import home_address, own_address
    from ..server import LOOPBACK, open_server
    from ..store import Store

    store = Store(Logbook.open(arguments.logbook))
    if arguments.lan:
        host, key = home_address(arguments.address or own_address()), Key.new()
        app, pin = create_app(store, host, Door(key)), key.pin
    else:
        host, app, pin = LOOPBACK, create_app(store), ""
    server = open_server(app, arguments.port, host)
    store.begin_reading()
    return server, f"http://{host}:{server.effective_port}", pin


def _tell_phone(address: str, pin: str) -> None:
    from ..door import PLAIN_HTTP, UNENCRYPTED
    from ..home_network import code_of

    code = code_of(address)
    try:
        code.encode(sys.stdout.encoding or "ascii")
    except UnicodeEncodeError:
        code = ""
    print(f"{code}\nPIN {pin[:3]} {pin[3:]}, new at each start\n")
    print(f"{UNENCRYPTED}\n{PLAIN_HTTP}", flush=True)
