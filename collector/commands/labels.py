"""Show what is typed of pack, board and vehicle, or type it; kept in the logbook's logbook.toml.

Without a figure it lists all with where to find them. A figure without its unit is meant in the
logbook's own; an empty one is taken away. What stood there before becomes a note with its day.
An alarm may have seconds, and several limits.

examples:
  packhand labels
  packhand labels rated_ah=105 continuous_a=100 peak_a=200 bleed_a=60mA
  packhand labels alarms.out_a="100 for 60 s; 200 for 3 s" alarms.cell_low_v=2.9
  packhand labels mass_kg="1150 lb" --logbook ~/flatbed
  packhand labels kind=boat --logbook ~/punt
  packhand labels --json
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ..logbook import Logbook
    from ..typed_figures import Group, TypedFigure


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of ``packhand labels``."""
    parser.add_argument("figures", metavar="KEY=FIGURE", nargs="*",
                        help="what to type; alarms begin with 'alarms.'")
    parser.add_argument("--pack", metavar="NAME", default="", help="which pack, if several")
    parser.add_argument("--vehicle", metavar="NAME", default="", help="which vehicle, if several")
    parser.add_argument("--logbook", type=Path, default=Path("logbook"), metavar="DIR",
                        help="the logbook (default: ./logbook)")
    parser.add_argument("--json", action="store_true", help="print one JSON document")
    parser.set_defaults(misuse=parser.error)


def run(arguments: argparse.Namespace) -> int:
    """Type figures, or show what is typed."""
    from ..logbook import Logbook
    from ..logbook_figures import keep_figures

    typed = _typed(arguments)
    book = Logbook.open(arguments.logbook)
    units = _units(book)
    _check_names(book, arguments)
    kept = [change.figure.words for group, figures in typed.items()
            for change in keep_figures(book, group, _name(group, arguments), figures, units)]
    if arguments.json:
        print(json.dumps(_document(book, arguments, units), ensure_ascii=False, indent=2))
    elif typed:
        print(f"kept: {', '.join(kept)}" if kept else "nothing was changed")
    else:
        print("\n".join(_lines(book, arguments, units)))
    return 0


def _typed(arguments: argparse.Namespace) -> dict[Group, dict[str, str]]:
    """What is to be typed, by its table."""
    from ..typed_figures import FIGURES

    known = {_key(figure): figure for figure in FIGURES}
    found: dict[Group, dict[str, str]] = {}
    for each in arguments.figures:
        key, is_pair, words = each.partition("=")
        if not is_pair or key not in known:
            arguments.misuse(f"{each!r}: write KEY=FIGURE, such as rated_ah=105; "
                             f"keys: {', '.join(known)}")
        found.setdefault(known[key].group, {})[known[key].key] = words
    return found


def _name(group: Group, arguments: argparse.Namespace) -> str:
    return str(arguments.vehicle if group == "vehicle" else arguments.pack)


def _check_names(book: Logbook, arguments: argparse.Namespace) -> None:
    """A slip in a name must not add a pack; the first may be named as one likes."""
    from ..errors import LogbookError
    from ..logbook_figures import place_of

    config = book.config()
    for kind, name in (("pack", arguments.pack), ("vehicle", arguments.vehicle)):
        if name and config.get(kind) and place_of(config, kind, name) is None:
            names = ", ".join(repr(each.get("name", "")) for each in config[kind])
            raise LogbookError(str(book.root), f"no {kind} {name!r}", f"typed are: {names}")


def _key(figure: TypedFigure) -> str:
    """The key on the command line; alarms and limits share some."""
    return f"alarms.{figure.key}" if figure.group == "alarms" else figure.key


def _units(book: Logbook) -> Mapping[str, str]:
    told = book.config().get("units")
    return {key: str(value) for key, value in (told if isinstance(told, dict) else {}).items()}


def _values(book: Logbook, arguments: argparse.Namespace) -> list[tuple[TypedFigure, Any]]:
    """Every figure with what stands in the file; ``None`` where nothing does."""
    from ..logbook_figures import typed_of
    from ..typed_figures import FIGURES

    config = book.config()
    return [(figure, typed_of(config, figure.group, _name(figure.group, arguments)).get(figure.key))
            for figure in FIGURES]


def _lines(book: Logbook, arguments: argparse.Namespace, units: Mapping[str, str]) -> list[str]:
    from ..typed_figures import told

    lines = []
    for figure, value in _values(book, arguments):
        words = figure.words if value is not None else f"{figure.words}: {figure.found}"
        lines.append(f"{_key(figure):<22} {told(figure, value, units) or 'not typed':<12} {words}")
    return lines


def _document(book: Logbook, arguments: argparse.Namespace,
              units: Mapping[str, str]) -> dict[str, Any]:
    from ..typed_figures import told

    return {"schema": "packhand.labels/1", "pack": arguments.pack, "vehicle": arguments.vehicle,
            "figures": [{"key": _key(figure), "value": value, "unit": figure.unit,
                         "words": figure.words, "told": told(figure, value, units),
                         "found": figure.found} for figure, value in _values(book, arguments)]}
