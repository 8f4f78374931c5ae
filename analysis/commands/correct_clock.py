"""``packhand correct clock``: when a log really began that was recorded with a wrong clock."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collector.corrections import Correction
    from collector.logbook import Logbook, LogEntry

#: What the row of a log's first sample may lie beside the log's own beginning. [ms]
_MARGIN_MS: Final = 1000


def clock_correction(arguments: argparse.Namespace, book: Logbook, number: int,
                     until_ms: int | None) -> Correction:
    """The correction that moves a log, and with ``--until`` those that the same clock dated.

    Raises
    ------
    LogbookError
        If the log or its true beginning is not said, not there or still to come.
    """
    from collector.clock import Clock, from_person, iso_utc
    from collector.corrections import Correction
    from collector.errors import LogbookError

    entry = _entry(arguments, book)
    if arguments.began is None:
        raise LogbookError("correct clock", "nothing says when the log really began",
                           'add --began with its day and time, such as --began "2026-05-11 14:05"')
    try:
        true_ms = from_person(arguments.began)
    except ValueError:
        raise LogbookError("--began", f"{arguments.began!r} is not a time",
                           'such as "2026-05-11 14:05"') from None
    now_ms = Clock().now()[0]
    if true_ms > now_ms:
        raise LogbookError("--began", f"{arguments.began} is still to come",
                           "type when the log began, by a clock that is right")
    first_ms, last_ms = _told(entry)
    return Correction(
        number, now_ms, arguments.pack or "", "time", (first_ms - true_ms) / 1000, 1.0,
        first_ms - _MARGIN_MS, until_ms or last_ms + _MARGIN_MS,
        arguments.reason or f"{entry.stem} began {iso_utc(true_ms)[:16]}Z")


def _entry(arguments: argparse.Namespace, book: Logbook) -> LogEntry:
    from collector.errors import LogbookError

    known = [entry for entry in book.logs() if not entry.is_live]
    if arguments.log is None:
        raise LogbookError("correct clock", "nothing says which log",
                           "add --log with its name, such as --log 2000-01-01T00-01-40Z")
    stem = arguments.log.rsplit("/", 1)[-1].partition(".")[0]
    found = next((entry for entry in known if entry.stem == stem), None)
    if found is None:
        raise LogbookError("--log", f"no log {stem!r} in {book.root}",
                           "its logs lie in the folder logs/, named by when they began")
    return found


def _told(entry: LogEntry) -> tuple[int, int]:
    """First and last moment of a log by the computer's clock of then. [ms]"""
    import pyarrow as pa
    import pyarrow.compute as pc

    from collector.errors import LogFormatError
    from collector.logfile import read_log

    times = pc.drop_null(pc.cast(read_log(entry.path, ()).table["time"], pa.int64()))
    if not len(times):
        raise LogFormatError(str(entry.path), "no row has a time", "look at its time column")
    return int(pc.min(times).as_py()), int(pc.max(times).as_py())
