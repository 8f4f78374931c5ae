"""How far and how long the pack lasts, from your own drives, and what claims are worth.

Each log is looked at once and its figures are kept in LOGBOOK/.cache. Claims stand in
logbook.toml, in notes, or on the command line. Loads, wind and air temperature that were noted
around a drive are taken into account.

example:
  packhand range ~/packhand
  packhand range ~/packhand --claim "40 mi" --reserve 20
  packhand range ~/packhand --percent 63 --extra-load 200 --temperature 2
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

    from collector.notes import Note

    from ..ahead.claims import Claim
    from ..ahead.consumption import Conditions
    from ..digest import LogDigest

#: A note belongs to a drive if it was taken in it, or so long before it. [s]
BEFORE_DRIVE_S = 2 * 3600.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("logbook", metavar="LOGBOOK", type=Path, help="the logbook's folder")
    parser.add_argument("--claim", metavar="CLAIM", action="append", default=[],
                        help='what was promised: "40 mi", "105 Ah", "200 A", "5 h", "85 Wh/mi"')
    parser.add_argument("--reserve", metavar="PERCENT", type=float, default=10.0,
                        help="what is to stay in the pack (default: 10)")
    parser.add_argument("--percent", metavar="PERCENT", type=float,
                        help="what the display shows now (default: counted from the logs)")
    parser.add_argument("--temperature", metavar="C", type=float, default=math.nan,
                        help="what if the air has this many degrees Celsius")
    parser.add_argument("--extra-load", metavar="KG", type=float, default=math.nan,
                        help="what if this much more than usual is on board")
    parser.add_argument("--wind", metavar="M/S", type=float, default=math.nan,
                        help="what if it blows like this")
    parser.add_argument("--pack", metavar="NAME", help="which pack; the one used last by default")
    parser.add_argument("--json", action="store_true", help="print one JSON document")


def run(arguments: argparse.Namespace) -> int:
    from collector.logbook import Logbook
    from collector.notes import read_notes

    from ..ahead.range_answer import Wish, find_range
    from ..ahead.range_text import range_text
    from ..ahead.usable_energy import PARTS_NEEDED
    from ..load_logbook import of_pack, read_digests

    book = Logbook.open(arguments.logbook)
    config = book.config()
    notes = read_notes(book.notes_path).rows
    claims = _claims(config, notes, arguments)
    digested = read_digests(arguments.logbook, PARTS_NEEDED)
    for problem in digested.problems:
        print(f"packhand range: left out: {problem}", file=sys.stderr)
    digests = of_pack(digested, arguments.pack, str(arguments.logbook))
    head = digests[-1].head
    wish = Wish(arguments.reserve, arguments.percent, _asked(arguments),
                _figure(config, "vehicle", head.vehicle, "mass_kg"),
                _figure(config, "pack", head.pack, "rated_ah"))
    answer = find_range(digests, claims, wish, conditions_noted(digests, notes))
    in_miles = config.get("units", {}).get("distance") == "mi"
    print(json.dumps(answer.as_json(), ensure_ascii=False, indent=2) if arguments.json
          else range_text(answer, in_miles=in_miles))
    return 0


def _claims(config: dict[str, Any], notes: Sequence[Note],
            arguments: argparse.Namespace) -> list[Claim]:
    from collector.errors import LogbookError, PackhandError
    from collector.logbook import CONFIG_NAME

    from ..ahead.claims import claims_of, parse_claim

    try:
        claims = [parse_claim(text) for text in arguments.claim]
    except ValueError as error:
        raise PackhandError("--claim", str(error), 'for example: --claim "40 mi"') from error
    try:
        claims += claims_of(config)
    except ValueError as error:
        raise LogbookError(str(arguments.logbook / CONFIG_NAME), str(error),
                           "mend that table") from error
    for note in notes:
        if note.kind == "claim":
            try:
                claims.append(parse_claim(note.text or note.typed))
            except ValueError as error:
                print(f"packhand range: claim in notes left out: {error}", file=sys.stderr)
    return claims


def _asked(arguments: argparse.Namespace) -> Conditions | None:
    from ..ahead.consumption import Conditions

    asked = Conditions(arguments.temperature, arguments.extra_load, arguments.wind)
    return asked if any(map(math.isfinite, (asked.temp_c, asked.extra_load_kg,
                                            asked.wind_m_s))) else None


def _figure(config: dict[str, Any], table: str, name: str, key: str) -> float | None:
    """A positive figure of the vehicle or pack of that name; ``None`` if nobody typed it."""
    for each in config.get(table, []):
        if each.get("name") == name and isinstance(each.get(key), int | float) and each[key] > 0:
            return float(each[key])
    return None


def conditions_noted(digests: Sequence[LogDigest],
                     notes: Sequence[Note]) -> dict[str, Conditions]:
    """What was noted by hand of each log: air, load against the usual, wind."""
    from statistics import median

    from ..ahead.consumption import Conditions

    def last(digest: LogDigest, kind: str) -> float:
        told = [n.value for n in notes if n.kind == kind and math.isfinite(n.value)
                and digest.start_s - BEFORE_DRIVE_S <= n.time_ms / 1000 <= digest.end_s]
        return told[-1] if told else math.nan

    loads = {d.log: last(d, "load") for d in digests}
    known = [kg for kg in loads.values() if math.isfinite(kg)]
    usual_kg = median(known) if known else math.nan
    return {d.log: Conditions(last(d, "air-temperature"), loads[d.log] - usual_kg,
                              last(d, "wind")) for d in digests}
