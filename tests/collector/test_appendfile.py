"""Pieces are appended whole or not at all."""

import errno
import os
from pathlib import Path

import pytest

from collector.appendfile import AppendFile


def test_a_half_written_piece_is_cut_off_again(tmp_path: Path) -> None:
    """When the disk fills in the middle of a piece, the file ends with the piece before."""
    is_full = False

    def write(descriptor: int, data: bytes) -> int:
        if is_full and len(data) < 5:
            raise OSError(errno.ENOSPC, "No space left on device")
        return os.write(descriptor, data[:3] if is_full else data)

    file = AppendFile.create(tmp_path / "x", b"head\n", write)
    is_full = True
    with pytest.raises(OSError, match="No space left"):
        file.append(b"0123456789\n")
    file.close()

    assert (tmp_path / "x").read_bytes() == b"head\n"


def test_a_short_write_is_continued(tmp_path: Path) -> None:
    """A system that takes less than offered gets the rest."""
    file = AppendFile.create(tmp_path / "x", b"", lambda d, data: os.write(d, data[:2]))
    file.append(b"0123456789")
    file.close()

    assert (tmp_path / "x").read_bytes() == b"0123456789"


def test_a_file_that_cannot_be_begun_leaves_nothing(tmp_path: Path) -> None:
    """A disk that is full at the start leaves no empty file behind."""
    def write(descriptor: int, data: bytes) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    with pytest.raises(OSError, match="No space left"):
        AppendFile.create(tmp_path / "x", b"head\n", write)

    assert list(tmp_path.iterdir()) == []


def test_a_taken_name_is_never_written_over(tmp_path: Path) -> None:
    """What is there stays as it is."""
    (tmp_path / "x").write_bytes(b"mine")
    with pytest.raises(FileExistsError):
        AppendFile.create(tmp_path / "x", b"head\n")

    assert (tmp_path / "x").read_bytes() == b"mine"
