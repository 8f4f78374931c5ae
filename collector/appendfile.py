"""A file that is only ever appended to, in pieces that are written whole or not at all."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Final, Self

#: How bytes reach the system: ``(descriptor, data) -> bytes written``; tests fill the disk here.
Write = Callable[[int, bytes], int]

_NEW: Final = (os.O_CREAT | os.O_EXCL | os.O_WRONLY | os.O_APPEND | getattr(os, "O_BINARY", 0))


class AppendFile:
    """An open file without a buffer: what ``append`` accepted survives the program's death."""

    def __init__(self, descriptor: int, write: Write) -> None:
        self._descriptor = descriptor
        self._write = write
        self._has_name = os.fstat(descriptor).st_nlink > 0

    @classmethod
    def create(cls, path: Path, head: bytes, write: Write = os.write) -> Self:
        """Start a file with its first bytes forced to disk; leaves nothing behind if it fails.

        Raises
        ------
        FileExistsError
            If the path is taken.
        OSError
            If the folder cannot be written or the disk is full.
        """
        file = cls(os.open(path, _NEW, 0o644), write)
        try:
            file.append(head)
            file.sync()
            sync_folder(path.parent)
        except OSError:
            file.close()
            path.unlink()
            raise
        return file

    @classmethod
    def reopen(cls, path: Path, write: Write = os.write) -> Self:
        """Go on behind what a file holds; raises ``OSError`` if there is none or it is not ours."""
        flags = os.O_WRONLY | os.O_APPEND | getattr(os, "O_BINARY", 0)
        return cls(os.open(path, flags), write)

    def append(self, data: bytes) -> None:
        """Write all of ``data`` or, with an ``OSError``, nothing: a half piece is cut off again.

        A file that somebody has removed takes nothing: what it held goes with it.
        """
        status = os.fstat(self._descriptor)
        if self._has_name and not status.st_nlink:
            raise FileNotFoundError(errno.ENOENT, "somebody removed it")
        start = status.st_size
        written = 0
        try:
            while written < len(data):
                written += self._write(self._descriptor, data[written:])
        except OSError:
            if written:
                with suppress(OSError):  # then the torn piece is found by its checksum
                    os.ftruncate(self._descriptor, start)
            raise

    def sync(self) -> None:
        """Force everything to disk; raises ``OSError`` where the disk fails."""
        os.fsync(self._descriptor)

    def close(self) -> None:
        os.close(self._descriptor)


def sync_folder(folder: Path) -> None:
    """Force a folder's names to disk, where the system knows how (not on Windows)."""
    if os.name == "nt":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
