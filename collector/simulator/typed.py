"""What the caretaker of the invented flatbed typed in: its parts, and notes of a few days."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Final

import numpy as np

from ..day_figures import DAY
from ..logbook import Logbook
from ..logfile import read_log
from ..moment import Moment
from ..notes import Note, add_note
from ..parts_file import PARTS_NAME
from .later_years import SPRING_FILLS, evenings
from .season import DEFAULT_SEED

PARTS_LIST: Final = Path(__file__).with_name("flatbed_parts.toml")
PACK: Final = "flatbed main"
#: As ``staged`` has it.
CONTROLLER_DAY: Final = date(2026, 6, 12)
#: Before the first drive of the day.
_MORNING: Final = time(7, 0)
#: When the last boat has gone.
_EVENING: Final = time(19, 0)
#: The lug was probed at the hardest pull of a drive while it was hot, beside its twin, and again
#: after it was made anew. [mohm], as ``staged`` has it
LUG, TWIN = "main minus lug", "main plus lug"
LUG_MOHM: Final = ((date(2026, 5, 2), LUG, 1.40), (date(2026, 5, 2), TWIN, 0.12),
                   (date(2026, 5, 4), LUG, 0.12))
#: What was changed on the morning of a day.
CHANGES: Final = (
    (date(2026, 5, 4), LUG, "lug cleaned and made anew"),
    (CONTROLLER_DAY, "", "electronic controller instead of the resistor control"))
#: What was so in spring.
SPRING: Final = "out of lay-up, switched off since January; display's zero set anew"


def type_in(root: Path, seed: int = DEFAULT_SEED) -> None:
    """Add the parts list, the notes of the days that the logbook has, and its typed days."""
    shutil.copyfile(PARTS_LIST, root / PARTS_NAME)
    book = Logbook(root)
    for note in sorted((*_joints(book), *_changes(book), *_evenings(book, seed)),
                       key=lambda note: note.time_ms):
        add_note(book.notes_path, note)


def _changes(book: Logbook) -> Iterator[Note]:
    for day, joint, words in CHANGES:
        if _logs_of(book, day):
            yield Note(_time_ms(day, _MORNING), "part-changed", joint=joint, text=words, pack=PACK)


def _evenings(book: Logbook, seed: int) -> Iterator[Note]:
    """The seasons without recorded drives: a word in spring, and each evening's figures."""
    if _logs_of(book, SPRING_FILLS[0]):
        yield Note(_time_ms(SPRING_FILLS[0], _MORNING), "text", text=SPRING, pack=PACK)
        for evening in evenings(seed):
            yield Note(_time_ms(evening.day, _EVENING), DAY, text=evening.words, pack=PACK)


def _time_ms(day: date, at: time) -> int:
    return round(datetime.combine(day, at, tzinfo=UTC).timestamp() * 1000)


def _joints(book: Logbook) -> Iterator[Note]:
    """Millivolts across a lug as a meter showed them at the hardest pull of the day's first log."""
    for day, joint, mohm in LUG_MOHM:
        for stem in _logs_of(book, day)[:1]:
            time_ms, moment = _hardest(book, stem)
            shown_mv = round(mohm * abs(moment.current_a))
            yield Note(time_ms, "joint-millivolts", float(shown_mv), "mV", f"{shown_mv} mV", joint,
                       pack=PACK, moment=moment)


def _logs_of(book: Logbook, day: date) -> list[str]:
    return [entry.stem for entry in book.logs() if entry.stem.startswith(day.isoformat())]


def _hardest(book: Logbook, stem: str) -> tuple[int, Moment]:
    """The moment of the most amps out, and what the log said then."""
    table = read_log(book.log_path(stem)).table
    amps = table["current_a"].to_numpy()
    row = int(np.nanargmin(amps))
    volts, percent = (float(table[name][row].as_py()) for name in ("voltage_v", "soc_pct"))
    time_ms = round(table["time"][row].as_py().timestamp() * 1000)
    return time_ms, Moment(stem, 0.0, float(amps[row]), volts, percent)
