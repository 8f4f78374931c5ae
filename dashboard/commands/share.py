"""A copy of logs for a forum or a helper: without place, names, serials, notes' words, pictures.

Shows exactly what would leave; writes a file only with -o, and sends nothing. FILE ends in .zip
(all logs, hand readings, the text), or in .parquet or .csv for a single log. In a .csv no cell can
be run as a formula. 'packhand drive' reads the copy like any log.

SOURCE is a log, or a logbook together with --logs (the newest log by default).

examples:
  packhand share logbook --logs 2026-04-16T07-39-00Z
  packhand share logbook/logs/2026-04-16T07-39-00Z.parquet --shift-clock -o cut-out.zip
  packhand share logbook --place shape -o track.zip
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from collector.commands.numbers import above_zero

if TYPE_CHECKING:
    from collector.logbook import Logbook

    from ..sharing.copy import Shared

FILES = (".zip", ".parquet", ".csv")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("source", type=Path, metavar="SOURCE", help="a logbook, or a log in one")
    parser.add_argument("--logs", nargs="+", default=[], metavar="LOG", help="which logs")
    parser.add_argument("-o", "--output", type=Path, metavar="FILE",
                        help="write it; without, only show what would leave")
    parser.add_argument("--place", choices=("cut", "area", "shape", "trim"), default="cut",
                        help="cut: no positions (default); area: one in the text, to a kilometre; "
                             "shape: the track moved elsewhere and turned; trim: true ones, but "
                             "none near where you start, stop or stay")
    parser.add_argument("--radius", type=above_zero, default=500.0, metavar="M",
                        help="with --place trim: at least so many metres (default 500)")
    parser.add_argument("--shift-clock", action="store_true",
                        help="the first log begins on 1 January 2000")
    parser.add_argument("--monitor-words", action="store_true",
                        help="the monitor's words for state and fault leave too; look at them "
                             "first, a serial may be among them")
    parser.add_argument("--form", choices=("parquet", "csv"), default="parquet",
                        help="of the logs in a .zip")
    parser.set_defaults(misuse=parser.error)


def run(arguments: argparse.Namespace) -> int:
    from ..sharing.cleaning import Choice
    from ..sharing.copy import make_copy

    suffix = arguments.output.suffix.lower() if arguments.output else ".zip"
    if suffix not in FILES:
        arguments.misuse(f"FILE ends in {', '.join(FILES)}")
    book, stems = _chosen(arguments)
    if suffix != ".zip" and len(stems) > 1:
        arguments.misuse(f"several logs go into a .zip, not into a {suffix}")
    choice = Choice(arguments.place, arguments.radius, arguments.shift_clock,
                    arguments.monitor_words)
    form = f".{arguments.form}" if suffix == ".zip" else suffix
    shared = make_copy(book, stems, choice, form)
    _tell(shared)
    if arguments.output:
        _write(arguments.output, shared.as_zip() if suffix == ".zip"
               else shared.files[f"log-1{form}"])
    else:
        print("Nothing was written: -o FILE does.")
    return 0


def _chosen(arguments: argparse.Namespace) -> tuple[Logbook, list[str]]:
    """The logbook, and the names of the logs in it."""
    from collector.errors import LogbookError
    from collector.logbook import Logbook

    source: Path = arguments.source
    if source.is_file():
        book = Logbook(source.absolute().parent.parent)
        if source.absolute().parent != book.logs_folder:
            raise LogbookError(str(source), "lies in no logbook's folder logs/",
                               "'packhand import' brings a table into a logbook")
        return book, [source.name, *arguments.logs]
    book = Logbook.open(source)
    closed = [entry.stem for entry in book.logs() if not entry.is_live]
    if not closed:
        raise LogbookError(str(source), "no log to share", "record one with 'packhand record'")
    return book, arguments.logs or closed[-1:]


def _tell(shared: Shared) -> None:
    print("What leaves:")
    for line in shared.leaves:
        print(f"  {line}")
    print("What stays behind:")
    for line in shared.stays:
        print(f"  {line}")


def _write(path: Path, data: bytes) -> None:
    from collector.errors import LogbookError

    try:
        path.write_bytes(data)
    except OSError as error:
        raise LogbookError(str(path), f"cannot be written ({error.strerror})",
                           "choose another place with -o") from error
    print(f"wrote {path}, {len(data)} bytes. Nothing was sent.")
