"""The log on disk: sealed, read back, verified, recovered, and told when it cannot be."""

import tempfile
from dataclasses import replace
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.errors import LogFormatError
from collector.journal import JournalWriter, log_schema, parse_journal
from collector.logfile import finish_log, is_log, read_log, read_meta, recover_log, write_log
from collector.meta import LogMeta
from collector.record import Sample

COLUMNS = ("current_a", "voltage_v", "state")
META = LogMeta(pack="p", monitor={"fields": [{"at": 3}]}, extra={"new": True})

optional_floats = st.none() | st.floats(allow_nan=False)
tables = st.lists(st.tuples(st.integers(0, 10**12), st.floats(0, 1e9), optional_floats,
                            optional_floats, st.none() | st.text(min_size=1, max_size=5),
                            st.none() | st.sampled_from(["mark: x", "link lost: y"])), max_size=15)


def journal_of(folder: Path, count: int = 50) -> Path:
    path = folder / "2026-04-02T08-15-00Z.csv"
    writer = JournalWriter.create(path, META, COLUMNS)
    for n in range(count):
        writer.write(Sample(1_700_000_000_000 + n, n / 10, {"current_a": -n / 7, "state": "drive"}))
    writer.close()
    return path


def parquet_of(folder: Path) -> Path:
    return finish_log(journal_of(folder))


@settings(derandomize=True, deadline=None)
@given(tables)
def test_a_written_table_reads_back(rows: list[tuple[object, ...]]) -> None:
    """Parquet keeps every figure and word, and missing stays missing."""
    schema = log_schema(COLUMNS)
    columns = list(zip(*rows, strict=True)) or [()] * len(schema)
    table = pa.table([pa.array(c, f.type) for c, f in zip(columns, schema, strict=True)],
                     schema=schema)
    with tempfile.TemporaryDirectory() as folder:
        log = read_log(write_log(Path(folder) / "x.parquet", META, table))

    assert log.table.equals(table)
    assert log.meta == META


def test_sealing_keeps_every_row_and_removes_the_journal(tmp_path: Path) -> None:
    """The sealed log equals the journal; only the Parquet file is left."""
    journal = journal_of(tmp_path)
    before = read_log(journal)
    after = read_log(finish_log(journal))

    assert after.table.equals(before.table)
    assert (after.meta, after.columns) == (META, COLUMNS)
    assert [p.suffix for p in tmp_path.iterdir()] == [".parquet"]


def test_recovery_reports_the_torn_tail_and_keeps_it_in_the_log(tmp_path: Path) -> None:
    """What a crash tore off is returned, and stands in the log's metadata for good."""
    journal = journal_of(tmp_path)
    journal.write_bytes(journal.read_bytes()[:-9])
    path, damage = recover_log(journal)

    assert read_log(path).table.num_rows == 49
    assert read_meta(path).recovered == {"rows": 49, "torn_bytes": damage.torn_bytes,
                                         "damaged_lines": 0}
    assert damage.torn_bytes > 20


def test_a_failed_seal_leaves_the_journal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When Parquet cannot be written the journal stays as it was and no half file is left."""
    journal = journal_of(tmp_path)
    before = journal.read_bytes()

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(pq.ParquetWriter, "write_table", full)
    with pytest.raises(OSError, match="No space left"):
        finish_log(journal)

    assert [(p.name, p.read_bytes()) for p in tmp_path.iterdir()] == [(journal.name, before)]


def test_a_disk_that_lies_is_found_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that reads back different does not replace the journal."""
    journal = journal_of(tmp_path)
    honest = pq.ParquetWriter.write_table
    monkeypatch.setattr(pq.ParquetWriter, "write_table", lambda writer, table, **options: honest(
        writer, table.slice(1), **options))
    with pytest.raises(LogFormatError, match="reads back different"):
        finish_log(journal)

    assert [p.name for p in tmp_path.iterdir()] == [journal.name]


def test_a_parquet_cut_anywhere_is_told(tmp_path: Path) -> None:
    """A truncated log gets one line with its size, at every length."""
    path = parquet_of(tmp_path)
    data = path.read_bytes()
    for cut in range(0, len(data), 37):
        path.write_bytes(data[:cut])
        with pytest.raises(LogFormatError, match=f"not a readable Parquet file of {cut} bytes"):
            read_log(path)


def test_damage_inside_a_parquet_is_never_read_as_figures(tmp_path: Path) -> None:
    """A flipped byte anywhere gives an error or the true figures, never others."""
    path = parquet_of(tmp_path)
    data, true = path.read_bytes(), read_log(path).table
    told = 0
    for place in range(0, len(data), 1):
        path.write_bytes(data[:place] + bytes([data[place] ^ 0x41]) + data[place + 1:])
        try:
            table = read_log(path).table
        except LogFormatError:
            told += 1
        else:
            assert table.equals(true), place

    assert told > len(data) // 7 // 2


def test_columns_are_chosen_on_reading(tmp_path: Path) -> None:
    """Asking for columns gives those the log has, time and events always with them."""
    for path in (journal_of(tmp_path), parquet_of(tmp_path / "..")):
        names = read_log(path, ["voltage_v", "soc_pct"]).table.column_names
        assert names == ["time", "monotonic_s", "voltage_v", "event"]


def test_metadata_is_read_alone_from_both_forms(tmp_path: Path) -> None:
    """A list of logs needs no figures."""
    journal = journal_of(tmp_path)
    of_journal = read_meta(journal)

    assert of_journal == read_meta(finish_log(journal)) == META


def test_a_foreign_parquet_is_told(tmp_path: Path) -> None:
    """A Parquet file from elsewhere is sent to the importer."""
    pq.write_table(pa.table({"x": [1]}), tmp_path / "x.parquet")
    with pytest.raises(LogFormatError, match="'packhand import'"):
        read_log(tmp_path / "x.parquet")
    with pytest.raises(LogFormatError, match="'packhand import'"):
        read_meta(tmp_path / "x.parquet")


@pytest.mark.parametrize("name", ["x.csv", "x.parquet", "x.txt"])
def test_what_is_not_a_log_is_told(tmp_path: Path, name: str) -> None:
    """A file of something else gets one clear line, whatever it is called."""
    path = tmp_path / name
    path.write_text("Dear reader,\nthis is a letter.\n")
    with pytest.raises(LogFormatError, match=f"{name}: not a "):
        read_log(path)

    assert not is_log(path)


def test_a_missing_log_is_missing(tmp_path: Path) -> None:
    """A path that is not there is no format error."""
    for name in ("x.csv", "x.parquet"):
        with pytest.raises(FileNotFoundError):
            read_log(tmp_path / name)


def test_nan_becomes_missing_when_a_log_is_written(tmp_path: Path) -> None:
    """Missing has one form on disk."""
    table = pa.table([pa.array([0], pa.timestamp("ms", "UTC")), [0.0], [float("nan")], ["mark"]],
                     schema=log_schema(["current_a"]))
    log = read_log(write_log(tmp_path / "x.parquet", META, table))

    assert log.table["current_a"].to_pylist() == [None]


def test_a_table_in_another_schema_is_a_mistake(tmp_path: Path) -> None:
    """A caller that brings wrong types is told at once."""
    with pytest.raises(ValueError, match="not in log_schema"):
        write_log(tmp_path / "x.parquet", META,
                  pa.table({"time": [1], "monotonic_s": [1.0], "event": ["x"]}))


def test_metadata_with_tuples_can_be_sealed(tmp_path: Path) -> None:
    """What JSON turns into lists is no difference."""
    meta = replace(META, monitor={"range": (1, 2)})
    path = write_log(tmp_path / "x.parquet", meta, log_schema(["current_a"]).empty_table())

    assert read_meta(path).monitor == {"range": [1, 2]}


def test_a_written_log_replaces_nothing(tmp_path: Path) -> None:
    """A taken name is an error and the file stays."""
    path = parquet_of(tmp_path)
    before = path.read_bytes()
    with pytest.raises(FileExistsError):
        write_log(path, META, log_schema(["current_a"]).empty_table())

    assert path.read_bytes() == before


def test_is_log_knows_both_forms(tmp_path: Path) -> None:
    """A journal and its Parquet are logs."""
    journal = journal_of(tmp_path)

    assert is_log(journal)
    assert is_log(finish_log(journal))
    assert not is_log(journal)


def test_rows_of_a_damaged_journal_are_not_invented(tmp_path: Path) -> None:
    """Reading a live journal skips what is torn and tells how much."""
    journal = journal_of(tmp_path)
    journal.write_bytes(journal.read_bytes() + b"2026-04-02T08:")
    log = read_log(journal)

    assert log.table.num_rows == len(parse_journal(journal.read_bytes(), "x").rows) == 50
    assert log.damage.torn_bytes == 14
