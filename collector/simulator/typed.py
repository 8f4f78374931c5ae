"""What the caretaker of the invented flatbed typed in: its parts, and what was changed when."""

from __future__ import annotations

import shutil
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Final

from ..logbook import Logbook
from ..notes import Note, add_note
from ..parts_file import PARTS_NAME

PARTS_LIST: Final = Path(__file__).with_name("flatbed_parts.toml")
#: As ``staged`` has it.
CONTROLLER_DAY: Final = date(2026, 6, 12)
#: Before the first drive of the day.
_MORNING: Final = time(7, 0)
_NOTED: Final = ((CONTROLLER_DAY, "part-changed",
                  "electronic controller instead of the resistor control"),)


def type_in(root: Path, until: date) -> None:
    """Add the parts list and the notes up to a day to the season's logbook."""
    shutil.copyfile(PARTS_LIST, root / PARTS_NAME)
    book = Logbook(root)
    for day, kind, words in _NOTED:
        if day <= until:
            moment = datetime.combine(day, _MORNING, tzinfo=UTC)
            add_note(book.notes_path, Note(round(moment.timestamp() * 1000), kind, text=words,
                                           pack="flatbed main"))
