"""What the display's figures mean, and whether they agree.

Type what the display shows, as many figures as you have, or name a log; with a log the figures of
its end are explained.

example:
  packhand explain --amps -23 --percent 91 --hours 3:10
  packhand explain --amps -23 --percent 91 --hours 3:10 --capacity 105
  packhand explain logs/2026-04-02T08-15-00Z.parquet
"""

from __future__ import annotations

import argparse
import json
import math
from pathlib import Path
from typing import TYPE_CHECKING, Final

from collector.commands.numbers import above_zero, finite, percent

if TYPE_CHECKING:
    from ..drive.explain import Explained

MINUTES: Final = 60.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("log", metavar="LOG", nargs="?", type=Path,
                        help="a log, or a table from elsewhere")
    parser.add_argument("--amps", type=finite, help="amps as displayed, with their sign")
    parser.add_argument("--percent", type=percent, help="percent as displayed")
    parser.add_argument("--hours", type=hours, help="hours left as displayed: 3:10 or 3.2")
    parser.add_argument("--volts", type=above_zero, help="pack volts as displayed")
    parser.add_argument("--capacity", metavar="AH", type=above_zero,
                        help="the capacity the display is set to")
    parser.add_argument("--json", action="store_true", help="print one JSON document")


def hours(text: str) -> float:
    """Hours from ``3:10``, ``3 h 10`` or ``3.2``."""
    whole, _, minutes = text.replace("h", ":").partition(":")
    try:
        value, more = float(whole.replace(",", ".")), float(minutes or 0)
    except ValueError:
        value = more = math.nan
    if not (0 <= value < math.inf and 0 <= more < MINUTES):
        raise argparse.ArgumentTypeError(f"{text!r} is not a time; write 3:10 or 3.2")
    return value + more / MINUTES


def run(arguments: argparse.Namespace) -> int:
    explained = _from_log(arguments) if arguments.log else _typed(arguments)
    if arguments.json:
        print(json.dumps(explained.as_json(), ensure_ascii=False, indent=2))
    else:
        print("\n".join(explained.lines()))
    return 0


def _typed(arguments: argparse.Namespace) -> Explained:
    from ..drive.explain import explain_figures
    from ..one_log.agreement import Reading

    figures = (arguments.amps, arguments.percent, arguments.hours, arguments.volts,
               arguments.capacity)
    if all(figure is None for figure in figures):
        from collector.errors import PackhandError

        raise PackhandError("nothing to explain", "neither a log nor a figure was given",
                            "for example: packhand explain --amps -23 --percent 91 --hours 3:10")
    return explain_figures(Reading(*figures))


def _from_log(arguments: argparse.Namespace) -> Explained:
    from ..drive.explain import explain_log
    from ..drive.summary import COLUMNS
    from ..load import load_telemetry

    telemetry = load_telemetry(arguments.log, (*COLUMNS, "time_left_h"))
    return explain_log(telemetry, capacity_ah=arguments.capacity)
