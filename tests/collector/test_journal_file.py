"""A journal in pieces: however it is cut, the rows and the damage are those of the whole."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector import journal_file
from collector.errors import LogFormatError
from collector.journal import JournalWriter, parse_journal
from collector.journal_file import JournalFile
from collector.logfile import finish_log, read_log
from collector.meta import LogMeta
from collector.record import Sample


def journal_of(folder: Path, rows: int) -> Path:
    """A journal with figures, words with commas and quotes, and an event."""
    path = folder / "2026-04-02T08-15-00Z.csv"
    writer = JournalWriter.create(path, LogMeta(pack="p"), ("current_a", "state"))
    for n in range(rows):
        values: dict[str, float | str] = {"current_a": -n / 7, "state": f'on, "{n}"'}
        writer.write(Sample(1_700_000_000_000 + n, n / 10, values if n % 5 else {},
                            "" if n % 5 else "mark: x, y"))
    writer.close()
    return path


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.integers(0, 40), st.integers(1, 700), st.lists(st.integers(0, 10**6), max_size=4),
       st.integers(0, 30))
def test_pieces_hold_what_the_whole_holds(
        rows: int, piece_bytes: int, damaged_at: list[int], torn: int) -> None:
    """Any cut into pieces, any damage behind the header: the same table, the same counts."""
    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        path = journal_of(Path(folder), rows)
        data = bytearray(path.read_bytes())
        head = data.index(b"crc32\n") + 6
        for at in damaged_at if rows else []:
            data[head + at % (len(data) - head)] ^= 0x15
        path.write_bytes(data[:max(head, len(data) - torn)])
        whole = parse_journal(path.read_bytes(), "x")
        patch.setattr(journal_file, "PIECE_BYTES", head + piece_bytes)
        pieces = JournalFile.open(path)
        table = pa.concat_tables([whole.table().slice(0, 0), *pieces.tables()])

    assert table.equals(whole.table())
    assert (pieces.rows, pieces.damage) == (len(whole.rows), whole.damage)
    assert (pieces.meta, pieces.columns) == (whole.meta, whole.columns)


def test_a_log_sealed_in_pieces_is_the_journal(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Row groups follow the pieces; the log reads as one."""
    journal = journal_of(tmp_path, 200)
    monkeypatch.setattr(journal_file, "PIECE_BYTES", 1000)
    before = read_log(journal)
    after = read_log(finish_log(journal))

    assert before.table.num_rows == 200
    assert after.table.equals(before.table)
    assert pq.read_metadata(after.path).num_row_groups > 3


def test_what_is_appended_later_is_not_seen(tmp_path: Path) -> None:
    """A table goes with the counts, also where a recorder goes on writing."""
    path = journal_of(tmp_path, 20)
    found = JournalFile.open(path)
    path.write_bytes(path.read_bytes() + path.read_bytes().splitlines(keepends=True)[-1])

    assert sum(table.num_rows for table in found.tables()) == found.rows == 20


@pytest.mark.parametrize(("text", "found"), [
    (b"", "the file is empty"), (b"# format: 1\n", "no column line"),
    (b"time,monotonic_s,event,crc32\n", "not a packhand journal")])
def test_what_is_no_journal_is_told(tmp_path: Path, text: bytes, found: str) -> None:
    """In the words of a journal read at once."""
    (tmp_path / "x.csv").write_bytes(text)
    with pytest.raises(LogFormatError, match=found):
        JournalFile.open(tmp_path / "x.csv")
