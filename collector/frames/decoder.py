"""Bytes as they arrive to rows of figures, as a description says."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Final

from .counts import Counts
from .fields import Row
from .framing import open_framer

if TYPE_CHECKING:
    from ..monitors.schema import Description

#: How many of the last bytes are kept to describe what was heard.
_RECENT: Final = 4096
#: A greater share of readable bytes is text; of random bytes 38 % are readable.
_TEXT_SHARE: Final = 0.95


class Decoder:
    """Reads one monitor's stream."""

    def __init__(self, description: Description) -> None:
        self._description = description
        check = description.check
        is_good = check.is_good if check else _anything
        self._shortest = description.shortest
        self._tail = description.tail
        self._framer = open_framer(description.framing, is_good, self._shortest)
        self._read = self._read_binary
        if description.form:
            self._read, self._tokens = self._read_text, description.form.open()
        self._heard_bytes = self._frames = self._undecodable = 0
        self._recent = b""

    @property
    def counts(self) -> Counts:
        """The counts at this moment."""
        skipped = self._framer.skipped
        return Counts(self._heard_bytes, self._frames, skipped.failed_checks,
                      skipped.junk_bytes, self._undecodable)

    def feed(self, data: bytes) -> list[Row]:
        """The rows these bytes made whole, in order; figures in the unit of their column.

        A missing figure is absent. What cannot be read is counted, never raised.
        """
        self._heard_bytes += len(data)
        self._recent = (self._recent + data)[-_RECENT:]
        rows = [row for frame in self._framer.feed(data) if (row := self._read(frame))]
        self._frames += len(rows)
        return rows

    def _read_binary(self, frame: bytes) -> Row:
        row: Row = {}
        if len(frame) >= self._shortest:
            content = frame[:len(frame) - self._tail]
            for part in self._description.fields:
                part.read_into(row, content)
        self._undecodable += not row
        return row

    def _read_text(self, frame: bytes) -> Row:
        row: Row = {}
        content = frame[len(self._description.framing.start):len(frame) - self._tail]
        tokens = self._tokens(content.decode("utf-8", "replace"))
        for part in self._description.text_fields:
            part.read_into(row, tokens)
        self._undecodable += not row
        return row

    def describe_junk(self) -> str:
        """What was heard, in words, for a person whose monitor gives no figures."""
        counts = self.counts
        if not counts.heard_bytes:
            return "nothing was heard"
        return f"{_grouped(counts.heard_bytes)} bytes, {self._outcome(counts)}"

    def _outcome(self, counts: Counts) -> str:
        if counts.frames:
            return (f"{_grouped(counts.frames)} frames, "
                    f"{_grouped(counts.failed_checks)} failed the check, "
                    f"{_grouped(counts.junk_bytes)} bytes of junk")
        is_text = _readable_share(self._recent) > _TEXT_SHARE
        seen = _longest_line(self._recent) if is_text else _frequent(self._recent)
        first = "" if is_text else "the baud rate, then "
        if counts.undecodable:
            return (f"{_grouped(counts.undecodable)} frames, none with a known field; "
                    f"{seen}: check the description's fields")
        if counts.failed_checks:
            return (f"{_grouped(counts.failed_checks)} began like a frame, none passed the check; "
                    f"{seen}: check {first}the description's check")
        return f"no frame among them; {seen}: check {first}the kind of monitor"


def _anything(_frame: bytes) -> bool:
    return True


def _grouped(number: int) -> str:
    return f"{number:,}".replace(",", " ")


def _frequent(data: bytes) -> str:
    """The three bytes met most, with their share."""
    shares = ", ".join(f"0x{byte:02X} ({100 * count / len(data):.0f} %)"
                       for byte, count in Counter(data).most_common(3))
    return f"most frequent bytes {shares}"


def _longest_line(data: bytes) -> str:
    line = max(data.splitlines(), key=len)[:40].decode("ascii", "replace")
    return f"it is text such as {line!r}"


def _readable_share(data: bytes) -> float:
    return sum(32 <= byte < 127 or byte in b"\r\n\t" for byte in data) / len(data)
