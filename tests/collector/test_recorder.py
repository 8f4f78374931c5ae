"""From a source to a log: what is heard is kept, whatever happens on the way."""

import contextlib
import errno
import os
import random
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from collector import journal, recorder
from collector.clock import Clock
from collector.errors import LogbookError, LogInUse, SourceUnavailable
from collector.frames.encoder import encode
from collector.journal import JournalWriter
from collector.logbook import Logbook
from collector.logfile import read_log
from collector.meta import LogMeta
from collector.monitors import load_description
from collector.rawfile import Chunk, RawWriter, read_raw
from collector.record import Sample
from collector.recorder import Recording, record
from collector.simulator.terminal import PseudoTerminal
from collector.sources import Heard, open_link
from collector.sources.described import DescribedSource

ROOT = Path(__file__).parents[2]
BINARY = load_description("demo-binary")
needs_posix = pytest.mark.skipif(os.name == "nt", reason="needs POSIX terminals and signals")


class Told:
    """A source that says what it is given."""

    name, columns = "told", ("current_a",)

    def __init__(self, items: list[Heard], problem: Exception | None = None) -> None:
        self.items = items
        self.problem = problem
        self.clock = Clock(lambda: 1_775_117_700.0, lambda: 0.0)
        self.is_closed = False

    def open(self) -> None:
        if self.problem:
            raise self.problem

    def heard(self, _stop: threading.Event) -> Iterator[Heard]:
        yield from self.items

    def close(self) -> None:
        self.is_closed = True


def samples(count: int) -> list[Heard]:
    return [Sample(1_775_117_700_000 + 100 * n, n / 10, {"current_a": float(n)})
            for n in range(count)]


def recorded(folder: Path, source: Any, **options: Any) -> Recording:
    return record(source, Logbook(folder), LogMeta(pack="p"), threading.Event(), **options)


def rows_of(recording: Recording) -> list[dict[str, Any]]:
    assert recording.path is not None
    rows: list[dict[str, Any]] = read_log(recording.path).table.to_pylist()
    return rows


def test_what_is_heard_is_in_the_log_and_in_the_capture(tmp_path: Path) -> None:
    """Samples go to the log, bytes to the capture beside it; the journal is sealed."""
    first, last = (Chunk(1_775_117_700_000 + n, n / 1000, b"%d" % n) for n in (0, 200))
    source = Told([first, *samples(3), last])
    recording = recorded(tmp_path, source)

    assert recording.path == tmp_path / "logs" / "2026-04-02T08-15-00Z.parquet"
    assert [row["current_a"] for row in rows_of(recording)] == [0.0, 1.0, 2.0]
    assert recording.raw_path is not None
    assert [c.data for c in read_raw(recording.raw_path)] == [b"0", b"200"]
    assert (recording.samples, recording.gaps, recording.problem) == (3, 0, "")
    assert source.is_closed
    assert not list(tmp_path.rglob("*.lock"))


@pytest.mark.parametrize(("set_to_s", "words"), [
    (-259_200, "clock step: 259200.000 s back"), (3600, "clock step: 3600.000 s forward")])
def test_a_clock_that_is_set_is_an_event_and_keeps_the_order(
        tmp_path: Path, set_to_s: int, words: str) -> None:
    """Rows stay in the order heard, with the step between them."""
    before, after = samples(2), [
        Sample(s.time_ms + 1000 * set_to_s, s.monotonic_s, s.values)
        for s in samples(4)[2:] if isinstance(s, Sample)]
    rows = rows_of(recorded(tmp_path, Told([*before, *after])))

    assert [row["current_a"] for row in rows] == [0.0, 1.0, None, 2.0, 3.0]
    assert [row["event"] for row in rows] == [None, None, words, None, None]
    assert [row["monotonic_s"] for row in rows] == sorted(row["monotonic_s"] for row in rows)


def test_a_receiver_beside_the_pack_shares_the_log(tmp_path: Path) -> None:
    """Columns of both, rows of their own, a raw capture each, gaps counted for each."""
    pack = Told([*samples(2), Sample(1_775_117_700_300, 0.3,
                                        event="silent: nothing was heard for 3 s")])
    receiver = Told([Chunk(1_775_117_700_050, 0.05, b"$"),
                     Sample(1_775_117_700_050, 0.05, {"speed_m_s": 2.5}),
                     Sample(1_775_117_700_060, 0.06, event="link lost: unplugged")])
    receiver.columns, receiver.name = ("speed_m_s",), "place"  # type: ignore[assignment]
    recording = recorded(tmp_path, pack, beside=[receiver])
    rows = rows_of(recording)

    assert [(row["current_a"], row["speed_m_s"]) for row in rows] == [
        (0.0, None), (None, 2.5), (None, None), (1.0, None), (None, None)]
    assert [row["event"] for row in rows] == [
        None, None, "link lost: place: unplugged", None,
        "asleep: told: nothing was heard for 3 s; the link is open, the last amps were 1.0 A"]
    assert (recording.samples, recording.gaps) == (3, 2)
    assert [path.name for path in sorted((tmp_path / "logs").glob("*.raw"))] == [
        "2026-04-02T08-15-00Z.2.raw", "2026-04-02T08-15-00Z.raw"]
    assert pack.is_closed
    assert receiver.is_closed


def test_a_gap_lasts_until_the_same_monitor_speaks(tmp_path: Path) -> None:
    """What the other says meanwhile does not end it."""
    lost, back, silent = (Sample(1_775_117_700_000 + ms, ms / 1000, event=f"{kind}: x")
                          for ms, kind in ((10, "link lost"), (30, "link back"), (40, "silent")))
    receiver = Told([Sample(1_775_117_700_020, 0.02, {"speed_m_s": 2.5})])
    receiver.columns = ("speed_m_s",)  # type: ignore[assignment]

    assert recorded(tmp_path, Told([lost, back, silent]), beside=[receiver]).gaps == 1


def test_two_monitors_of_one_quantity_need_two_logs(tmp_path: Path) -> None:
    """Amps of two packs in one column would be a lie."""
    with pytest.raises(ValueError, match="told by two monitors: current_a"):
        recorded(tmp_path, Told(samples(1)), beside=[Told(samples(1))])


def test_a_second_monitor_that_is_not_there_leaves_no_file(tmp_path: Path) -> None:
    """Then the first is let go of again."""
    pack, receiver = Told(samples(1)), Told([], SourceUnavailable("place", "no such port"))
    receiver.columns = ("speed_m_s",)  # type: ignore[assignment]
    with pytest.raises(SourceUnavailable, match="place"):
        recorded(tmp_path / "book", pack, beside=[receiver])

    assert pack.is_closed
    assert not (tmp_path / "book").exists()


def test_a_closed_lid_is_an_event_in_the_gap(tmp_path: Path) -> None:
    """The silence that the source tells afterwards is its consequence and the same gap."""
    slept_s = iter([0.0, 0.0, 3600.0, 3600.0])
    awake, source = samples(2), Told([])
    later = [Sample(item.time_ms + 3_600_000, item.monotonic_s + 3600, {"current_a": 5.0})
             for item in samples(3)[2:]]
    silent = Sample(later[0].time_ms - 10, later[0].monotonic_s - 0.01,
                    event="silent: nothing was heard for 3600 s")
    source.items = [*awake, silent, *later]
    source.clock = Clock(source.clock.wall, source.clock.steady, lambda: next(slept_s))
    recording = recorded(tmp_path, source)

    assert [row["event"] for row in rows_of(recording)] == [
        None, None, "computer slept: 3600 s",
        "asleep: nothing was heard for 3600 s; the link is open, the last amps were 1.0 A", None]
    assert recording.gaps == 1


def test_what_a_sample_leads_to_stands_behind_it(tmp_path: Path) -> None:
    """Events that follow from a sample carry its time."""
    recording = recorded(tmp_path, Told(samples(3)), on_sample=lambda sample, _: (
        ["alarm: x"] if sample.values.get("current_a") == 1.0 else None))

    assert [(row["monotonic_s"], row["event"]) for row in rows_of(recording)] == [
        (0.0, None), (0.1, None), (0.1, "alarm: x"), (0.2, None)]


def _after_a_log_cut_off(book: Logbook, stem: str, pack: str) -> Recording:
    """The recording of pack p that follows a journal left behind."""
    left = JournalWriter.create(book.log_path(stem, ".csv"), LogMeta(pack=pack), ["current_a"])
    left.write(Sample(1_775_117_688_000, -12.0, {"current_a": 1.0}))
    left.close()
    return recorded(book.root, Told(samples(1)))


def test_a_log_after_one_that_was_cut_off_says_so(tmp_path: Path) -> None:
    """The same monitor's; a log of another pack has nothing to do with it."""
    book = Logbook.create(tmp_path)
    again, other = (
        rows_of(_after_a_log_cut_off(book, stem, pack))
        for stem, pack in (("2026-04-02T08-14-00Z", "p"), ("2026-04-02T08-13-00Z", "q")))

    assert [row["event"] for row in again] == [
        "restarted: the recorder stopped without closing 2026-04-02T08-14-00Z; 12 s unseen", None]
    assert [row["event"] for row in other] == [None]


def test_gaps_are_counted_once_each(tmp_path: Path) -> None:
    """A loss, its return and the silence after it are one gap; a sample ends it."""
    def event(kind: str) -> Sample:
        return Sample(0, 0.0, event=f"{kind}: x")

    lost, back, silent, sample = *map(event, ("link lost", "link back", "silent")), *samples(1)

    assert recorded(tmp_path, Told([lost, back, silent, sample, silent, sample])).gaps == 2


def test_a_monitor_that_cannot_be_opened_leaves_no_file(tmp_path: Path) -> None:
    """The message goes up, and not even the logbook is made."""
    with pytest.raises(SourceUnavailable, match="no such port"):
        recorded(tmp_path / "book", Told([], SourceUnavailable("x", "no such port")))

    assert list(tmp_path.iterdir()) == []


def test_a_recording_of_nothing_leaves_no_file(tmp_path: Path) -> None:
    """No empty log fills the logbook."""
    recording = recorded(tmp_path, Told([]))

    assert (recording.path, recording.raw_path) == (None, None)
    assert list((tmp_path / "logs").iterdir()) == []


def test_a_bug_leaves_a_journal_that_is_recovered(tmp_path: Path) -> None:
    """An error nobody foresaw keeps its traceback and costs no sample."""
    def fail(sample: Sample, _: Recording) -> None:
        if sample.values["current_a"] == 2.0:
            raise ZeroDivisionError("bug")

    with pytest.raises(ZeroDivisionError, match="bug"):
        recorded(tmp_path, Told(samples(9)), on_sample=fail)
    [recovery] = Logbook.open(tmp_path).recover()

    assert read_log(recovery.path).table.num_rows == 3


def test_leftovers_are_brought_back_first_and_told(tmp_path: Path) -> None:
    """A journal of a recorder that was cut off becomes a log, with what was torn."""
    book = Logbook.create(tmp_path)
    writer = JournalWriter.create(book.log_path("2026-04-01T00-00-00Z", ".csv"), LogMeta(),
                                  ("current_a",))
    writer.write(Sample(0, 0.0, {"current_a": 1.0}))
    writer.close()
    writer.path.write_bytes(writer.path.read_bytes() + b"1970-")
    told: list[str] = []
    recorded(tmp_path, Told(samples(1)), on_words=told.append)

    assert told[0] == ("2026-04-01T00-00-00Z.parquet: brought back from its journal; "
                       "5 bytes torn off the end, 0 damaged lines")
    assert [entry.is_journal for entry in book.logs()] == [False, False]


def test_a_second_recorder_on_the_same_log_is_refused(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The first keeps its log; the second is told, and its source is closed."""
    monkeypatch.setattr(Logbook, "stem_for", lambda *_: "same")
    source = Told(samples(1))
    with (Logbook.create(tmp_path).hold("same"),
          pytest.raises(LogInUse, match="same: another recorder is writing this log — stop it")):
        recorded(tmp_path, source)

    assert source.is_closed


class Disk:
    """Takes journal rows and raw lines while it has room."""

    def __init__(self, has_room: Callable[[int], bool]) -> None:
        self.has_room = has_room
        self.writes = 0

    def write(self, descriptor: int, data: bytes) -> int:
        self.writes += 1
        if not self.has_room(self.writes):
            raise OSError(errno.ENOSPC, "No space left on device")
        return os.write(descriptor, data)


def test_a_full_disk_is_told_once_and_costs_nothing_when_room_comes(tmp_path: Path) -> None:
    """Listening goes on, samples wait, and the log is whole in the end."""
    told: list[str] = []
    disk = Disk(lambda n: not 5 <= n < 15)
    recording = recorded(tmp_path, Told(samples(30)), on_words=told.append, write=disk.write)

    assert [row["current_a"] for row in rows_of(recording)] == [float(n) for n in range(30)]
    assert recording.unsaved == 0
    assert [words.partition(".csv: ")[2] for words in told[1:-1]] == [
        "cannot be written (No space left on device); samples wait in memory — make room on the "
        "disk", "written again"]


def test_what_memory_could_not_hold_is_marked(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Samples that fell out of the waiting line are counted, and an event stands in the log."""
    monkeypatch.setattr(journal, "PENDING_MAX", 4)
    disk = Disk(lambda n: not 5 <= n < 15)
    recording = recorded(tmp_path, Told(samples(30)), write=disk.write)
    rows = rows_of(recording)

    assert recording.unsaved == 30 - sum(row["current_a"] is not None for row in rows) == 7
    assert [row["event"] for row in rows if row["event"]] == ["not saved: 7 samples"]


def full(_: Path) -> Path:
    raise OSError(errno.ENOSPC, "No space left on device")


def test_a_disk_that_stays_full_loses_nothing_either(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What did not fit goes to another disk; both journals are sealed when there is room."""
    disk = Disk(lambda n: n < 13)
    monkeypatch.setenv("HOME", str(tmp_path))
    with monkeypatch.context() as patch:
        patch.setattr(recorder, "finish_log", full)
        recording = recorded(tmp_path / "book", Told(samples(30)), write=disk.write)
    book = Logbook.open(tmp_path / "book")

    assert recording.rescued == tmp_path / "2026-04-02T08-15-00Z-rest.csv"
    assert (recording.samples, recording.unsaved) == (30, 0)
    assert "cannot be sealed (No space left on device) — make room" in recording.problem
    recording.rescued.rename(book.logs_folder / recording.rescued.name)
    recoveries = book.recover()
    assert [bool(r.problem or r.damage) for r in recoveries] == [False, False]
    assert [a for entry in book.logs() for a in read_log(entry.path).table["current_a"].to_pylist()
            ] == [float(n) for n in range(30)]


def test_what_no_disk_took_is_counted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Only when there is no other place to write either."""
    monkeypatch.setenv("HOME", str(tmp_path / "none"))
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "none"))
    disk = Disk(lambda n: n < 13)
    recording = recorded(tmp_path / "book", Told(samples(30)), write=disk.write)

    assert (recording.rescued, recording.unsaved) == (None, 20)


@pytest.mark.parametrize("room", [0, 1])
def test_a_disk_full_at_the_start_is_told_and_leaves_nothing(tmp_path: Path, room: int) -> None:
    """Neither the capture nor the journal is left half begun."""
    with pytest.raises(LogbookError, match=r"No space left on device\) — make room on the disk"):
        recorded(tmp_path, Told(samples(1)), write=Disk(lambda n: n <= room).write)

    assert list((tmp_path / "logs").iterdir()) == []


def spoken(number: int) -> dict[str, float | str]:
    """A sample whose every figure follows from its number: an invented one cannot agree."""
    return {"sequence": number, "current_a": round(-0.1 * (number % 900), 1),
            "voltage_v": round(50 + number % 500 / 100, 2), "soc_pct": number % 101}


class Speaker(threading.Thread):
    """A monitor on a bad line: whole frames, garbage, torn frames, two pulled plugs."""

    def __init__(self, line: PseudoTerminal, count: int, stop: threading.Event) -> None:
        super().__init__(daemon=True)
        self.is_heard = threading.Event()
        self.sent: list[int] = []
        self._line, self._count, self._stop_recording = line, count, stop
        self._chance = random.Random(20260402)

    def run(self) -> None:
        for number in range(self._count):
            if number in (self._count // 3, 2 * self._count // 3):
                self._replug()
            self._line.write(self._noise(number) + encode(BINARY, spoken(number)))
            self.sent.append(number)
            time.sleep(0.002)
        time.sleep(0.3)
        self._stop_recording.set()

    def _noise(self, number: int) -> bytes:
        kind = self._chance.random()
        if kind < 0.1:
            return self._chance.randbytes(self._chance.randint(1, 80))
        if kind < 0.2:
            frame = encode(BINARY, spoken(number + 50_000))
            return frame[:self._chance.randint(1, len(frame) - 1)]
        return b""

    def _replug(self) -> None:
        """Let the last frame be read, pull, put back, and speak when somebody listens again."""
        time.sleep(0.2)
        self.is_heard.clear()
        self._line.unplug()
        time.sleep(0.3)
        self._line.plug()
        self.is_heard.wait(20)


@needs_posix
def test_a_bad_line_loses_no_whole_sample_and_invents_none(tmp_path: Path) -> None:
    """Over a real terminal with garbage, torn frames and two unplugs, every sample that was sent
    whole is in the log once and in order, nothing else is, and both gaps are marked."""
    line, stop = PseudoTerminal(tmp_path / "port"), threading.Event()
    line.plug()
    speaker = Speaker(line, 900, stop)

    def listen(sample: Sample, _: Recording) -> None:
        if sample.event.startswith("link back"):
            speaker.is_heard.set()

    def start(words: str) -> None:
        if words.startswith("recording"):
            speaker.start()

    source = DescribedSource(open_link(BINARY, line.port), BINARY)
    recording = record(source, Logbook.create(tmp_path / "book"), LogMeta(), stop,
                       on_sample=listen, on_words=start)
    line.unplug()
    rows = rows_of(recording)
    heard = [{k: row[k] for k in spoken(0)} for row in rows if row["sequence"] is not None]
    kinds = [row["event"].partition(":")[0] for row in rows if row["event"]]

    assert heard == [spoken(number) for number in speaker.sent]
    assert len(heard) == 900
    assert kinds == ["link lost", "link back"] * 2
    assert source.counts["junk_bytes"] > 1000
    assert recording.gaps == 2


@needs_posix
def test_killed_at_50_moments_every_acknowledged_sample_is_recovered(tmp_path: Path) -> None:
    """However the recorder dies, while writing or while sealing, no sample it wrote is lost."""
    capture = tmp_path / "x.raw"
    with RawWriter(capture, "x") as raw:
        for n in range(2500):
            raw.write(Chunk(1_775_117_700_000 + 10 * n, 0.0, encode(BINARY, spoken(n))))
    chance, cut_short = random.Random(7), 0
    with recorders(tmp_path, capture) as start:
        for moment in range(50):
            book = Logbook.create(tmp_path / f"book{moment}")
            acknowledged = start(chance.uniform(0, 0.25), book.root)
            cut_short += len(acknowledged) < 2500
            book.recover()
            logs = [read_log(entry.path) for entry in book.logs()]
            found = {n for log in logs for n in log.table["sequence"].to_pylist()}
            assert set(acknowledged) <= found
            assert len(logs) <= 1

    assert cut_short > 10


@contextlib.contextmanager
def recorders(tmp_path: Path, capture: Path) -> Iterator[Callable[[float, Path], list[int]]]:
    """Starts recorders that are killed after some seconds; gives what each acknowledged."""
    link = tmp_path / "book"
    script = Path(__file__).with_name("recorder_to_kill.py")
    with subprocess.Popen([sys.executable, str(script), str(link), str(capture)], text=True,
                          stdin=subprocess.PIPE, stdout=subprocess.PIPE, cwd=ROOT,
                          env=os.environ | {"PYTHONPATH": str(ROOT)}) as parent:
        stdin, stdout = parent.stdin, parent.stdout
        assert stdin is not None
        assert stdout is not None

        def start(seconds: float, book: Path) -> list[int]:
            link.unlink(missing_ok=True)
            link.symlink_to(book)
            print("go", file=stdin, flush=True)
            process = int(stdout.readline())
            timer = threading.Timer(seconds, kill, [process])
            timer.start()
            acknowledged = [int(line) for line in iter(stdout.readline, "end\n")]
            timer.cancel()
            return acknowledged

        yield start
        stdin.close()


def kill(process: int) -> None:
    with contextlib.suppress(ProcessLookupError):  # it had ended already
        os.kill(process, signal.SIGKILL)


def test_the_log_is_named_by_its_start(tmp_path: Path) -> None:
    """By the source's clock: a capture played again keeps its date."""
    recording = recorded(tmp_path, Told(samples(1)))

    assert recording.path is not None
    assert recording.path.stem == datetime(2026, 4, 2, 8, 15, tzinfo=UTC).strftime(
        "%Y-%m-%dT%H-%M-%SZ")
