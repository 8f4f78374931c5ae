"""The bytes as heard, kept beside the log so that nothing is ever lost to a wrong description.

One line for each chunk as received: ISO 8601 UTC time with milliseconds, a space, the bytes in
hexadecimal. Lines that start with ``#`` are comments.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Self

from .appendfile import AppendFile, Write
from .clock import from_iso_utc, iso_utc
from .errors import LogFormatError

RAW_SUFFIX = ".raw"


@dataclass(frozen=True, slots=True)
class Chunk:
    """Bytes that arrived together."""

    #: Unix time just after they were read. [ms, UTC]
    time_ms: int
    #: The recorder's steady clock at the same moment. [s]
    monotonic_s: float
    data: bytes


class RawWriter:
    """Appends chunks to a raw capture. A full disk costs chunks here, never the log."""

    def __init__(self, path: Path, comment: str, *, write: Write = os.write) -> None:
        self.path = path
        #: Chunks that could not be written.
        self.dropped = 0
        self._file = AppendFile.create(path, f"# {comment}\n".encode(), write)

    def write(self, chunk: Chunk) -> None:
        try:
            self._file.append(f"{iso_utc(chunk.time_ms)} {chunk.data.hex()}\n".encode())
        except OSError:
            self.dropped += 1

    def close(self) -> None:
        with contextlib.suppress(OSError):
            self._file.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc_info: object) -> None:
        self.close()


def read_raw(path: Path) -> Iterator[Chunk]:
    """The chunks of a raw capture.

    ``monotonic_s`` is counted from the first one; where the clock was set back it stands still.
    A last line without its end is passed over: the recorder was killed while writing it.

    Raises
    ------
    LogFormatError
        If a whole line is not a time and hexadecimal bytes; names the line.
    """
    previous: Chunk | None = None
    with path.open(encoding="ascii", errors="replace", newline="\n") as file:
        for number, line in enumerate(file, start=1):
            if line.startswith("#") or not line.endswith("\n") or not line.strip():
                continue
            time, _, digits = line.strip().partition(" ")
            try:
                time_ms, data = from_iso_utc(time), bytes.fromhex(digits)
            except ValueError:
                raise LogFormatError(
                    f"{path}, line {number}", f"{line.strip()[:40]!r} is not a time and hex bytes",
                    "a raw capture has one line a chunk: 2026-04-02T08:15:00.000Z 0a1b2c",
                ) from None
            step_ms = 0 if previous is None else max(time_ms - previous.time_ms, 0)
            passed_s = 0.0 if previous is None else previous.monotonic_s
            previous = Chunk(time_ms, round(passed_s + step_ms / 1000, 3), data)
            yield previous
