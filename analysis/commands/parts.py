"""Breaker, fuse, coil, cable and more at the pack's real volts and amps, arithmetic shown.

PARTS.toml lists the pack and its parts as their nameplates say:

  [pack]
  cells = 16
  charge_end_v = 58.4
  resistance_mohm = 16
  [[breaker]]
  name = "main breaker"
  rating_a = 50
  marked_v_dc = 48

and likewise fuse, cable, coil, precharge, charger, converter, gauge, cutoff, frame_leakage;
[lead_acid] and [vehicle] compare the old bank. Leave out what you do not know: the answer says how
to find it. A wrong key is answered with those that are known. With a logbook, that of --logbook or
the one that the list lies in, the highest volts and the worst amps are those that were measured,
where they are harder than what was typed.

example:
  packhand parts sample_logs/parts.toml
  packhand parts parts.toml --logbook sample_logs/flatbed --json
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from .ask import answer_of, show_progress


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("parts", metavar="PARTS.toml", type=Path, help="the list of parts")
    parser.add_argument("--logbook", metavar="DIR", type=Path,
                        help="a logbook that saw the pack at work")
    parser.add_argument("--json", action="store_true", help="print one JSON document")


def run(arguments: argparse.Namespace) -> int:
    from collector.table_file import read_tables

    from ..asking.book import Book, book_of_parts
    from ..asking.listed_parts import listed_tables
    from ..asking.questions import ask_parts, ask_seen_pack
    from ..parts.listing import read_parts_list

    tables, own = read_tables(arguments.parts), book_of_parts(arguments.parts)
    listed = read_parts_list(listed_tables(own) if own else tables, str(arguments.parts))
    root = arguments.logbook or (own.root if own and own.has_logs else None)
    seen = answer_of("parts", ask_seen_pack, Book.open(
        root, listed.pack.name or None, show_progress)) if root else None
    judged = ask_parts(listed, seen)
    if arguments.json:
        print(json.dumps(judged.as_json(), ensure_ascii=False, indent=2))
    else:
        print("\n".join(judged.lines()))
    return 0
