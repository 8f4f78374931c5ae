"""A paper about a pack: for yourself, a warranty desk, a helper, a buyer; a card; reminders.

Each tells how it was measured, by what, with intervals, and what was not measured; it says no
more than the logs carry. The same logbook gives the same file, byte for byte. Nothing is sent.

  health, warranty, help, sale   FILE ends in .html (one file, no scripts) or .pdf
  card                           to tape to the dash: what your display's figures mean
  reminders                      FILE ends in .ics, for any calendar

--evidence puts the paper, the raw logs and their SHA-256 into one zip. It holds everything, also
where you drove; 'packhand share' makes a copy without.

examples:
  packhand report logbook --kind health -o health.pdf
  packhand report logbook --kind help --log 2026-04-16T07-39-00Z -o help.html
  packhand report logbook --kind warranty --from 2026-04-01 --evidence claim.zip -o claim.pdf
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from collector.commands.numbers import count, percent

if TYPE_CHECKING:
    from analysis.asking.evidence import Evidence

    from ..quantities import Units

PAPERS = ("health", "warranty", "help", "sale", "card")
REMINDERS = "reminders"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("logbook", type=Path, metavar="LOGBOOK", help="the logbook's folder")
    parser.add_argument("--kind", choices=(*PAPERS, REMINDERS), default="health")
    parser.add_argument("-o", "--output", type=Path, metavar="FILE", required=True)
    parser.add_argument("--pack", metavar="NAME", help="which pack; the one used last by default")
    parser.add_argument("--from", dest="first", default="", metavar="DAY",
                        help="first day, such as 2026-04-01")
    parser.add_argument("--to", dest="last", default="", metavar="DAY", help="last day")
    parser.add_argument("--log", default="", metavar="LOG", help="the log that is drawn; the last "
                        "drive by default")
    parser.add_argument("--evidence", type=Path, metavar="ZIP",
                        help="the paper and the files it stands on in one zip")
    parser.add_argument("--full-weeks", type=count, default=1, metavar="N",
                        help="reminders: a full charge every N weeks (default 1)")
    parser.add_argument("--percent", type=percent, default=55.0, metavar="P",
                        help="reminders: laid up at P percent (default 55)")
    parser.set_defaults(misuse=parser.error)


def run(arguments: argparse.Namespace) -> int:
    from analysis.asking.evidence import ask_evidence, period_of
    from analysis.commands.ask import answer_of, book_of

    from ..quantities import Units

    allowed = (".ics",) if arguments.kind == REMINDERS else (".html", ".pdf")
    if arguments.output.suffix.lower() not in allowed:
        arguments.misuse(f"{arguments.kind}: FILE ends in {' or '.join(allowed)}")
    try:
        period = period_of(arguments.first, arguments.last, arguments.log)
    except ValueError:
        arguments.misuse("--from and --to are days such as 2026-04-01")
    book = book_of(arguments)
    evidence = answer_of("report", lambda asked: ask_evidence(asked, period), book)
    units = Units.of(book.config)
    _keep(arguments.output, lambda file: file.write(_made(arguments, evidence, units)))
    if arguments.evidence:
        _keep_evidence(arguments, evidence, units)
    return 0


def _made(arguments: argparse.Namespace, evidence: Evidence, units: Units) -> bytes:
    """The bytes of the file asked for."""
    from ..papers.kinds import FORMS, KINDS
    from ..papers.reminders import as_calendar, reminders

    if arguments.kind == REMINDERS:
        entries = reminders(evidence, arguments.full_weeks, arguments.percent)
        return as_calendar(entries, evidence).encode()
    paper = KINDS[arguments.kind].make(evidence, units)
    return FORMS[arguments.output.suffix.lower()](paper)


def _keep_evidence(arguments: argparse.Namespace, evidence: Evidence, units: Units) -> None:
    from ..papers.bundle import write_bundle
    from ..papers.kinds import KINDS

    kind = "health" if arguments.kind == REMINDERS else arguments.kind
    paper = KINDS[kind].make(evidence, units)
    _keep(arguments.evidence, lambda file: write_bundle(file, kind, paper, evidence))
    print("It holds the logs as they are, with places and names if they have any.")


def _keep(path: Path, write: Callable[[BinaryIO], object]) -> None:
    """Write a whole file or none, and say where it is."""
    from collector.errors import LogbookError

    part = path.with_name(f"{path.name}.part")
    try:
        with part.open("wb") as file:
            write(file)
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise LogbookError(str(path), f"cannot be written ({error.strerror})",
                           "choose another place for it") from error
    print(f"wrote {path}, {path.stat().st_size} bytes")
