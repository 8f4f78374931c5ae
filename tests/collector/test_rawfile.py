"""The bytes as heard: kept, read back, never in the way."""

import errno
import os
import tempfile
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.errors import LogFormatError
from collector.rawfile import Chunk, RawWriter, read_raw


@settings(derandomize=True, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 10**13), st.binary(max_size=40))))
def test_chunks_read_back(heard: list[tuple[int, bytes]]) -> None:
    """Every byte and every millisecond; the steady time never runs backwards."""
    with tempfile.TemporaryDirectory() as folder:
        with RawWriter(Path(folder) / "x.raw", "a comment") as raw:
            for time_ms, data in heard:
                raw.write(Chunk(time_ms, 0.0, data))
        chunks = list(read_raw(Path(folder) / "x.raw"))

    assert [(c.time_ms, c.data) for c in chunks] == heard
    assert all(a.monotonic_s <= b.monotonic_s for a, b in pairwise(chunks))


def test_a_clock_set_back_stops_the_steady_time_only(tmp_path: Path) -> None:
    """After a step back the seconds go on counting from where they were."""
    with RawWriter(tmp_path / "x.raw", "") as raw:
        for time_ms in (10_000, 12_000, 5_000, 6_500):
            raw.write(Chunk(time_ms, 0.0, b"x"))

    assert [c.monotonic_s for c in read_raw(tmp_path / "x.raw")] == [0.0, 2.0, 2.0, 3.5]


def test_the_form_is_what_anyone_can_read(tmp_path: Path) -> None:
    """A comment, then time and hexadecimal bytes."""
    with RawWriter(tmp_path / "x.raw", "heard from COM3") as raw:
        raw.write(Chunk(1_775_117_700_007, 1.0, b"\x0a\xff"))

    assert (tmp_path / "x.raw").read_text() == (
        "# heard from COM3\n2026-04-02T08:15:00.007Z 0aff\n")


def test_a_torn_last_line_is_passed_over(tmp_path: Path) -> None:
    """A recorder killed while writing costs that chunk only."""
    path = tmp_path / "x.raw"
    path.write_text("2026-04-02T08:15:00.000Z 0a\n2026-04-02T08:15:01.000Z 0")

    assert [c.data for c in read_raw(path)] == [b"\x0a"]


def test_a_line_that_is_no_chunk_is_named(tmp_path: Path) -> None:
    """The message gives file, line and the form that is expected."""
    path = tmp_path / "x.raw"
    path.write_text("# x\nhello\n")
    with pytest.raises(LogFormatError, match=r"x\.raw, line 2: 'hello' is not a time and hex"):
        list(read_raw(path))


def test_a_full_disk_costs_chunks_and_counts_them(tmp_path: Path) -> None:
    """The capture goes on when there is room again, without a torn line between."""
    is_full = False

    def write(descriptor: int, data: bytes) -> int:
        if is_full:
            raise OSError(errno.ENOSPC, "No space left on device")
        return os.write(descriptor, data)

    with RawWriter(tmp_path / "x.raw", "x", write=write) as raw:
        for n in range(3):
            is_full = n == 1
            raw.write(Chunk(n, 0.0, bytes([n])))

    assert raw.dropped == 1
    assert [c.data for c in read_raw(tmp_path / "x.raw")] == [b"\x00", b"\x02"]
