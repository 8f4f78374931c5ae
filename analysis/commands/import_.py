"""Bring tables from elsewhere into a logbook as logs, or a track beside a log.

Takes CSV, XLSX, Parquet and GPX, each also gzipped, and folders of them. Columns, units, decimal
mark and the order of dates are found from the file; what was understood is printed, what was left
out too. A file with several runs one below the other becomes one log for each. What you say about
a table is remembered for the next one with the same headings. The file itself is never changed.

With --join a track (GPX, or any table with places) is laid beside a log. Their clocks are compared
by when the vehicle stood and when it drew amps.

example:
  packhand import drive.csv --zone Europe/Lisbon
  packhand import old.csv --map current_a='Strom 1:mA' --dates day-first --dry-run
  packhand import track.gpx --join logbook/logs/2026-04-02T08-15-00Z.parquet
  packhand import --undo
"""

from __future__ import annotations

import argparse
import json
import sys
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from collector.commands.numbers import finite
from collector.errors import PackhandError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of ``packhand import``."""
    parser.add_argument("files", nargs="*", type=Path, metavar="FILE",
                        help="a table, a track, or a folder of them")
    parser.add_argument("--map", action="append", default=[], type=_pair, metavar="NAME=HEADING",
                        help="which column holds a quantity, with ':unit' if need be; NAME is "
                        "time, current_a, voltage_v, soc_pct, ...")
    parser.add_argument("--where", action="append", default=[], type=_pair,
                        metavar="HEADING=VALUE", help="only rows with this value")
    parser.add_argument("--dates", choices=("day-first", "month-first", "year-first"),
                        help="how 03/04/2026 reads, where the file cannot tell")
    parser.add_argument("--zone", type=_zone, metavar="AREA/CITY",
                        help="time zone of times that name none (default: UTC)")
    parser.add_argument("--start", type=_moment, metavar="TIME",
                        help="when times that count from zero begin, such as 2026-04-02T08:15Z "
                        "(default: when the file was last changed)")
    parser.add_argument("--decimal", choices=(".", ","), help="the decimal mark")
    parser.add_argument("--minus", choices=("out", "in"),
                        help="what minus amps mean, where you know: out of the pack, or into it")
    parser.add_argument("--logbook", type=Path, default=Path("logbook"), metavar="DIR",
                        help="where the log goes (default: ./logbook, made if need be)")
    parser.add_argument("--pack", metavar="NAME", help="the pack's name in the logbook")
    parser.add_argument("--vehicle", metavar="NAME", help="the vehicle's name in the logbook")
    parser.add_argument("--again", action="store_true",
                        help="bring a file in although the logbook holds it")
    parser.add_argument("--join", type=Path, metavar="LOG",
                        help="lay the track FILE beside this log instead of making a log of it")
    parser.add_argument("--offset", type=finite, metavar="SECONDS",
                        help="with --join: what to add to the track's clock, instead of looking "
                        "for it; 0 trusts both clocks")
    parser.add_argument("--undo", action="store_true",
                        help="take back what the last import brought in")
    parser.add_argument("--remembered", action="store_true",
                        help="show what is remembered about tables, by fingerprint")
    parser.add_argument("--forget", metavar="FINGERPRINT",
                        help="forget what is remembered under a fingerprint, or 'all'")
    parser.add_argument("--dry-run", action="store_true", help="show how it reads, write nothing")
    parser.add_argument("--json", action="store_true", help="print JSON instead of words")


def _pair(text: str) -> tuple[str, str]:
    name, equals, value = text.partition("=")
    if not (name and equals and value):
        raise argparse.ArgumentTypeError(f"{text!r} is not NAME=VALUE")
    return name, value


def _zone(text: str) -> str:
    try:
        return ZoneInfo(text).key
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise argparse.ArgumentTypeError(
            f"{text!r} is no time zone; write one such as Europe/Lisbon or UTC") from None


def _moment(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a time such as "
                                         "2026-04-02T08:15Z") from None
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def run(arguments: argparse.Namespace) -> int:
    """Import every file; 1 if one of them could not be, the others are brought in all the same."""
    from . import import_join, import_undo

    if arguments.undo:
        return import_undo.undo(arguments.logbook, as_json=arguments.json)
    if arguments.remembered or arguments.forget:
        return import_undo.show_remembered(arguments.logbook, arguments.forget,
                                           as_json=arguments.json)
    if not arguments.files or (arguments.join and len(arguments.files) > 1):
        print("packhand import: name a FILE" + (" (--join takes one)" if arguments.join else ""),
              file=sys.stderr)
        return 2
    if arguments.join:
        return import_join.join(arguments)
    return _import(arguments)


def _import(arguments: argparse.Namespace) -> int:
    from .import_files import Importer, InLogbook, files_in

    importer = Importer(arguments)
    failed = False
    for path in files_in(arguments.files):
        try:
            importer.bring_in(path)
        except PackhandError as error:
            print(f"packhand import: {error}", file=sys.stderr)
            # A folder may be imported again for what is new in it.
            failed |= not isinstance(error, InLogbook) or path in arguments.files
        except FileNotFoundError:
            print(f"packhand import: {path}: no such file — look at its name and folder",
                  file=sys.stderr)
            failed = True
    if arguments.json:
        print(json.dumps({"schema": "packhand.import/1", "logs": importer.documents}, indent=2,
                         ensure_ascii=False))
    return int(failed)
