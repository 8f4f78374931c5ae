"""Who leads and who lags among the cells, and why.

SOURCE is a logbook, a packhand log, or any table that 'packhand import' reads. One log rarely
shows a pack near full and near empty; a logbook tells a charge offset, a small cell, a resistive
cell or busbar, a loose sense lead and a leak apart.

example:
  packhand cells logbook
  packhand cells logbook/logs/2026-04-09T17-00-00Z.parquet --json
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

from collector.commands.numbers import above_zero

from .ask import answer_of, show_progress

if TYPE_CHECKING:
    from ..cells.summary import CellReport
    from ..digest import LogDigest


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("source", metavar="SOURCE", type=Path, help="a logbook, or one log")
    parser.add_argument("--capacity", metavar="AH", type=above_zero,
                        help="what the pack holds; by default as the logbook says")
    parser.add_argument("--bleed", metavar="MA", type=above_zero,
                        help="what the board bleeds from a full cell, in milliamps")
    parser.add_argument("--pack", metavar="NAME",
                        help="which pack of a logbook; the one used last by default")
    parser.add_argument("--json", action="store_true", help="print one JSON document")


def run(arguments: argparse.Namespace) -> int:
    from ..cells.text import cells_text

    report = _report(arguments)
    if arguments.json:
        print(json.dumps(report.as_json(arguments.source.name), ensure_ascii=False, indent=2))
    else:
        print(cells_text(report))
    return 0


def _report(arguments: argparse.Namespace) -> CellReport:
    from ..asking.book import Book, book_beside
    from ..asking.questions import ask_cells
    from ..cells.summary import find_cells

    bleed_a = arguments.bleed / 1000 if arguments.bleed else None
    if arguments.source.is_dir():
        return answer_of("cells", lambda book: ask_cells(book, arguments.capacity, bleed_a),
                         Book.open(arguments.source, arguments.pack, show_progress))
    digest, book = _digest(arguments.source), book_beside(arguments.source)
    capacity_ah, pack = arguments.capacity, digest.head.pack
    if book:
        capacity_ah = capacity_ah or book.figure("pack", pack, "rated_ah")
        bleed_a = bleed_a or book.limit(pack, "bleed_a")
    return find_cells([digest], capacity_ah=capacity_ah, bleed_a=bleed_a)


def _digest(log: Path) -> LogDigest:
    from ..cells.summary import CELL_PARTS
    from ..digest import PARTS, digest_log
    from ..load import load_telemetry

    columns = dict.fromkeys(["voltage_v", *(c for p in CELL_PARTS for c in PARTS[p].columns)])
    return digest_log(load_telemetry(log, columns), log.name, parts=CELL_PARTS)
