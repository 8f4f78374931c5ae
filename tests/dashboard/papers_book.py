"""A logbook of the invented season's cut-out, with hand readings; and what papers say of it."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from collector.logbook import Logbook
from collector.moment import Moment
from collector.notes import Note, add_note
from collector.simulator.season import build_season

#: 15 and 16 April: on the second the wheel stood against the kerb.
DAYS = slice(13, 15)
CUT_OUT_LOG = "2026-04-16T07-39-00Z"
#: Text that must leave no paper, and no shared copy, as markup or as a formula.
ODD = "<script>alert(1)</script> & Ж"
FORMULA = '=HYPERLINK("x")'


def make_papers_book(root: Path) -> Logbook:
    """Built anew; a few seconds."""
    build_season(root, days=DAYS)
    book = Logbook.open(root)
    for note in (Note(_ms(15, 9), "clamp-amps", 35.2, "A", "35.2", "main cable",
                      instrument="clamp No 4711", moment=Moment("", 0.3, -35.0, 53.0, 80.0)),
                 Note(_ms(16, 8), "part-changed", text=ODD, joint="controller"),
                 Note(_ms(16, 8), "joint-millivolts", 119.0, "mV", "119mV", "lug of Anna",
                      text=FORMULA, photo="/home/anna/lug.jpg"),
                 Note(_ms(28, 9), "text", text="of another week")):
        add_note(book.notes_path, note)
    return book


def _ms(day: int, hour: int) -> int:
    return round(datetime(2026, 4, day, hour, tzinfo=UTC).timestamp() * 1000)
