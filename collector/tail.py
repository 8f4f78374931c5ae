"""Following a journal while another process appends to it."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import pyarrow as pa

from .journal import JournalText, checked, parse_journal, rows_to_table

#: The most that one look takes in; the rest comes with the next. [bytes]
LOOK_MAX: Final = 4_000_000


class JournalTail:
    """Hands out the rows that a journal gained since the last look.

    Whole lines only; a row with a wrong CRC is passed over. Reading takes no lock.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.head: JournalText | None = None
        self._offset = 0
        self._half = b""

    def look(self) -> pa.Table | None:
        """New rows in ``log_schema`` (possibly none), ``None`` until the header is whole.

        Raises
        ------
        FileNotFoundError
            When the journal is gone: it was closed and became Parquet.
        LogFormatError
            If the file is not a journal.
        """
        with self.path.open("rb") as file:
            file.seek(self._offset)
            data = file.read(LOOK_MAX)
        self._offset += len(data)
        *lines, self._half = (self._half + data).split(b"\n")
        if self.head is None:
            if all(line.startswith(b"#") for line in lines):
                self._half, self._offset = b"", 0
                return None
            self.head = parse_journal(b"\n".join([*lines, b""]), str(self.path))
            return self.head.table()
        rows = [row for line in lines if (row := checked(line)) is not None]
        return rows_to_table(rows, self.head.columns)
