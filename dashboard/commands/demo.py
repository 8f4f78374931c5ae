"""Rehearse without a vehicle: invented logbooks, and an invented monitor recorded live.

Builds the flatbed's season once, plays its monitor (on a pseudo-terminal; on Windows behind a
socket), records that through the serial source as your own monitor would be, and opens the pages.
The veteran (the flatbed after three seasons), the carrier, which brakes into its pack, and the
punt, a boat, have logbooks of their own, with the pages but no live monitor. Everything shown is
invented data. Ctrl-C stops all of it and leaves a verified log.

examples:
  packhand demo
  packhand demo --vehicle punt
  packhand demo --days 5 --seconds 60 --no-browser
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import Final

from collector.commands.numbers import above_zero, count, whole

#: Stop by itself after so many seconds, for machines without a screen.
SECONDS_VARIABLE: Final = "PACKHAND_SECONDS"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    seconds = os.environ.get(SECONDS_VARIABLE)
    parser.add_argument("--vehicle", choices=("flatbed", "veteran", "carrier", "punt"),
                        default="flatbed", help="whose logbook (default: flatbed)")
    parser.add_argument("--logbook", type=Path, metavar="DIR",
                        help="where the invented logbook lies (default: ./demo; of another vehicle "
                        "./demo-punt and the like)")
    parser.add_argument("--days", type=count, metavar="N",
                        help="build only the first N days")
    parser.add_argument("--seconds", type=above_zero, metavar="N", default=seconds,
                        help=f"stop by itself after N seconds (default: {SECONDS_VARIABLE})")
    parser.add_argument("--port", type=whole, default=0, metavar="N",
                        help="port of the pages on this machine (default: any free one)")
    parser.add_argument("--no-browser", action="store_true", help="only say where the pages are")
    parser.add_argument("--seed", type=whole, default=1, help="another seed, other days")


def run(arguments: argparse.Namespace) -> int:
    from ..invented_book import FLATBED, beside, build_once

    root = arguments.logbook or beside(Path("demo"), arguments.vehicle)
    build_once(root, arguments.seed, arguments.days, _progress, arguments.vehicle)
    return (_play if arguments.vehicle == FLATBED else _show)(root, arguments)


def _play(root: Path, arguments: argparse.Namespace) -> int:
    """The pages, and the flatbed's monitor recorded live."""
    from collector.stopping import stopping

    from ..rehearsal import Rehearsal

    with stopping(arguments.seconds) as stop:
        with Rehearsal(root, arguments.seed, arguments.port) as rehearsal:
            print("Invented data: the flatbed of Quillet Isle, its monitor recorded live.")
            print(f"The pages are at {rehearsal.address}; Ctrl-C stops everything.", flush=True)
            if arguments.seconds is None and not arguments.no_browser:
                rehearsal.open_browser()
            while not stop.wait(0.5) and rehearsal.is_running():
                pass
            served = rehearsal.answers()
        words, is_whole = rehearsal.outcome()
    print(words)
    if not served:
        print("The pages did not answer.", file=sys.stderr)
    return 0 if is_whole and served else 1


def _show(root: Path, arguments: argparse.Namespace) -> int:
    """The pages alone."""
    import webbrowser

    from collector.stopping import stopping

    from ..app import serve_beside

    with stopping(arguments.seconds) as stop:
        address = serve_beside(root, arguments.port)
        print(f"Invented data: the {arguments.vehicle} of Quillet Isle; nothing is recorded live.")
        print(f"The pages are at {address}; Ctrl-C ends them.", flush=True)
        if arguments.seconds is None and not arguments.no_browser:
            webbrowser.open(address)
        stop.wait()
    return 0


def _progress(done: int, total: int) -> None:
    if sys.stderr.isatty():
        print(f"\rbuilding the invented logbook: day {done} of {total} ", end="",
              file=sys.stderr, flush=True)
        if done == total:
            print(file=sys.stderr)
    elif done in (1, total):
        print(f"building the invented logbook: day {done} of {total}", flush=True)
