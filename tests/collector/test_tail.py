"""Following a journal that grows."""

from pathlib import Path

import pyarrow as pa
import pytest

from collector.journal import JournalWriter, parse_journal
from collector.meta import LogMeta
from collector.record import Sample
from collector.tail import JournalTail


def journal_bytes(tmp_path: Path, count: int = 12) -> bytes:
    path = tmp_path / "whole.csv"
    writer = JournalWriter.create(path, LogMeta(pack="p"), ("current_a", "state"))
    for n in range(count):
        writer.write(Sample(1_700_000_000_000 + n, n / 10, {"current_a": float(n), "state": "x"}))
    writer.close()
    return path.read_bytes()


@pytest.mark.parametrize("step", [1, 7, 64, 10_000])
def test_however_it_grows_every_row_is_handed_out_once(tmp_path: Path, step: int) -> None:
    """The looks together give the whole journal, in order, without a half row."""
    data, path = journal_bytes(tmp_path), tmp_path / "live.csv"
    tail, tables = JournalTail(path), []
    for end in range(step, len(data) + step, step):
        path.write_bytes(data[:end])
        if (table := tail.look()) is not None:
            tables.append(table)

    assert pa.concat_tables(tables).equals(parse_journal(data, "x").table())
    assert tail.head is not None
    assert tail.head.meta.pack == "p"


def test_a_long_journal_comes_in_pieces(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One look takes in a bounded share; the rest comes with the next looks."""
    monkeypatch.setattr("collector.tail.LOOK_MAX", 200)
    data, path = journal_bytes(tmp_path), tmp_path / "live.csv"
    path.write_bytes(data)
    tail = JournalTail(path)
    looks = [tail.look() for _ in range(len(data) // 200 + 2)]

    assert sum(table.num_rows for table in looks if table is not None) == 12


def test_a_damaged_row_is_passed_over(tmp_path: Path) -> None:
    """A wrong CRC costs its row only."""
    data, path = journal_bytes(tmp_path), tmp_path / "live.csv"
    head = data.index(b"crc32\n") + 6
    path.write_bytes(data[:head])
    tail = JournalTail(path)
    tail.look()
    path.write_bytes(data.replace(b",5,x,", b",6,x,"))
    table = tail.look()

    assert table is not None
    assert table["current_a"].to_pylist() == [float(n) for n in range(12) if n != 5]


def test_a_sealed_journal_is_gone(tmp_path: Path) -> None:
    """When the recorder has sealed the log the follower learns it."""
    with pytest.raises(FileNotFoundError):
        JournalTail(tmp_path / "gone.csv").look()
