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
import sys
from pathlib import Path


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("logbook", metavar="LOGBOOK", type=Path, help="the logbook's folder")
    parser.add_argument("--pack", metavar="NAME", help="which pack; the one used last by default")
    parser.add_argument("--json", action="store_true", help="print one JSON document")


def run(arguments: argparse.Namespace) -> int:
    from collector.logbook import Logbook

    from ..load_logbook import of_pack, read_digests
    from ..season.summary import PARTS_NEEDED, find_season
    from ..season.text import season_text
    from .progress import show_progress

    book = Logbook.open(arguments.logbook)
    config = book.config()
    digested = read_digests(arguments.logbook, PARTS_NEEDED, show_progress)
    for problem in digested.problems:
        print(f"packhand season: left out: {problem}", file=sys.stderr)
    digests = of_pack(digested, arguments.pack, str(arguments.logbook))
    season = find_season(digests, rated_ah=rated_ah(config, digests[-1].head.pack))
    if arguments.json:
        print(json.dumps(season.as_json(), ensure_ascii=False, indent=2))
    else:
        print(season_text(season))
    return 0


def rated_ah(config: dict[str, object], pack: str) -> float | None:
    """What ``logbook.toml`` says the pack is rated at; ``None`` if it says nothing."""
    packs = config.get("pack")
    for table in packs if isinstance(packs, list) else []:
        if isinstance(table, dict) and table.get("name") == pack:
            rating = table.get("rated_ah")
            return float(rating) if isinstance(rating, int | float) and rating > 0 else None
    return None
