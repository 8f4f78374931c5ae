"""Everything about one log: sign, amp-hours, energy, peaks, resistance, what is left.

LOG is a packhand log (also one that is being recorded) or any table that 'packhand import' reads.

example:
  packhand drive logs/2026-04-02T08-15-00Z.parquet
  packhand drive ride.csv --json
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("log", metavar="LOG", type=Path, help="a log, or a table from elsewhere")
    parser.add_argument("--capacity", metavar="AH", type=float,
                        help="what the pack holds, for hours and distance left")
    parser.add_argument("--json", action="store_true", help="print one JSON document")


def run(arguments: argparse.Namespace) -> int:
    from ..drive import COLUMNS, summarise
    from ..drive_text import drive_text
    from ..load import load_telemetry

    summary = summarise(load_telemetry(arguments.log, COLUMNS), capacity_ah=arguments.capacity)
    if arguments.json:
        print(json.dumps(summary.as_json(arguments.log.name), ensure_ascii=False, indent=2))
    else:
        print(drive_text(summary))
    return 0
