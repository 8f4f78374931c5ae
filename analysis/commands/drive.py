"""Everything about one log: sign, amp-hours, energy, peaks, resistance, what is left.

LOG is a packhand log (also one that is being recorded) or any table that 'packhand import' reads.

example:
  packhand drive logs/2026-04-02T08-15-00Z.parquet
  packhand drive ride.csv --json
"""

from __future__ import annotations

import argparse
import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

from collector.commands.numbers import above_zero, finite


def add_arguments(parser: argparse.ArgumentParser) -> None:
    from .told_distance import read_length_m

    parser.add_argument("log", metavar="LOG", type=Path, help="a log, or a table from elsewhere")
    parser.add_argument("--capacity", metavar="AH", type=above_zero,
                        help="what the pack holds, for hours and distance left; by default as the "
                        "logbook says that the log lies in")
    parser.add_argument("--distance", metavar="LENGTH", type=read_length_m,
                        help="the known length of the way, such as 4.6km; without it, speed, "
                        "place or odometer notes tell")
    parser.add_argument("--breaker", metavar="A", type=above_zero,
                        help="rating of a thermal breaker, to explain its trip")
    parser.add_argument("--enclosure", metavar="C", type=finite, default=math.nan,
                        help="temperature around the breaker")
    parser.add_argument("--json", action="store_true", help="print one JSON document")


def run(arguments: argparse.Namespace) -> int:
    from ..asking.book import limits_beside, rated_ah_beside
    from ..drive.summary import COLUMNS, summarise
    from ..drive.text import drive_text
    from ..incidents.search import INCIDENT_COLUMNS
    from ..load import load_telemetry
    from ..local_days import tell_days_in
    from .told_distance import told_distance_m

    telemetry = load_telemetry(arguments.log, {*COLUMNS, *INCIDENT_COLUMNS})
    doubts = telemetry.meta.get("doubts", [])
    pack = str(telemetry.meta.get("pack", ""))
    limits = limits_beside(arguments.log, pack)
    tell_days_in(str(telemetry.meta.get("time_zone", "UTC")))
    if arguments.breaker:  # the command line counts first
        limits = replace(limits, breaker_a=arguments.breaker)
    summary = summarise(telemetry, limits=limits, enclosure_c=arguments.enclosure,
                        capacity_ah=arguments.capacity or rated_ah_beside(arguments.log, pack),
                        told_m=told_distance_m(arguments.log, telemetry, arguments.distance))
    if arguments.json:
        document = summary.as_json(arguments.log.name) | ({"doubts": doubts} if doubts else {})
        print(json.dumps(document, ensure_ascii=False, indent=2))
    else:
        print("\n".join([*_grave(doubts), drive_text(summary), *_open(doubts)]))
    return 0


def _grave(doubts: list[dict[str, Any]]) -> list[str]:
    """What has to be settled before any figure is believed: above them all."""
    lines = [f"NOT SETTLED: {doubt['question']} Read here as {doubt['taken']}; bring the file in "
             f"with 'packhand import {doubt['option']} {' or '.join(doubt['choices'])}' to settle "
             "it." for doubt in doubts if doubt["must_ask"]]
    return [*lines, ""] if lines else []


def _open(doubts: list[dict[str, Any]]) -> list[str]:
    lines = [f"Open: {doubt['question']} Taken: {doubt['taken']}; "
             f"'packhand import {doubt['option']}' decides it."
             for doubt in doubts if not doubt["must_ask"]]
    return ["", *lines] if lines else []
