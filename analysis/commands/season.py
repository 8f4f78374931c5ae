"""A pack over its logbook: capacity, fade, resistance, efficiency, use, and what stepped when.

Each log is looked at once and its figures are kept in LOGBOOK/.cache; a second call is quick and a
new log costs only itself. The folder .cache may be deleted at any time.

example:
  packhand season ~/packhand
  packhand season ~/packhand --json
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
    from ..asking.questions import ask_season
    from ..season.text import season_text

    season = answer_of("season", ask_season, book_of(arguments))
    if arguments.json:
        print(json.dumps(season.as_json(), ensure_ascii=False, indent=2))
    else:
        print(season_text(season))
    return 0
