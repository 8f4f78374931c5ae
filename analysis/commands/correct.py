"""Correct the amps or volts of a logbook by what a meter showed, from a day on; or its dates.

Take readings with 'packhand note clamp-amps' or 'packhand note meter-volts' while a log is being
recorded, at least two: one at rest, one under load. They are held against what the monitor said at
those moments; what the meter itself may be wrong by is part of the answer. The correction is laid
over the figures whenever a log is loaded; the logs stay as they are, and it can be taken back.

examples:
  packhand correct amps --dry-run
  packhand correct amps --from 2026-05-11
  packhand correct amps --zero 0.35 --from 2026-05-11 --reason "reads so with all switched off"
  packhand correct clock --log 2000-01-01T00-01-40Z --began "2026-05-11 14:05"
  packhand correct --list
  packhand correct --undo 1

'clock' moves a log that was recorded while the computer's clock was wrong to when it really began;
with --until, those that the same wrong clock dated after it, too.

Usual caution: a meter on live metal wants insulated tools, no rings, and the maker's manual.
"""

from __future__ import annotations

import argparse
import json
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from collector.commands.numbers import above_zero, finite, whole

if TYPE_CHECKING:
    from collector.corrections import Correction
    from collector.logbook import Logbook
    from collector.notes import Note

    from ..estimate import NoEstimate
    from ..one_log.meter_check import MeterCheck

#: What can be corrected: the log's column, the kind of note, the figure of the moment.
_WHAT: Final = {"amps": ("current_a", "clamp-amps"), "volts": ("voltage_v", "meter-volts")}
#: A figure this much older than the reading is no pair with it. [s]
_AGE_MAX_S: Final = 3.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of ``packhand correct``."""
    parser.add_argument("what", metavar="WHAT", nargs="?", choices=[*_WHAT, "clock"],
                        help="amps, volts or clock")
    parser.add_argument("--logbook", type=Path, default=Path("logbook"), metavar="DIR",
                        help="the logbook (default: ./logbook)")
    parser.add_argument("--pack", metavar="NAME", help="which pack, if there are several")
    parser.add_argument("--since", metavar="TIME", help="use readings from then on only")
    parser.add_argument("--from", dest="begin", metavar="TIME",
                        help="correct from then on (default: from the first reading)")
    parser.add_argument("--until", metavar="TIME", help="correct up to then")
    parser.add_argument("--zero", type=finite, metavar="X",
                        help="what the monitor shows where the truth is zero, if known")
    parser.add_argument("--gain", type=above_zero, metavar="X", help="true over shown, if known")
    parser.add_argument("--log", metavar="LOG", help="with clock: which log, by its name")
    parser.add_argument("--began", metavar="TIME", help="with clock: when it really began")
    parser.add_argument("--reason", default="", help="words to keep beside it")
    parser.add_argument("--dry-run", action="store_true", help="show it, accept nothing")
    parser.add_argument("--list", action="store_true", help="show what stands")
    parser.add_argument("--undo", type=whole, metavar="N", help="take a correction back")
    parser.add_argument("--json", action="store_true", help="print one JSON document")
    parser.set_defaults(misuse=parser.error)


def run(arguments: argparse.Namespace) -> int:
    """Propose and accept a correction, list those that stand, or take one back."""
    from collector.clock import Clock
    from collector.corrections import active, read_corrections, undo
    from collector.logbook import Logbook

    book = Logbook.open(arguments.logbook)
    if arguments.undo is not None:
        undo(book.corrections_path, arguments.undo, Clock().now()[0], arguments.reason)
        _say(arguments, {"undone": arguments.undo}, f"correction {arguments.undo} is taken back")
        return 0
    if arguments.list:
        standing = active(read_corrections(book.corrections_path).rows)
        _say(arguments, {"corrections": [each.as_json() for each in standing]},
             "\n".join(map(correction_words, standing)) or "no correction stands")
        return 0
    if arguments.what is None:
        arguments.misuse("say amps, volts or clock, --list or --undo")
    if arguments.what == "clock":
        return _correct_clock(arguments, book)
    return _correct(arguments, book)


def _correct(arguments: argparse.Namespace, book: Logbook) -> int:
    from ..estimate import NoEstimate

    found = None if _is_typed(arguments) else check(arguments, book)
    if isinstance(found, NoEstimate):
        _say(arguments, {"check": found.as_json(), "correction": None},
             f"cannot tell yet: {found.reason} — {found.next}")
        return 1
    told = {"check": found.as_json()} if found else {}
    words = [found.words] if found else []
    if found and found.verdict == "no":
        _say(arguments, told | {"correction": None}, "\n".join(words))
        return 0
    return _keep(arguments, book, _proposed(arguments, book, found), told, words)


def _correct_clock(arguments: argparse.Namespace, book: Logbook) -> int:
    from collector.corrections import next_number, read_corrections

    from .correct_clock import clock_correction

    number = next_number(read_corrections(book.corrections_path).rows)
    correction = clock_correction(arguments, book, number, _time_ms("--until", arguments.until))
    return _keep(arguments, book, correction, {}, [])


def _keep(arguments: argparse.Namespace, book: Logbook, correction: Correction,
          told: dict[str, Any], words: list[str]) -> int:
    """Accept it, unless it is only to be shown, and say so."""
    from collector.corrections import accept

    words = [*words, correction_words(correction)]
    if not arguments.dry_run:
        accept(book.corrections_path, correction)
        words.append(f"accepted; 'packhand correct --undo {correction.number}' takes it back")
    _say(arguments, told | {"correction": correction.as_json(),
                            "is_accepted": not arguments.dry_run}, "\n".join(words))
    return 0


def check(arguments: argparse.Namespace, book: Logbook) -> MeterCheck | NoEstimate:
    """The pairs of the logbook held against each other."""
    import numpy as np

    from ..one_log.meter_check import CLAMP, VOLTMETER, check_against_meter

    pairs = _pairs(arguments, book)
    column, _ = _WHAT[arguments.what]
    shown = np.array([getattr(note.moment, column) for note in pairs])
    measured = np.array([note.value for note in pairs])
    return check_against_meter(shown, measured, CLAMP if arguments.what == "amps" else VOLTMETER)


def _pairs(arguments: argparse.Namespace, book: Logbook) -> list[Note]:
    """Readings that a log covers.

    Raises
    ------
    LogbookError
        If they are of several packs and none is named.
    """
    from collector.errors import LogbookError
    from collector.notes import read_notes

    column, kind = _WHAT[arguments.what]
    since_ms = _time_ms("--since", arguments.since) or 0
    pairs = [note for note in read_notes(book.notes_path).rows
             if note.kind == kind and note.time_ms >= since_ms and math.isfinite(note.value)
             and math.isfinite(getattr(note.moment, column)) and note.moment.age_s <= _AGE_MAX_S
             and arguments.pack in (None, note.pack)]
    if len(packs := {note.pack for note in pairs}) > 1:
        raise LogbookError("--pack", f"readings of several packs: {', '.join(sorted(packs))}",
                           "say which is meant")
    return pairs


def _proposed(arguments: argparse.Namespace, book: Logbook,
              found: MeterCheck | None) -> Correction:
    """The correction as it would be accepted."""
    from collector.clock import Clock
    from collector.corrections import Correction, next_number, read_corrections

    pairs = _pairs(arguments, book) if found else []
    zero, gain = ((round(found.proposed_zero, 3), round(found.proposed_gain, 4)) if found
                  else _typed(arguments))
    now_ms = Clock().now()[0]
    first_ms = min((note.time_ms for note in pairs), default=now_ms)
    pack = arguments.pack or (pairs[0].pack if pairs else "")
    return Correction(
        next_number(read_corrections(book.corrections_path).rows), now_ms, pack,
        _WHAT[arguments.what][0], zero, gain, _time_ms("--from", arguments.begin) or first_ms,
        _time_ms("--until", arguments.until),
        arguments.reason or (f"{len(pairs)} readings by meter" if found else "typed by hand"))


def _is_typed(arguments: argparse.Namespace) -> bool:
    return arguments.zero is not None or arguments.gain is not None


def _typed(arguments: argparse.Namespace) -> tuple[float, float]:
    """Zero and gain as the person typed them.

    Raises
    ------
    LogbookError
        If the gain is none.
    """
    from collector.errors import LogbookError

    from ..one_log.meter_check import GAIN_RANGE

    zero = 0.0 if arguments.zero is None else arguments.zero
    gain = 1.0 if arguments.gain is None else arguments.gain
    low, high = GAIN_RANGE
    if not (low <= gain <= high and math.isfinite(zero)):
        raise LogbookError("--gain", f"{gain:g} with a zero of {zero:g} is no correction",
                           f"true over shown lies between {low:g} and {high:g}")
    return zero, gain


def _time_ms(option: str, text: str | None) -> int | None:
    from collector.clock import from_person
    from collector.errors import LogbookError

    if text is None:
        return None
    try:
        return from_person(text)
    except ValueError:
        raise LogbookError(option, f"{text!r} is not a time",
                           "such as 2026-05-11 or 2026-05-11T14:05") from None


def correction_words(correction: Correction) -> str:
    """One correction in one line."""
    from collector.clock import iso_utc

    if correction.column == "time":
        return f"correction {correction.number}: clock, {correction.reason}"
    unit = "A" if correction.column == "current_a" else "V"
    what = next(name for name, (column, _) in _WHAT.items() if column == correction.column)
    until = f" until {iso_utc(correction.until_ms)[:16]}Z" if correction.until_ms else ""
    pack = f", pack {correction.pack}" if correction.pack else ""
    return (f"correction {correction.number}: {what} less {correction.zero:+.3f} {unit}, times "
            f"{correction.gain:.4f}, from {iso_utc(correction.from_ms)[:16]}Z{until}{pack}"
            f" ({correction.reason})")


def _say(arguments: argparse.Namespace, document: dict[str, Any], words: str) -> None:
    if arguments.json:
        print(json.dumps({"schema": "packhand.correct/1"} | document, ensure_ascii=False,
                         indent=2))
    else:
        print(words)
