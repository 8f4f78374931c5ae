"""A raw capture as one stream: all bytes, and when each chunk of them came."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from ..rawfile import Chunk

Bytes = NDArray[np.uint8]
Places = NDArray[np.int64]
Times = NDArray[np.float64]


@dataclass(frozen=True)
class Stream:
    """All that was heard, in order."""

    data: bytes
    #: Where each chunk begins in ``data``.
    starts: Places
    #: When each chunk came. [s, Unix]
    times_s: Times

    @classmethod
    def of(cls, chunks: Sequence[Chunk]) -> Self:
        """Joined chunks; empty ones say nothing and are left out."""
        full = [chunk for chunk in chunks if chunk.data]
        sizes = np.array([len(chunk.data) for chunk in full], dtype=np.int64)
        times_s = np.array([chunk.time_ms / 1000 for chunk in full])
        return cls(b"".join(chunk.data for chunk in full), np.cumsum(sizes) - sizes, times_s)

    @property
    def bytes(self) -> Bytes:
        return np.frombuffer(self.data, np.uint8)

    def time_of(self, at: Places) -> Times:
        """When the byte at each place came. [s, Unix]"""
        found: Times = self.times_s[np.searchsorted(self.starts, at, side="right") - 1]
        return found
