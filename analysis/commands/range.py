"""How far and how long the pack lasts, from your own drives, and what claims are worth.

Each log is looked at once and its figures are kept in LOGBOOK/.cache. Claims stand in
logbook.toml, in notes, or on the command line. Loads, wind and air temperature that were noted
around a drive are taken into account.

example:
  packhand range ~/packhand
  packhand range ~/packhand --claim "40 mi" --reserve 20
  packhand range ~/packhand --percent 63 --extra-load 200 --temperature 2
  packhand range ~/packhand --climb 60 --speed 12
  packhand range ~/packhand --route "jetty and back"
"""

from __future__ import annotations

import argparse
import json
import math
from pathlib import Path
from typing import TYPE_CHECKING

from collector.commands.numbers import above_zero, finite, percent

from .ask import answer_of, book_of

if TYPE_CHECKING:
    from ..ahead.claims import Claim
    from ..ahead.consumption import Conditions


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("logbook", metavar="LOGBOOK", type=Path, help="the logbook's folder")
    parser.add_argument("--claim", metavar="CLAIM", action="append", default=[],
                        help='what was promised: "40 mi", "105 Ah", "200 A", "5 h", "85 Wh/mi"')
    parser.add_argument("--reserve", metavar="PERCENT", type=percent, default=10.0,
                        help="what is to stay in the pack (default: 10)")
    parser.add_argument("--percent", metavar="PERCENT", type=percent,
                        help="what the display shows now (default: counted from the logs)")
    parser.add_argument("--temperature", metavar="C", type=finite, default=math.nan,
                        help="what if the air has this many degrees Celsius")
    parser.add_argument("--extra-load", metavar="KG", type=finite, default=math.nan,
                        help="what if this much more than usual is on board")
    parser.add_argument("--wind", metavar="M/S", type=finite, default=math.nan,
                        help="what if it blows like this")
    parser.add_argument("--climb", metavar="M", type=above_zero,
                        help="what if the way rises this many metres more than the usual ones; "
                             "needs mass_kg of the vehicle in logbook.toml")
    parser.add_argument("--speed", metavar="KM/H", type=above_zero,
                        help="what if driven at this speed, by your own drives")
    parser.add_argument("--route", metavar="NAME", default="",
                        help="only by drives on this way, as noted with 'packhand note route'")
    parser.add_argument("--pack", metavar="NAME", help="which pack; the one used last by default")
    parser.add_argument("--json", action="store_true", help="print one JSON document")


def run(arguments: argparse.Namespace) -> int:
    from ..ahead.range_answer import Wish
    from ..ahead.range_text import range_text
    from ..asking.questions import ask_range

    book = book_of(arguments)
    wish = Wish(arguments.reserve, arguments.percent, _asked(arguments),
                climb_m=arguments.climb, speed_kmh=arguments.speed,
                route=" ".join(arguments.route.split()))
    claims = _claims(arguments.claim)
    answer = answer_of("range", lambda book: ask_range(book, wish, claims), book)
    _check_route(book.root, wish.route, answer.ways)
    in_miles = book.config.get("units", {}).get("distance") == "mi"
    print(json.dumps(answer.as_json(), ensure_ascii=False, indent=2) if arguments.json
          else range_text(answer, in_miles=in_miles))
    return 0


def _check_route(root: Path, route: str, ways: tuple[str, ...]) -> None:
    """Raises ``LogbookError`` if no drive was noted as on the route that is asked for."""
    from collector.errors import LogbookError

    if route and route.casefold() not in map(str.casefold, ways):
        known = ", ".join(map(repr, ways)) or "none so far"
        raise LogbookError(str(root), f"no drive noted as on the way {route!r}",
                           f"noted ways: {known}; name one with 'packhand note route NAME'")


def _claims(typed: list[str]) -> list[Claim]:
    from collector.errors import PackhandError

    from ..ahead.claims import parse_claim

    try:
        return [parse_claim(text) for text in typed]
    except ValueError as error:
        raise PackhandError("--claim", str(error), 'for example: --claim "40 mi"') from error


def _asked(arguments: argparse.Namespace) -> Conditions | None:
    from ..ahead.consumption import Conditions

    asked = Conditions(arguments.temperature, arguments.extra_load, arguments.wind)
    return asked if any(map(math.isfinite, (asked.temp_c, asked.extra_load_kg,
                                            asked.wind_m_s))) else None
