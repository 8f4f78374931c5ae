"""What the pack loses while parked, and when it runs low.

LOGBOOK is a logbook's folder. The drain comes from what was counted in beyond what was counted
out between full charges, so a drain that the display shows as 0.0 A is found too. With --percent
the command tells the date by which a laid-up pack comes down to 20 %; without a logbook give the
drain with --milliamps and the pack with --capacity.

example:
  packhand parked logbook --percent 55
  packhand parked --percent 55 --milliamps 18 --capacity 102 --from 2026-10-27
"""

from __future__ import annotations

import argparse
import json
from datetime import UTC, datetime, time
from pathlib import Path
from typing import TYPE_CHECKING

from collector.commands.numbers import above_zero, day, percent

from .ask import answer_of, book_of

if TYPE_CHECKING:
    from ..estimate import Answer
    from ..season.parked import LayUp, Parked


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("logbook", metavar="LOGBOOK", type=Path, nargs="?", help="a logbook")
    parser.add_argument("--percent", metavar="P", type=percent, help="percent at the lay-up")
    parser.add_argument("--until", metavar="P", type=percent, default=20.0,
                        help="percent to reckon to (20)")
    parser.add_argument("--milliamps", metavar="MA", type=above_zero,
                        help="the drain, if a clamp reading tells it")
    parser.add_argument("--capacity", metavar="AH", type=above_zero, help="what the pack holds")
    parser.add_argument("--from", metavar="DATE", type=day, dest="start",
                        help="day of the lay-up; by default that of the last log")
    parser.add_argument("--pack", metavar="NAME", help="which pack; the one used last by default")
    parser.add_argument("--json", action="store_true", help="print one JSON document")


def run(arguments: argparse.Namespace) -> int:
    from collector.errors import PackhandError

    if arguments.logbook is None and None in (arguments.milliamps, arguments.percent):
        raise PackhandError("nothing to reckon with", "neither a logbook nor a drain was given",
                            "give a LOGBOOK, or --percent and --milliamps")
    parked, capacity_ah, last_s = _read(arguments)
    laid_up = _lay_up(arguments, parked, capacity_ah, last_s)
    if arguments.json:
        document = {"schema": "packhand.parked/1", **(parked.as_json() if parked else {}),
                    "lay_up": laid_up.as_json() if laid_up else None}
        print(json.dumps(document, ensure_ascii=False, indent=2))
    else:
        print("\n".join([*(_text(parked) if parked else []),
                         *([laid_up.words] if laid_up else [])]))
    return 0


def _read(arguments: argparse.Namespace) -> tuple[Parked | None, float, float]:
    """What the logbook tells, the capacity, and the end of the last log [s, Unix time]."""
    from ..season.parked import USUAL_AH

    if arguments.logbook is None:
        return None, arguments.capacity or USUAL_AH, datetime.now(UTC).timestamp()
    from ..asking.questions import ask_parked

    found = answer_of("parked", lambda book: ask_parked(book, arguments.capacity),
                      book_of(arguments))
    return found.parked, found.capacity_ah, found.last_s


def _lay_up(arguments: argparse.Namespace, parked: Parked | None, capacity_ah: float,
            last_s: float) -> LayUp | None:
    from ..estimate import Estimate, NoEstimate
    from ..local_days import local
    from ..season.parked import lay_up

    if arguments.percent is None:
        return None
    start = (datetime.combine(arguments.start, time(), UTC) if arguments.start
             else local(last_s))
    if arguments.milliamps is not None:
        drain: Answer = Estimate.around(arguments.milliamps / 1000, 0.1 * arguments.milliamps
                                        / 1000, "A")
    else:
        drain = parked.usual_a if parked else NoEstimate("no drain is known", "read it")
    known = drain if isinstance(drain, Estimate) else Estimate(0.0, 0.0, 0.0, "A")
    return lay_up(arguments.percent, known, capacity_ah, start, arguments.until)


def _text(parked: Parked) -> list[str]:
    from ..estimate import NoEstimate
    from ..phrases import day_text
    from ..season.parked import CAUTION

    usual = parked.usual_a
    if isinstance(usual, NoEstimate):
        lines = [f"Parked drain: cannot tell yet: {usual.reason}; to find out, {usual.next}."]
    elif usual.low <= 0:
        lines = [f"Parked, the pack usually loses less than {1000 * usual.high:.0f} mA: too little "
                 "to be told from the counting. One clamp reading with the key off would tell."]
    else:
        lines = [f"Parked, the pack usually loses {1000 * usual.value:.0f} mA "
                 f"({1000 * usual.low:.0f} to {1000 * usual.high:.0f})."]
    lines += [f"{day_text(e.start_s)} to {day_text(e.end_s)}: {e.words} ({e.verdict}; {e.next})."
              for e in parked.episodes]
    return [*lines, *([CAUTION] if parked.episodes else []), ""]
