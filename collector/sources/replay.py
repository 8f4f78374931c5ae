"""Playing again what was heard: a raw capture as if live, or a finished log as it stands.

A capture goes through the very path of a live monitor: ``CaptureLink`` stands for the port and
brings its own clock, so a better description gives a better log from the same bytes.
"""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from ..clock import Clock
from ..errors import SourceUnavailable
from ..journal import LEADING, TRAILING
from ..logfile import read_log
from ..rawfile import Chunk, read_raw
from ..record import Sample

#: Speed that waits for nothing.
AT_ONCE: Final = math.inf


class CaptureLink:
    """A raw capture in the place of a port.

    ``clock`` shows the time of the capture: hand it to the ``DescribedSource``, so that samples
    carry the times at which the bytes were heard.
    """

    def __init__(self, path: Path, speed: float = AT_ONCE) -> None:
        self.name = str(path)
        self.clock = Clock(wall=lambda: self._wall_s, steady=lambda: self._steady_s)
        self._path = path
        self._speed = speed
        self._chunks: Iterator[Chunk] = iter(())
        self._next: Chunk | None = None
        self._wall_s = self._steady_s = 0.0

    def open(self) -> None:
        """Start from the beginning.

        Raises
        ------
        SourceUnavailable
            If the file is missing or may not be read.
        LogFormatError
            If the first line is not a time and bytes.
        """
        self._chunks = read_raw(self._path)
        try:
            self._next = next(self._chunks, None)
        except OSError as error:
            raise SourceUnavailable(self.name, f"cannot be read ({error.strerror})",
                                    "give the path of a raw capture") from error
        if self._next is not None:
            self._wall_s, self._steady_s = self._next.time_ms / 1000, self._next.monotonic_s

    def read(self, timeout_s: float) -> bytes:
        """The next chunk if it is due within the timeout, else nothing; ``EOFError`` at the end."""
        chunk = self._next
        if chunk is None:
            raise EOFError(self.name)
        wait_s = chunk.monotonic_s - self._steady_s
        time.sleep(min(wait_s, timeout_s) / self._speed)
        if wait_s > timeout_s:
            self._wall_s += timeout_s
            self._steady_s += timeout_s
            return b""
        self._wall_s, self._steady_s = chunk.time_ms / 1000, chunk.monotonic_s
        self._next = next(self._chunks, None)
        return chunk.data

    def write(self, data: bytes) -> None:
        """Nobody is there to ask; the answers stand in the capture."""

    def close(self) -> None:
        self._chunks, self._next = iter(()), None


class LogReplay:
    """A finished log as a source: its samples and events with their own times."""

    def __init__(self, path: Path, speed: float = AT_ONCE) -> None:
        self.name = str(path)
        self._log = read_log(path)
        self.columns = self._log.columns
        self.clock = Clock(wall=lambda: self._now[0] / 1000, steady=lambda: self._now[1])
        self._now = (0, 0.0)
        self._speed = speed

    def open(self) -> None:
        """Start from the beginning; the log was read when the replay was made."""
        for row in self._log.table.slice(0, 1).to_pylist():
            self._keep_time(_sample(row))

    def _keep_time(self, sample: Sample) -> None:
        self._now = sample.time_ms, sample.monotonic_s

    def close(self) -> None:
        """Nothing to let go."""

    def heard(self, stop: threading.Event) -> Iterator[Sample]:
        """The samples at their pace, times ``speed``."""
        for batch in self._log.table.to_batches(max_chunksize=1000):
            for row in batch.to_pylist():
                sample = _sample(row)
                step_s = sample.monotonic_s - self._now[1]
                if stop.wait(max(step_s, 0.0) / self._speed):
                    return
                self._keep_time(sample)
                yield sample


def _sample(row: dict[str, Any]) -> Sample:
    fixed = (*LEADING, *TRAILING)
    values = {k: v for k, v in row.items() if v is not None and k not in fixed}
    return Sample(round(row["time"].timestamp() * 1000), row["monotonic_s"], values,
                  row["event"] or "")
