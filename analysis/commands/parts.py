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
to find it. A wrong key is answered with those that are known. With a logbook the highest volts and
the worst amps are those that were measured, where they are harder than what was typed.

example:
  packhand parts sample_logs/parts.toml
  packhand parts parts.toml --logbook sample_logs/flatbed --json
"""

from __future__ import annotations

import argparse
import json
import sys
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ..parts.pack import SeenPack


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("parts", metavar="PARTS.toml", type=Path, help="the list of parts")
    parser.add_argument("--logbook", metavar="DIR", type=Path,
                        help="a logbook that saw the pack at work")
    parser.add_argument("--json", action="store_true", help="print one JSON document")


def run(arguments: argparse.Namespace) -> int:
    from ..parts.judged import judge_parts
    from ..parts.listing import read_parts_list
    from ..parts.pack import pack_figures

    listed = read_parts_list(_tables(arguments.parts), str(arguments.parts))
    seen = _seen(arguments.logbook, listed.pack.name) if arguments.logbook else None
    judged = judge_parts(listed, pack_figures(listed.pack, seen))
    if arguments.json:
        print(json.dumps(judged.as_json(), ensure_ascii=False, indent=2))
    else:
        print("\n".join(judged.lines()))
    return 0


def _tables(path: Path) -> dict[str, Any]:
    from collector.errors import DescriptionError

    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise DescriptionError(str(path), f"not TOML: {error}", "mend that line") from None
    except FileNotFoundError:
        raise
    except OSError as error:
        raise DescriptionError(str(path), f"cannot be read ({error.strerror})",
                               "give the path of a TOML file") from None


def _seen(root: Path, pack: str) -> SeenPack:
    """What the logbook saw of the pack; of the one logged last if the list names none."""
    from ..load_logbook import of_pack, read_digests
    from ..one_log.use import LogUse
    from ..parts.pack import seen_pack
    from ..season.resistance_trend import LogResistance
    from .progress import show_progress

    book = read_digests(root, ("use", "resistance"), show_progress)
    for problem in book.problems:
        print(f"packhand parts: left out: {problem}", file=sys.stderr)
    return seen_pack((digest.of(LogUse), digest.of(LogResistance))
                     for digest in of_pack(book, pack or None, str(root)))
