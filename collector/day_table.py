"""A table of days from a spreadsheet, saved as CSV: one row a day, figures under their units.

::

    date,Ah out,kWh out,km,low %,high %
    2027-05-03,52.4,2.71,9.5,41,100

Each row becomes a day's words: the figure and its heading, as ``day_figures`` reads them.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Final

from .day_figures import read_day
from .errors import ForeignFileError

#: The heading of the days; the others are those of the figures.
DATE: Final = "date"
_SAY: Final = "headings such as date, Ah out, Ah in, kWh out, km, h, low %, high %"


def read_day_table(path: Path) -> list[tuple[date, str]]:
    """Each day of a table and its words, in the table's order; all of it can be read, or nothing.

    Commas, semicolons or tabs part the fields; a decimal comma is read. Empty fields are left
    out, and so are days with nothing but the date.

    Raises
    ------
    ForeignFileError
        If the file, a date or a figure cannot be read; names the line.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise ForeignFileError(str(path), f"cannot be read ({error})", "save it as CSV") from error
    head = text.partition("\n")[0]
    mark = max(",;\t", key=head.count)
    rows = csv.DictReader(text.splitlines(), delimiter=mark)
    names = [DATE if name.strip().lower() == DATE else name.strip()
             for name in rows.fieldnames or ()]
    if DATE not in names:
        raise ForeignFileError(f"{path}, line 1", f"no heading {DATE!r}", _SAY)
    rows.fieldnames = names
    found = [_day(path, number, row) for number, row in enumerate(rows, start=2)]
    return [(day, words) for day, words in found if words]


def _day(path: Path, line: int, row: Mapping[str | None, str | None]) -> tuple[date, str]:
    told = {name: (cell or "").strip() for name, cell in row.items() if name is not None}
    try:
        day = date.fromisoformat(told.pop(DATE))
        words = ", ".join(_phrase(name, cell) for name, cell in told.items() if cell)
        if words:
            read_day(words)
    except ValueError as error:
        raise ForeignFileError(f"{path}, line {line}", str(error),
                               f"dates as 2027-05-03; {_SAY}") from error
    return day, words


def _phrase(heading: str, cell: str) -> str:
    """``52.4`` under ``Ah out`` is ``52.4 Ah out``; ``41`` under ``low %`` is ``low 41 %``."""
    return heading.replace("%", f"{cell} %") if "%" in heading else f"{cell} {heading}"
