"""Rehearse without a vehicle: an invented season, and an invented monitor recorded live.

Builds the flatbed's season of logs once, plays its monitor (on a pseudo-terminal; on Windows
behind a socket), records that through the serial source as your own monitor would be, and opens
the pages. Everything shown is invented data. Ctrl-C stops all of it and leaves a verified log.

examples:
  packhand demo
  packhand demo --days 5 --seconds 60 --no-browser
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import Final

#: Stop by itself after so many seconds, for machines without a screen.
SECONDS_VARIABLE: Final = "PACKHAND_SECONDS"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    seconds = os.environ.get(SECONDS_VARIABLE)
    parser.add_argument("--logbook", type=Path, default=Path("demo"), metavar="DIR",
                        help="where the invented logbook lies (default: ./demo)")
    parser.add_argument("--days", type=int, metavar="N",
                        help="build only the season's first N days")
    parser.add_argument("--seconds", type=float, metavar="N", default=seconds,
                        help=f"stop by itself after N seconds (default: {SECONDS_VARIABLE})")
    parser.add_argument("--port", type=int, default=0, metavar="N",
                        help="port of the pages on this machine (default: any free one)")
    parser.add_argument("--no-browser", action="store_true", help="only say where the pages are")
    parser.add_argument("--seed", type=int, default=1, help="another seed, another season")


def run(arguments: argparse.Namespace) -> int:
    from collector.stopping import stopping

    from ..invented_book import build_once
    from ..rehearsal import Rehearsal

    build_once(arguments.logbook, arguments.seed, arguments.days, _progress)
    with stopping(arguments.seconds) as stop:
        with Rehearsal(arguments.logbook, arguments.seed, arguments.port) as rehearsal:
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


def _progress(done: int, total: int) -> None:
    if sys.stderr.isatty():
        print(f"\rbuilding the invented season: day {done} of {total} ", end="",
              file=sys.stderr, flush=True)
        if done == total:
            print(file=sys.stderr)
    elif done in (1, total):
        print(f"building the invented season: day {done} of {total}", flush=True)
