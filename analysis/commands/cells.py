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
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ..digest import LogDigest


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("source", metavar="SOURCE", type=Path, help="a logbook, or one log")
    parser.add_argument("--capacity", metavar="AH", type=float,
                        help="what the pack holds; by default as the logbook says")
    parser.add_argument("--bleed", metavar="MA", type=float,
                        help="what the board bleeds from a full cell, in milliamps")
    parser.add_argument("--json", action="store_true", help="print one JSON document")


def run(arguments: argparse.Namespace) -> int:
    from ..cells.summary import find_cells
    from ..cells.text import cells_text
    from ..load import typed_pack

    pack = typed_pack(arguments.source)
    capacity_ah = arguments.capacity or pack.get("rated_ah")
    bleed_a = arguments.bleed / 1000 if arguments.bleed else pack.get("limits", {}).get("bleed_a")
    digests, problems = _digests(arguments.source)
    for line in problems:
        print(f"packhand cells: {line}", file=sys.stderr)
    report = find_cells(digests, capacity_ah=capacity_ah, bleed_a=bleed_a)
    if arguments.json:
        print(json.dumps(report.as_json(arguments.source.name), ensure_ascii=False, indent=2))
    else:
        print(cells_text(report))
    return 0


def _digests(source: Path) -> tuple[Sequence[LogDigest], Sequence[str]]:
    from ..cells.summary import CELL_PARTS
    from ..digest import PARTS, digest_log
    from ..load import load_telemetry
    from ..load_logbook import read_digests

    if source.is_dir():
        read = read_digests(source, CELL_PARTS)
        return read.digests, read.problems
    columns = dict.fromkeys(["voltage_v", *(c for p in CELL_PARTS for c in PARTS[p].columns)])
    return [digest_log(load_telemetry(source, columns), source.name, parts=CELL_PARTS)], ()
