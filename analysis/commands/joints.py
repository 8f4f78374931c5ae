"""Which joint runs hot: millivolts read by hand, met with the amps of that minute, ranked.

Reads the notes of a logbook (joint-millivolts, surface-temperature, torque, part-changed) and the
worst amps of its logs. A joint is compared with those whose names end in the same word.

example:
  packhand note joint-millivolts 119mV --joint "main minus lug"
  packhand joints ~/packhand
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from .ask import answer_of, book_of


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("logbook", metavar="LOGBOOK", type=Path, help="the logbook's folder")
    parser.add_argument("--pack", metavar="NAME", help="which pack; the one used last by default")
    parser.add_argument("--json", action="store_true", help="print one JSON document")


def run(arguments: argparse.Namespace) -> int:
    from ..asking.joints import ask_joints
    from ..cells.joints_text import joints_json, joints_text
    from ..phrases import in_degrees

    report = answer_of("joints", ask_joints, book_of(arguments))
    print(json.dumps(joints_json(report), ensure_ascii=False, indent=2) if arguments.json
          else in_degrees(joints_text(report)))
    return 0
