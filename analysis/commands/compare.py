"""Did a change help? Consumption before and after it, the same ways driven, with an interval.

Give the day of the change with --split: that day and later is after it, up to the next change that
is noted ('packhand note part-changed'), and what was changed before is not mixed in either. Or give
two spans of days; a span is FIRST..LAST, both included, and either may be left out. Days of a way
noted by name ('packhand note route') are paired first. Alternating old and new (old, new, new, old)
on the same way in like weather is the surest comparison.

example:
  packhand compare ~/packhand --split 2026-06-12
  packhand compare ~/packhand --before 2026-05-01..2026-06-11 --after 2026-06-12..
"""

from __future__ import annotations

import argparse
import json
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from collector.commands.numbers import day

from .ask import answer_of, book_of

if TYPE_CHECKING:
    from collector.errors import PackhandError

    from ..asking.changes import AcrossChange

Span = tuple[date, date]


def span(text: str) -> Span:
    """Days such as 2026-05-01..2026-06-11, a single day, or open to one side."""
    first, dots, last = text.partition("..")
    if not dots:
        return day(text), day(text)
    return (day(first) if first else date.min), (day(last) if last else date.max)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("logbook", metavar="LOGBOOK", type=Path, help="the logbook's folder")
    parser.add_argument("--split", metavar="DAY", type=day, help="the day of the change")
    parser.add_argument("--before", metavar="DAYS", type=span, help="days before the change")
    parser.add_argument("--after", metavar="DAYS", type=span, help="days after it")
    parser.add_argument("--pack", metavar="NAME", help="which pack; the one used last by default")
    parser.add_argument("--json", action="store_true", help="print one JSON document")


def run(arguments: argparse.Namespace) -> int:
    from ..ahead.compare_text import bands_json, compare_text

    found = _asked(arguments)
    compared = found.compared
    if compared is None:
        raise _nothing(f"no day lies before {arguments.split}")
    if arguments.json:
        document = ({"schema": "packhand.compare/1"} | compared.change.as_json()
                    | bands_json(compared.before, compared.after) | found.limits_json)
        print(json.dumps(document, ensure_ascii=False, indent=2))
    else:
        print(compare_text(compared.change, compared.before, compared.after, found.limits_words))
    return 0


def _asked(arguments: argparse.Namespace) -> AcrossChange:
    """Across the day of a change, or between the spans that were typed, whatever was changed."""
    from ..asking.changes import AcrossChange, ask_across
    from ..asking.questions import ask_compare

    if arguments.split is not None:
        return answer_of("compare", lambda book: ask_across(book, arguments.split),
                         book_of(arguments))
    spans = _spans(arguments)
    return AcrossChange(answer_of("compare", lambda book: ask_compare(book, *spans),
                                  book_of(arguments)), ())


def _spans(arguments: argparse.Namespace) -> tuple[Span, Span]:
    from collector.errors import PackhandError

    if arguments.before is None or arguments.after is None:
        raise _nothing("neither --split nor both --before and --after")
    if arguments.before[1] >= arguments.after[0] and arguments.after[1] >= arguments.before[0]:
        raise PackhandError("--before and --after", "some days are in both",
                            "give spans that do not overlap")
    return arguments.before, arguments.after


def _nothing(found: str) -> PackhandError:
    from collector.errors import PackhandError

    return PackhandError("nothing to compare", found, "for example: --split 2026-06-12")
