"""From a source to a log: write what is heard, watch clock and disk, close everything whole."""

from __future__ import annotations

import math
import os
import tempfile
import threading
from collections.abc import Callable, Iterable, Sequence
from contextlib import ExitStack, closing, suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from .appendfile import Write
from .errors import LogbookError, LogFormatError, LogInUse
from .gaps import GAP_KINDS, Witness, restarted
from .journal import JournalWriter
from .logbook import Logbook, Recovery, unwritable
from .logfile import JOURNAL_SUFFIX, finish_log, last_moment, read_meta
from .meta import LogMeta
from .rawfile import RAW_SUFFIX, Chunk, RawWriter
from .record import Sample, in_log_order
from .sources import Heard, Source
from .sources.pump import pumped


@dataclass(slots=True)
class Recording:
    """How a recording goes; at its end, what became of it."""

    #: The log: a journal while recording, Parquet once sealed. ``None`` if nothing was heard.
    path: Path | None
    #: The bytes as heard from the first monitor; those of a second one in ``.2.raw`` beside it.
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
    #: Logs of this recording that ended with a change of the monitor, oldest first.
    earlier: tuple[Recording, ...] = ()


#: A log that a change began lasts so long at least: a bad contact makes no heap of logs. [s]
APART_S: Final = 60.0

#: Told of each sample; gives the events that follow from it.
OnSample = Callable[[Sample, Recording], Iterable[str] | None]


def _ignore(*_: object) -> None:
    """Listens to nothing."""


def record(source: Source, logbook: Logbook, meta: LogMeta, stop: threading.Event, *,
           beside: Sequence[Source] = (),
           on_sample: OnSample = _ignore,
           on_words: Callable[[str], None] = _ignore,
           write: Write = os.write) -> Recording:
    """Record until ``stop`` is set or the source ends, then seal the log.

    Journals left behind by a crash are brought back first. The logbook is made if it is missing,
    once the source is open: a port that is not there leaves no folder behind. Where a source says
    that its monitor has changed, the log is sealed and a new one begun.

    Parameters
    ----------
    beside
        Further sources for the same log: a receiver of speed and place beside the pack's monitor,
        a key that sets marks. Each keeps its own stamps, losses and raw capture; no quantity may
        come from two of them.
    on_sample
        Called after each sample or event was handed to the log. What it returns, such as an
        alarm, is written as events of that moment.
    on_words
        Called with one line for the person: start and end, a journal brought back, a full
        disk.

    Raises
    ------
    SourceUnavailable
        If a monitor cannot be opened; no file is made then.
    LogbookError
        If the folder cannot be written.
    LogInUse
        If another recorder holds the log.
    """
    recovered = logbook.recover()
    for recovery in recovered:
        on_words(recovery.words)
    sources = (source, *beside)
    columns = joined_columns(sources)
    with ExitStack() as opened:
        for each in sources:
            each.open()
            opened.enter_context(closing(each))
        Logbook.create(logbook.root)
        names = {number: each.name for number, each in enumerate(sources) if each.columns}
        witness = Witness(source.clock, names)

        def begin(first: Sample | None, start_s: float) -> _Pen:
            with ExitStack() as kept:
                stem = kept.enter_context(
                    logbook.new_log(datetime.fromtimestamp(start_s, UTC)))
                files = _files(logbook, stem, meta, sources, columns, write)
                pen = _Pen(*files, witness, first, on_sample, on_words, kept.pop_all())
            on_words(f"recording {' and '.join(names.values())} into {pen.recording.path}")
            return pen

        pens = [begin(_restart(recovered, meta, source.clock.now()), source.clock.wall())]
        try:
            with closing(pumped(sources, stop)) as heard:
                while change := pens[-1].write_down(heard):
                    try:
                        pens.append(begin(change, change.time_ms / 1000))
                    except (LogbookError, LogInUse) as error:
                        on_words(f"{error}; the log goes on with what has changed")
                        continue
                    pens[-2].finish()
            pens[-1].finish()
        finally:
            pens[-1].close()
    kept = [pen.recording for pen in pens if pen.recording.path] or [pens[0].recording]
    return replace(kept[-1], earlier=tuple(kept[:-1]))


def joined_columns(sources: Sequence[Source]) -> tuple[str, ...]:
    """All their columns, in log order.

    Raises
    ------
    ValueError
        If two of them hold the same quantity.
    """
    every = [column for source in sources for column in source.columns]
    if twice := {column for column in every if every.count(column) > 1}:
        raise ValueError(f"told by two monitors: {', '.join(in_log_order(twice))}")
    return tuple(in_log_order(set(every))) if len(sources) > 1 else sources[0].columns


def _restart(recovered: Iterable[Recovery], meta: LogMeta, now: tuple[int, float]) -> Sample | None:
    """The event for a log of the same monitor that was cut off, if one was just brought back."""
    for recovery in recovered:
        if recovery.problem:
            continue
        before = read_meta(recovery.path)
        if (before.origin, before.pack) != (meta.origin, meta.pack):
            continue
        if last := last_moment(recovery.path):
            return restarted(recovery.path.stem, last, now)
    return None


def _files(logbook: Logbook, stem: str, meta: LogMeta, sources: Sequence[Source],
           columns: tuple[str, ...], write: Write) -> tuple[JournalWriter, dict[int, RawWriter]]:
    """All files of a new log, or none: a raw capture for each monitor, and the journal."""
    raws: dict[int, RawWriter] = {}
    try:
        for number, source in enumerate(sources):
            if source.columns or not number:
                suffix = f".{number + 1}{RAW_SUFFIX}" if number else RAW_SUFFIX
                raws[number] = RawWriter(logbook.log_path(stem, suffix),
                                         f"bytes as heard from {source.name}", write=write)
        journal = logbook.log_path(stem, JOURNAL_SUFFIX)
        return JournalWriter.create(journal, meta, columns, write=write), raws
    except OSError as error:
        for raw in raws.values():
            raw.close()
            raw.path.unlink()
        raise unwritable(logbook.logs_folder, error) from error


def _remedy(error: OSError) -> str:
    return ("bring the folder back" if isinstance(error, FileNotFoundError)
            else "make room on the disk")


def _is_change(sample: Sample) -> bool:
    return sample.event.startswith("changed: ")


class _Pen:
    """The open files of one recording."""

    def __init__(self, journal: JournalWriter, raws: dict[int, RawWriter], witness: Witness,
                 first: Sample | None, on_sample: OnSample, on_words: Callable[[str], None],
                 hold: ExitStack) -> None:
        self.recording = Recording(journal.path, raws[0].path)
        self._journal = journal
        self._raws = raws
        self._witness = witness
        self._on_sample = on_sample
        self._on_words = on_words
        self._hold = hold
        #: What the log begins with, once something is heard.
        self._first = first
        self._whole_s = first.monotonic_s + APART_S if first and _is_change(first) else -math.inf
        self._in_gap: set[int] = set()
        self._is_blocked = False
        self._dropped_told = 0
        self._is_empty = True
        self._is_closed = False

    def write_down(self, heard: Iterable[tuple[int, Heard]]) -> Sample | None:
        """Write what is heard until its end, or until a change, which is given back."""
        for number, item in heard:
            self.put(number, item)
            if isinstance(item, Sample) and _is_change(item) and item.monotonic_s >= self._whole_s:
                return item
        return None

    def put(self, number: int, item: Heard) -> None:
        """Write one chunk or sample, after what happened to the computer before it."""
        self._is_empty = False
        if self._first is not None:
            first, self._first = self._first, None
            self._write(number, first)
        for event in self._witness.before(item):
            self._write(number, event)
        if isinstance(item, Chunk):
            self._raws[number].write(item)
        else:
            self._write(number, self._witness.named(number, item))

    def _write(self, number: int, sample: Sample) -> None:
        self._journal.write(sample)
        self.recording.samples += bool(sample.values)
        self._count_gap(number, sample)
        self.recording.unsaved = self._journal.waiting + self._journal.dropped
        self._watch_disk(sample)
        for words in self._on_sample(sample, self.recording) or ():
            self._write(number, Sample(sample.time_ms, sample.monotonic_s, event=words))

    def _count_gap(self, number: int, sample: Sample) -> None:
        """A loss and the silence after it are one gap, up to the monitor's next sample."""
        if sample.values:
            self._in_gap.discard(number)
        elif sample.event.startswith(GAP_KINDS) and number not in self._in_gap:
            self._in_gap.add(number)
            self.recording.gaps += 1

    def _watch_disk(self, sample: Sample) -> None:
        """Say once that the disk takes nothing, once that it does again; mark what is lost."""
        blocked = self._journal.blocked
        if blocked is not None and not self._is_blocked:
            self._on_words(f"{self._journal.path}: cannot be written ({blocked.strerror}); "
                           f"samples wait in memory — {_remedy(blocked)}")
        if blocked is None and self._is_blocked:
            self._on_words(f"{self._journal.path}: written again")
            if lost := self._journal.dropped - self._dropped_told:
                self._dropped_told += lost
                self._journal.write(Sample(sample.time_ms, sample.monotonic_s,
                                           event=f"not saved: {lost} samples"))
        self._is_blocked = blocked is not None

    def finish(self) -> None:
        """Close the log and seal it."""
        with self._hold:
            self._close_files()
            self._on_words(f"closing {self.recording.path}")
            self._seal()

    def close(self) -> None:
        """Let go of a log that was not finished: it stays a journal. May be called twice."""
        with self._hold:
            self._close_files()

    def _close_files(self) -> None:
        """Force everything to disk and let go of the files."""
        if self._is_closed:
            return
        self._is_closed = True
        self._journal.close()
        for raw in self._raws.values():
            raw.close()
        if self._journal.waiting:
            self._rescue()
        self.recording.unsaved = self._journal.waiting + self._journal.dropped
        self.recording.raw_dropped = sum(raw.dropped for raw in self._raws.values())

    def _rescue(self) -> None:
        """Bring what waits onto another disk: the person's own folder, or the temporary one."""
        for folder in (Path.home(), Path(tempfile.gettempdir())):
            path = folder / f"{self._journal.path.stem}-rest{JOURNAL_SUFFIX}"
            with suppress(OSError):
                self._journal.rescue(path)
                self.recording.rescued = path
                return

    def _seal(self) -> None:
        """Turn the journal into Parquet; a log of nothing is removed."""
        journal = self._journal.path
        if self._is_empty:
            journal.unlink()
            for raw in self._raws.values():
                raw.path.unlink()
            self.recording.path = self.recording.raw_path = None
            return
        try:
            self.recording.path = finish_log(journal)
        except OSError as error:
            self.recording.problem = (f"{journal}: cannot be sealed ({error.strerror}) — "
                                      f"{_remedy(error)}; the next recording into this logbook "
                                      "seals it")
        except LogFormatError as error:
            self.recording.problem = str(error)
