"""From a source to a log: write what is heard, watch clock and disk, close everything whole."""

from __future__ import annotations

import os
import tempfile
import threading
from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from .appendfile import Write
from .clock import clock_step_s
from .errors import LogFormatError
from .journal import JournalWriter
from .logbook import Logbook, unwritable
from .logfile import JOURNAL_SUFFIX, finish_log
from .meta import LogMeta
from .rawfile import RAW_SUFFIX, Chunk, RawWriter
from .record import Sample
from .sources import Heard, Source
from .sources.pump import pumped

#: Events that begin a stretch without samples.
GAP_KINDS: Final = ("link lost", "silent")


@dataclass(slots=True)
class Recording:
    """How a recording goes; at its end, what became of it."""

    #: The log: a journal while recording, Parquet once sealed. ``None`` if nothing was heard.
    path: Path | None
    #: The bytes as heard.
    raw_path: Path | None
    #: Samples with values handed to the log.
    samples: int = 0
    #: Stretches without samples that have a known cause.
    gaps: int = 0
    #: Samples heard that are in no file.
    unsaved: int = 0
    #: A journal outside the logbook with the samples that did not fit on its disk.
    rescued: Path | None = None
    #: Raw chunks that are in no file.
    raw_dropped: int = 0
    #: Why the log is still a journal; empty if it was sealed.
    problem: str = ""


def _ignore(*_: object) -> None:
    """Listens to nothing."""


def record(source: Source, logbook: Logbook, meta: LogMeta, stop: threading.Event, *,
           on_sample: Callable[[Sample, Recording], None] = _ignore,
           on_words: Callable[[str], None] = _ignore,
           write: Write = os.write) -> Recording:
    """Record until ``stop`` is set or the source ends, then seal the log.

    Journals left behind by a crash are brought back first. The logbook is made if it is missing,
    once the source is open: a port that is not there leaves no folder behind.

    Parameters
    ----------
    on_sample
        Called after each sample or event was handed to the log.
    on_words
        Called with one line for the person: start and end, a journal brought back, a full
        disk.

    Raises
    ------
    SourceUnavailable
        If the monitor cannot be opened; no file is made then.
    LogbookError
        If the folder cannot be written.
    LogInUse
        If another recorder holds the log.
    """
    for recovery in logbook.recover():
        on_words(recovery.words)
    source.open()
    with closing(source):
        Logbook.create(logbook.root)
        stem = logbook.stem_for(datetime.fromtimestamp(source.clock.wall(), UTC))
        with logbook.hold(stem):
            pen = _Pen(*_files(logbook, stem, meta, source, write), on_sample, on_words)
            on_words(f"recording {source.name} into {pen.recording.path}")
            try:
                with closing(pumped(source, stop)) as heard:
                    for item in heard:
                        pen.put(item)
            finally:
                pen.close()
            on_words(f"closing {pen.recording.path}")
            return pen.sealed()


def _files(logbook: Logbook, stem: str, meta: LogMeta, source: Source,
           write: Write) -> tuple[JournalWriter, RawWriter]:
    """Both files of a new log, or none."""
    path, raw_path = (logbook.log_path(stem, s) for s in (JOURNAL_SUFFIX, RAW_SUFFIX))
    try:
        raw = RawWriter(raw_path, f"bytes as heard from {source.name}", write=write)
    except OSError as error:
        raise unwritable(logbook.logs_folder, error) from error
    try:
        return JournalWriter.create(path, meta, source.columns, write=write), raw
    except OSError as error:
        raw.close()
        raw_path.unlink()
        raise unwritable(logbook.logs_folder, error) from error


class _Pen:
    """The open files of one recording."""

    def __init__(self, journal: JournalWriter, raw: RawWriter,
                 on_sample: Callable[[Sample, Recording], None],
                 on_words: Callable[[str], None]) -> None:
        self.recording = Recording(journal.path, raw.path)
        self._journal = journal
        self._raw = raw
        self._on_sample = on_sample
        self._on_words = on_words
        self._previous: tuple[int, float] | None = None
        self._is_gap = False
        self._is_blocked = False
        self._dropped_told = 0
        self._is_empty = True

    def put(self, item: Heard) -> None:
        """Write one chunk or sample, after a clock step if there was one."""
        self._is_empty = False
        now = (item.time_ms, item.monotonic_s)
        if self._previous and (step_s := clock_step_s(self._previous, now)):
            way = "forward" if step_s > 0 else "back"
            self._write(Sample(*now, event=f"clock step: {abs(step_s):.3f} s {way}"))
        self._previous = now
        if isinstance(item, Chunk):
            self._raw.write(item)
        else:
            self._write(item)

    def _write(self, sample: Sample) -> None:
        self._journal.write(sample)
        self.recording.samples += bool(sample.values)
        self._count_gap(sample)
        self.recording.unsaved = self._journal.waiting + self._journal.dropped
        self._watch_disk(sample)
        self._on_sample(sample, self.recording)

    def _count_gap(self, sample: Sample) -> None:
        """A loss and the silence after it are one gap, up to the next sample."""
        if sample.values:
            self._is_gap = False
        elif sample.event.startswith(GAP_KINDS) and not self._is_gap:
            self._is_gap = True
            self.recording.gaps += 1

    def _watch_disk(self, sample: Sample) -> None:
        """Say once that the disk takes nothing, once that it does again; mark what is lost."""
        blocked = self._journal.blocked
        if blocked is not None and not self._is_blocked:
            self._on_words(f"{self._journal.path}: cannot be written ({blocked.strerror}); "
                           "samples wait in memory — make room on the disk")
        if blocked is None and self._is_blocked:
            self._on_words(f"{self._journal.path}: written again")
            if lost := self._journal.dropped - self._dropped_told:
                self._dropped_told += lost
                self._journal.write(Sample(sample.time_ms, sample.monotonic_s,
                                           event=f"not saved: {lost} samples"))
        self._is_blocked = blocked is not None

    def close(self) -> None:
        """Force everything to disk and let go of the files."""
        self._journal.close()
        self._raw.close()
        if self._journal.waiting:
            self._rescue()
        self.recording.unsaved = self._journal.waiting + self._journal.dropped
        self.recording.raw_dropped = self._raw.dropped

    def _rescue(self) -> None:
        """Bring what waits onto another disk: the person's own folder, or the temporary one."""
        for folder in (Path.home(), Path(tempfile.gettempdir())):
            path = folder / f"{self._journal.path.stem}-rest{JOURNAL_SUFFIX}"
            with suppress(OSError):
                self._journal.rescue(path)
                self.recording.rescued = path
                return

    def sealed(self) -> Recording:
        """Turn the journal into Parquet; a log of nothing is removed."""
        journal = self._journal.path
        if self._is_empty:
            journal.unlink()
            self._raw.path.unlink()
            self.recording.path = self.recording.raw_path = None
            return self.recording
        try:
            self.recording.path = finish_log(journal)
        except OSError as error:
            self.recording.problem = (f"{journal}: cannot be sealed ({error.strerror}) — make "
                                      "room; the next recording into this logbook seals it")
        except LogFormatError as error:
            self.recording.problem = str(error)
        return self.recording
