"""Keep a mark or a reading taken by hand, with what the monitor said at that moment.

The amps, volts and percent are taken from the log that covers the moment, also from one that is
being recorded just now. Notes stand in the logbook's notes.csv and are never rewritten.

examples:
  packhand note mark --text "bump at the gate"
  packhand note joint-millivolts 119mV --joint "main minus"
  packhand note surface-temperature 165F --joint "breaker, line side" --at 14:05
  packhand note clamp-amps -21.5 --instrument "yellow clamp"
  packhand note claim "40 miles on a charge"
  packhand note day "52 Ah out, 53 Ah in, 9.5 km, 41 to 100 %"
  packhand note day --table evenings.csv
  packhand note --list

Kinds:
"""

from __future__ import annotations

import argparse
import json
import math
import re
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from .numbers import count

if TYPE_CHECKING:
    from ..logbook import Logbook
    from ..moment import Moment
    from ..note_kinds import NoteKind
    from ..notes import Note
    from ..rowfile import Rows


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of ``packhand note``."""
    from ..note_kinds import KINDS

    kinds = "\n".join(f"  {kind.name:<20} {kind.words}" + (f" [{kind.unit}]" if kind.unit else "")
                      for kind in KINDS.values())
    parser.description = f"{__doc__}{kinds}"
    parser._negative_number_matcher = re.compile(r"-\d")  # a figure such as -21.5A is no option
    parser.add_argument("kind", metavar="KIND", nargs="?", choices=list(KINDS),
                        help="what is noted, one of the kinds above")
    parser.add_argument("value", metavar="VALUE", nargs="?", default="",
                        help="the figure, with or without its unit; or the words")
    parser.add_argument("--at", metavar="TIME",
                        help="when, such as 14:05 or 2026-05-03T14:05 (default: now)")
    parser.add_argument("--joint", default="", metavar="NAME",
                        help="which joint, pole, tyre or surface")
    parser.add_argument("--cell", type=count, metavar="N", help="which cell, from 1")
    parser.add_argument("--instrument", default="", metavar="NAME", help="measured with what")
    parser.add_argument("--text", default="", help="words beside a figure")
    parser.add_argument("--photo", default="", metavar="PATH", help="a picture of it")
    parser.add_argument("--pack", default="", metavar="NAME", help="which pack, if several")
    parser.add_argument("--logbook", type=Path, default=Path("logbook"), metavar="DIR",
                        help="the logbook (default: ./logbook)")
    parser.add_argument("--table", type=Path, metavar="CSV",
                        help="with day: one row a day, under date, Ah out, km, low %%, high %% ...")
    parser.add_argument("--list", action="store_true", help="show the notes, of KIND if given")
    parser.add_argument("--json", action="store_true", help="print one JSON document")
    parser.set_defaults(misuse=parser.error)


def run(arguments: argparse.Namespace) -> int:
    """Keep one note, or list them."""
    from ..logbook import Logbook
    from ..notes import add_note, read_notes

    if arguments.list:
        book = Logbook.open(arguments.logbook)
        _show(read_notes(book.notes_path), arguments)
        return 0
    if arguments.table:
        return _keep_table(arguments)
    if arguments.kind is None:
        arguments.misuse("say what is noted, such as 'mark', or --list")
    note = made(arguments, Logbook(arguments.logbook))
    add_note(Logbook.create(arguments.logbook).notes_path, note)
    _tell(note, is_json=arguments.json)
    return 0


def _keep_table(arguments: argparse.Namespace) -> int:
    """A note for each day of a table, once all of them could be read."""
    from ..day_figures import DAY
    from ..day_table import read_day_table
    from ..logbook import Logbook
    from ..notes import Note, add_note

    if arguments.kind != DAY:
        arguments.misuse(f"--table goes with {DAY!r}")
    days = read_day_table(arguments.table)
    path = Logbook.create(arguments.logbook).notes_path
    for day, words in days:
        add_note(path, Note(_time_ms(f"{day}T12:00"), DAY, text=words, pack=arguments.pack))
    if arguments.json:
        print(json.dumps({"schema": "packhand.note/1", "days": len(days)}))
    else:
        print(f"{len(days)} {'day' if len(days) == 1 else 'days'} kept")
    return 0


def made(arguments: argparse.Namespace, book: Logbook) -> Note:
    """The note that the arguments ask for.

    Raises
    ------
    LogbookError
        If the time, the figure or the pack cannot be told, or a picture is not there.
    """
    from ..errors import LogbookError
    from ..note_kinds import KINDS
    from ..notes import Note

    kind = KINDS[arguments.kind]
    _check_which(kind, arguments)
    value, typed, text, photo = _contents(kind, arguments, book)
    if not (kind.is_figure or kind.is_whole or text or photo):
        raise LogbookError(kind.name, "nothing was typed", _EMPTY.get(
            kind.name, f'say it in words, such as packhand note {kind.name} "..."'))
    if photo and not Path(photo).is_file():
        raise LogbookError(photo, "no such picture", "give the path of a file that is there")
    time_ms = _time_ms(arguments.at)
    pack, moment = _moment(book, time_ms, arguments.pack)
    return Note(time_ms, kind.name, value, kind.unit, typed, arguments.joint, arguments.cell,
                arguments.instrument, text, photo, pack, moment)


#: What to type where the kind alone says nothing, and words alone would not do.
_EMPTY = {"photo": "give the path of the picture"}
#: What is added to a figure that says nothing without it.
_WHICH = {"joint": '--joint with its name, such as --joint "main minus"',
          "cell": "--cell with its number, counted from 1, such as --cell 11"}


def _check_which(kind: NoteKind, arguments: argparse.Namespace) -> None:
    from ..errors import LogbookError

    if kind.which and not getattr(arguments, kind.which):
        raise LogbookError(kind.name, f"nothing says which {kind.which}",
                           f"add {_WHICH[kind.which]}")


def _contents(kind: NoteKind, arguments: argparse.Namespace,
              book: Logbook) -> tuple[float, str, str, str]:
    """Figure, figure as typed, words, picture."""
    from ..errors import LogbookError
    from ..note_kinds import read_figure

    if kind.name == "photo":
        return math.nan, "", arguments.text, arguments.value or arguments.photo
    text = " ".join(filter(None, (arguments.value, arguments.text)))
    try:
        if kind.reader:
            kind.reader(text)
        if not kind.is_figure:
            return math.nan, "", text, arguments.photo
        value = read_figure(kind, arguments.value, book.config().get("units", {}))
    except ValueError as error:
        raise LogbookError(kind.name, str(error)) from error
    return value, arguments.value, arguments.text, arguments.photo


def _time_ms(at: str | None) -> int:
    from ..clock import Clock, from_person
    from ..errors import LogbookError

    if at is None:
        return Clock().now()[0]
    try:
        return from_person(at)
    except ValueError:
        raise LogbookError("--at", f"{at!r} is not a time",
                           "such as 14:05 or 2026-05-03T14:05") from None


def _moment(book: Logbook, time_ms: int, pack: str) -> tuple[str, Moment]:
    """The pack that is meant and what its log said then."""
    from ..errors import LogbookError
    from ..moment import Moment, moments_at

    found = moments_at(book, time_ms)
    if pack:
        return pack, found.get(pack, Moment())
    if len(found) > 1:
        raise LogbookError("--pack", f"several packs were logged then: {', '.join(found)}",
                           "say which is meant")
    return next(iter(found.items()), ("", Moment()))


def _show(notes: Rows[Note], arguments: argparse.Namespace) -> None:
    wanted = [note for note in notes.rows if arguments.kind in (None, note.kind)]
    if arguments.json:
        print(json.dumps({"schema": "packhand.note/1", "notes": [n.as_json() for n in wanted],
                          "damaged_lines": notes.damaged_lines}, ensure_ascii=False, indent=2))
        return
    for note in sorted(wanted, key=lambda n: n.time_ms):
        print(note_words(note))
    if not wanted:
        print("no notes yet")
    if notes.damaged_lines:
        lines = ", ".join(map(str, notes.damaged_lines))
        print(f"notes.csv: line {lines} cannot be read and is passed over", file=sys.stderr)


#: A note so far ahead is told to lie in the future: more than two clocks differ. [ms]
_SLIP_MS = 60_000


def _tell(note: Note, *, is_json: bool) -> None:
    from ..clock import Clock
    from ..note_kinds import KINDS

    if is_json:
        print(json.dumps({"schema": "packhand.note/1", "note": note.as_json()},
                         ensure_ascii=False, indent=2))
        return
    print(note_words(note))
    if note.time_ms > Clock().now()[0] + _SLIP_MS:
        print("that is still to come by this computer's clock: if it is a slip, note it once more")
    elif not note.moment.log:
        print("no log covers that moment, so the note stands alone")
    if caution := KINDS[note.kind].caution:
        print(f"usual caution: {caution}")


def note_words(note: Note) -> str:
    """One note in one line: ``2026-05-03 14:05:00  clamp-amps -21.5 A  (log: -23.1 A, ...)``."""
    local = datetime.fromtimestamp(note.time_ms / 1000, UTC).astimezone()
    parts = [f"{local:%Y-%m-%d %H:%M:%S}  {note.kind}"]
    if not math.isnan(note.value):
        parts.append(f" {note.value:.6g} {note.unit}")
    parts += [f"  {words}" for words in (
        note.joint, f"cell {note.cell}" if note.cell else "", note.text, note.photo,
        f"pack {note.pack}" if note.pack else "") if words]
    if note.moment.words:
        parts.append(f"  (log: {note.moment.words})")
    return "".join(parts)
