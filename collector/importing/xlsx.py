"""A workbook (Office Open XML, ECMA-376) as the text of a table, by openpyxl.

The sheet with the most filled rows is taken. Its cells are written with tabs between them, figures
with a point and moments in ISO 8601, so that headings, unit rows and preambles are found as in any
other table. Formulas give the figure that the program which saved the file had worked out.
"""

from __future__ import annotations

import io
import warnings
import zipfile
from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from typing import Final

from ..errors import ForeignFileError

#: How such a file begins: it is a zip archive.
XLSX_MARK: Final = b"PK\x03\x04"
#: How the older binary workbook begins.
XLS_MARK: Final = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
#: A workbook that unpacks to more than this is no log but a trap. [bytes]
_UNPACKED_MAX: Final = 2_000_000_000


def sheet_as_text(data: bytes, where: str) -> tuple[str, str]:
    """The fullest sheet as lines with tabs, and a sentence that names it.

    Raises
    ------
    ForeignFileError
        If it is no workbook, is damaged, or holds no table.
    """
    sheets = _sheets(data, where)
    name = max(sheets, key=lambda sheet: len(sheets[sheet]), default="")
    if not name or not sheets[name]:
        raise ForeignFileError(where, "a workbook without figures",
                               "choose the file with the figures")
    others = [repr(sheet) for sheet in sheets if sheet != name]
    left = f" Left out: {', '.join(others)}." if others else ""
    return "\n".join(sheets[name]) + "\n", f"A workbook; its sheet {name!r} is read.{left}"


def _sheets(data: bytes, where: str) -> dict[str, list[str]]:
    """The filled rows of each sheet, by its name."""
    _refuse_other_archives(data, where)
    import openpyxl
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        with warnings.catch_warnings():  # about styles and print areas, which nobody needs here
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
            return {sheet.title: _lines(sheet.iter_rows(values_only=True))
                    for sheet in book.worksheets}
    except (InvalidFileException, KeyError, ValueError, TypeError, OSError, SyntaxError,
            zipfile.BadZipFile) as error:  # openpyxl passes on what its parsers say
        raise _unreadable(where) from error


def _refuse_other_archives(data: bytes, where: str) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
    except zipfile.BadZipFile as error:
        raise _unreadable(where) from error
    if "[Content_Types].xml" not in {part.filename for part in parts}:
        raise ForeignFileError(where, "a zip archive, not a workbook",
                               "unpack it and import the folder")
    if sum(part.file_size for part in parts) > _UNPACKED_MAX:
        raise ForeignFileError(where, "a workbook that unpacks to more than 2 GB",
                               "save the sheet as CSV")


def _unreadable(where: str) -> ForeignFileError:
    return ForeignFileError(where, "not a readable workbook",
                            "it is cut off, damaged or locked; save the sheet as CSV")


def _lines(rows: Iterable[tuple[object, ...]]) -> list[str]:
    filled = ([_written(cell) for cell in row] for row in rows
              if any(cell is not None for cell in row))
    return ["\t".join(row) for row in filled]


def _written(cell: object) -> str:
    if cell is None:
        return ""
    if isinstance(cell, float):
        return repr(cell)
    if isinstance(cell, datetime):
        return cell.isoformat(sep=" ", timespec="milliseconds")
    if isinstance(cell, date | time):
        return cell.isoformat()
    if isinstance(cell, timedelta):
        return repr(cell.total_seconds())
    return " ".join(str(cell).split())
