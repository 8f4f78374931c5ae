"""The text journal: round trip, damage, a disk that takes nothing."""

import errno
import math
import os
import tempfile
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector import journal
from collector.errors import LogFormatError, LogInUse
from collector.journal import JournalWriter, encode_row, parse_journal
from collector.meta import LogMeta
from collector.record import Sample

COLUMNS = ("current_a", "voltage_v", "cell_01_v", "state")

figures = st.floats(allow_infinity=False, width=64)
words = st.text(st.characters(exclude_categories=("Cs",)), max_size=12)
samples = st.lists(st.builds(
    Sample,
    time_ms=st.integers(0, 4_000_000_000_000),
    monotonic_s=st.floats(0, 1e9).map(lambda s: round(s, 6)),
    values=st.fixed_dictionaries({}, optional={
        "current_a": figures, "voltage_v": figures, "cell_01_v": figures, "state": words}),
    event=words,
), max_size=20)


def written(path: Path, heard: list[Sample], **options: Any) -> JournalWriter:
    writer = JournalWriter.create(path, LogMeta(pack="p"), COLUMNS, **options)
    for sample in heard:
        writer.write(sample)
    writer.close()
    return writer


def drive(count: int) -> list[Sample]:
    return [Sample(1_700_000_000_000 + 100 * n, n / 10,
                   {"current_a": -23.1 - n, "voltage_v": 52.31, "state": "drive"})
            for n in range(count)]


def expected(sample: Sample) -> dict[str, Any]:
    """What reading must give: NaN and empty words are missing, line ends are spaces."""
    row: dict[str, Any] = dict.fromkeys(COLUMNS)
    for column, value in sample.values.items():
        is_missing = value == "" if isinstance(value, str) else math.isnan(value)
        row[column] = None if is_missing else value
    row["state"] = " ".join((row["state"] or "").split()) or None
    row["event"] = " ".join(sample.event.split()) or None
    return row | {"time": sample.time_ms, "monotonic_s": sample.monotonic_s}


@settings(derandomize=True, deadline=None)
@given(samples)
def test_what_is_written_reads_back(heard: list[Sample]) -> None:
    """Every figure bit for bit, every word, and what is missing stays missing."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "x.csv"
        written(path, heard)
        text = parse_journal(path.read_bytes(), "x")
    rows = text.table().to_pylist()
    for row in rows:
        row["time"] = round(row["time"].timestamp() * 1000)

    assert (rows, bool(text.damage)) == ([expected(sample) for sample in heard], False)


def test_row_ends_with_the_crc_of_what_stands_before_it() -> None:
    """The check is CRC-32/ISO-HDLC; RevEng catalogue: check of "123456789" is cbf43926."""
    row, _, crc = encode_row(drive(1)[0], COLUMNS).rstrip(b"\n").rpartition(b",")

    assert (int(crc, 16), zlib.crc32(b"123456789")) == (zlib.crc32(row), 0xCBF43926)


def test_cut_at_every_byte_of_the_last_2000_reads_up_to_the_torn_tail(tmp_path: Path) -> None:
    """A power cut at any byte keeps every whole row and reports the torn bytes exactly."""
    path = tmp_path / "x.csv"
    written(path, drive(60))
    data = path.read_bytes()
    head = data.index(b"crc32\n") + 6
    whole = parse_journal(data, "x").rows
    assert len(data) - head > 2000

    for cut in range(len(data) - 2000, len(data)):
        text = parse_journal(data[:cut], "x")
        rows = data[head:cut].count(b"\n")
        assert text.rows == whole[:rows]
        assert text.damage.torn_bytes == cut - data.rindex(b"\n", 0, cut) - 1
        assert text.damage.damaged_lines == 0


def test_one_flipped_byte_loses_exactly_one_row(tmp_path: Path) -> None:
    """Damage stays inside its row, is noticed, and is counted; a lost line end joins two rows."""
    path = tmp_path / "x.csv"
    written(path, drive(12))
    data = path.read_bytes()
    whole = parse_journal(data, "x").rows
    for place in range(data.index(b"crc32\n") + 6, len(data) - 1):
        damaged = data[:place] + bytes([data[place] ^ 0x10]) + data[place + 1:]
        text = parse_journal(damaged, "x")
        lost = 2 if data[place] == 0x0A else 1
        assert len(text.rows) == len(whole) - lost
        assert set(text.rows) <= set(whole)
        assert text.damage.damaged_lines >= 1


class Disk:
    """Takes bytes until told that it is full."""

    def __init__(self) -> None:
        self.error: int | None = None

    def write(self, descriptor: int, data: bytes) -> int:
        if self.error is not None:
            if len(data) > 20:
                return os.write(descriptor, data[:20])
            raise OSError(self.error, os.strerror(self.error))
        return os.write(descriptor, data)


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO, errno.EFBIG])
def test_samples_wait_while_the_disk_takes_nothing(tmp_path: Path, number: int) -> None:
    """Nothing is lost, torn or reordered when room comes back."""
    disk, heard = Disk(), drive(30)
    writer = JournalWriter.create(tmp_path / "x.csv", LogMeta(), COLUMNS, write=disk.write)
    for n, sample in enumerate(heard):
        disk.error = number if 10 <= n < 20 else None
        writer.write(sample)
        assert writer.waiting == (n - 9 if 10 <= n < 20 else 0)
        assert (writer.blocked is not None) == (10 <= n < 20)
    writer.close()
    text = parse_journal((tmp_path / "x.csv").read_bytes(), "x")

    assert text.rows == [encode_row(s, COLUMNS).rpartition(b",")[0] for s in heard]
    assert not text.damage


def test_the_waiting_line_is_bounded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When memory's share is used up the oldest samples go first, counted."""
    monkeypatch.setattr(journal, "PENDING_MAX", 5)
    disk = Disk()
    writer = JournalWriter.create(tmp_path / "x.csv", LogMeta(), COLUMNS, write=disk.write)
    disk.error = errno.ENOSPC
    for sample in drive(8):
        writer.write(sample)
    writer.close()

    assert (writer.waiting, writer.dropped) == (5, 3)


def test_a_disk_full_to_the_end_is_told_by_close(tmp_path: Path) -> None:
    """Closing keeps count of what no disk took, and the journal ends with a whole row."""
    disk = Disk()
    writer = JournalWriter.create(tmp_path / "x.csv", LogMeta(), COLUMNS, write=disk.write)
    writer.write(drive(1)[0])
    disk.error = errno.ENOSPC
    writer.write(drive(2)[1])
    writer.close()
    writer.close()

    assert writer.waiting == 1
    assert writer.blocked is not None
    assert len(parse_journal((tmp_path / "x.csv").read_bytes(), "x").rows) == 1


@pytest.mark.skipif(os.name == "nt", reason="needs a limit on file size")
def test_a_real_file_limit_acts_as_a_full_disk(tmp_path: Path) -> None:
    """The system's own refusal, not an invented one: samples wait, whole rows stay."""
    import resource
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    writer = JournalWriter.create(tmp_path / "x.csv", LogMeta(), COLUMNS)
    try:
        resource.setrlimit(resource.RLIMIT_FSIZE, (1000, before[1]))
        for sample in drive(40):
            writer.write(sample)
        waiting = writer.waiting
        limited = parse_journal((tmp_path / "x.csv").read_bytes(), "x")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    writer.close()
    text = parse_journal((tmp_path / "x.csv").read_bytes(), "x")

    assert waiting > 20
    assert (len(limited.rows), bool(limited.damage)) == (40 - waiting, False)
    assert len(text.rows) == 40


def test_a_second_writer_is_refused(tmp_path: Path) -> None:
    """One journal has one writer."""
    written(tmp_path / "x.csv", [])
    with pytest.raises(LogInUse, match="exists already"):
        JournalWriter.create(tmp_path / "x.csv", LogMeta(), COLUMNS)


@pytest.mark.parametrize(("spoil", "message"), [
    (lambda _: b"", "the file is empty"),
    (lambda d: d[:20], "no column line"),
    (lambda _: b"time,amps\n1,2\n", "not a packhand journal — 'packhand import'"),
    (lambda _: b"\x89PNG\r\n\x1a\n" * 5, "not a packhand journal"),
    (lambda d: d.replace(b"time,mono", b"when,mono"), "column line 'when,mono"),
    (lambda d: d.replace(b"current_a", b"current_q"), "unknown column 'current_q'"),
    (lambda d: d.replace(b"# format: 1", b"# format: 9"), "log format 9"),
])
def test_what_is_no_journal_is_told(tmp_path: Path, spoil: Callable[[bytes], bytes],
                                    message: str) -> None:
    """A file that is not a journal gets one clear line."""
    written(tmp_path / "x.csv", drive(1))
    with pytest.raises(LogFormatError, match=message):
        parse_journal(spoil((tmp_path / "x.csv").read_bytes()), "x.csv")
