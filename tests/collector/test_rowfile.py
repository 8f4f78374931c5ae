"""Append-only tables: nothing written is lost to a torn or spoilt line."""

from collections.abc import Mapping
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.errors import LogbookError
from collector.rowfile import Rows, append_row, read_rows

COLUMNS = ("time", "words")


def words_of(row: Mapping[str, str]) -> str:
    if not row["time"]:
        raise ValueError("no time")
    return row["words"]


def read(path: Path) -> Rows[str]:
    return read_rows(path, COLUMNS, words_of)


def test_rows_come_back_in_order(tmp_path: Path) -> None:
    """A missing file is an empty table; each row is there once it was added."""
    path = tmp_path / "x.csv"
    before = read(path)
    for words in ("one", 'two, "quoted"', "three\nfour"):
        append_row(path, COLUMNS, {"time": "1", "words": words})

    assert before == Rows()
    assert read(path) == Rows(("one", 'two, "quoted"', "three four"))


@settings(derandomize=True, deadline=None, max_examples=60)
@given(words=st.lists(st.text(st.characters(codec="utf-8")), min_size=1, max_size=4),
       cut=st.integers(1, 40))
def test_a_torn_line_costs_itself_alone(tmp_path_factory: pytest.TempPathFactory,
                                        words: list[str], cut: int) -> None:
    """Whatever a power cut leaves of the last row, rows before and after it stay whole."""
    path = tmp_path_factory.mktemp("rowfile") / "x.csv"
    for text in words:
        append_row(path, COLUMNS, {"time": "1", "words": text})
    whole = path.read_bytes()
    append_row(path, COLUMNS, {"time": "2", "words": "torn away"})
    row = path.read_bytes()[len(whole):]
    path.write_bytes(whole + row[: min(cut, len(row) - 1)])
    append_row(path, COLUMNS, {"time": "3", "words": "after"})
    rows = read(path).rows
    lines = [" ".join(text.split()) for text in words]

    assert list(rows[: len(lines)]) == lines
    assert rows[-1] == "after"
    assert len(rows) <= len(lines) + 2


def test_a_spoilt_line_is_counted_by_its_number(tmp_path: Path) -> None:
    """Too few fields, an open quote, a field that cannot be read: told by line, never fatal."""
    path = tmp_path / "x.csv"
    path.write_text('time,words\n1,a\n2\n3,"open\n\n,b\n4,c\n')

    assert read(path) == Rows(("a", "c"), (3, 4, 6))


def test_a_table_edited_elsewhere_keeps_its_own_header(tmp_path: Path) -> None:
    """A byte order mark, other line ends, another order and a missing column are no damage."""
    path = tmp_path / "x.csv"
    path.write_bytes(b"\xef\xbb\xbfcolour,time\r\nred,1\r\n")
    append_row(path, COLUMNS, {"time": "2", "words": "lost for want of a column"})

    assert path.read_bytes().endswith(b"red,1\r\n,2\n")
    assert read(path) == Rows(("", ""))


def test_a_file_that_is_no_table_is_told(tmp_path: Path) -> None:
    """It is neither read nor written."""
    path = tmp_path / "x.csv"
    path.write_text("dear diary\n")
    with pytest.raises(LogbookError, match="line 1: not a header that begins 'time'"):
        append_row(path, COLUMNS, {"time": "1"})
    with pytest.raises(LogbookError, match="it should read time,words"):
        read(path)

    assert path.read_text() == "dear diary\n"
