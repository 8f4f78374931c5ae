"""Tables for spreadsheets in which no cell can be taken for a formula.

A cell that begins with ``= + - @``, a tab or a carriage return may be run when the file is opened
(OWASP, "CSV Injection"); it gets an apostrophe before it. Numbers are numbers and stay.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Final

_STARTS: Final = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")


def neutral(cell: str) -> str:
    """The cell, with an apostrophe before it if a spreadsheet might run it."""
    if not cell.lstrip(" ").startswith(_STARTS) or _is_number(cell):
        return cell
    return f"'{cell}"


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return "_" not in cell


def as_csv(heads: Sequence[str], rows: Iterable[Sequence[str]], banner: str = "") -> bytes:
    """A table in UTF-8 with CRLF (RFC 4180); line ends inside a cell become spaces.

    ``banner`` stands alone in the first row, above the heads.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    for row in (*([[banner]] if banner else []), heads, *rows):
        writer.writerow([neutral(" ".join(cell.splitlines())) for cell in row])
    return out.getvalue().encode()
