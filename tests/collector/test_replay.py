"""A capture and a log played again."""

import threading
import time
from pathlib import Path

import pytest

from collector.errors import LogFormatError, SourceUnavailable
from collector.frames.encoder import encode
from collector.journal import JournalWriter
from collector.logfile import finish_log
from collector.meta import LogMeta
from collector.monitors import load_description
from collector.rawfile import Chunk, RawWriter
from collector.record import Sample
from collector.sources.described import DescribedSource
from collector.sources.replay import AT_ONCE, CaptureLink, LogReplay

BINARY = load_description("demo-binary")
START_MS = 1_775_117_700_000


def capture(path: Path, at_s: list[float]) -> Path:
    with RawWriter(path, "x") as raw:
        for n, moment in enumerate(at_s):
            data = encode(BINARY, {"sequence": n, "current_a": -1.5})
            raw.write(Chunk(START_MS + round(1000 * moment), 0.0, data))
    return path


def played(path: Path, speed: float = AT_ONCE) -> list[Sample]:
    link = CaptureLink(path, speed)
    source = DescribedSource(link, BINARY, link.clock)
    source.open()
    return [i for i in source.heard(threading.Event()) if isinstance(i, Sample)]


def test_a_capture_gives_its_samples_at_their_times(tmp_path: Path) -> None:
    """The samples carry the times at which the bytes were heard."""
    samples = played(capture(tmp_path / "x.raw", [0, 0.1, 0.2, 1.5]))

    assert [s.values["sequence"] for s in samples] == [0, 1, 2, 3]
    assert [s.time_ms - START_MS for s in samples] == [0, 100, 200, 1500]
    assert [s.monotonic_s for s in samples] == [0.0, 0.1, 0.2, 1.5]


def test_a_silence_in_a_capture_is_a_silence(tmp_path: Path) -> None:
    """The path is that of a live monitor: a gap in the capture is told as one."""
    samples = played(capture(tmp_path / "x.raw", [0, 100, 100.1]))

    assert [s.event.partition(":")[0] for s in samples] == ["", "silent", "", ""]
    assert 3000 < samples[1].time_ms - START_MS < 3500


def test_speed_sets_the_pace(tmp_path: Path) -> None:
    """Twenty times the speed takes a twentieth of the time."""
    path = capture(tmp_path / "x.raw", [0, 1, 2, 4])
    start_s = time.monotonic()
    played(path, speed=20)

    assert 0.2 <= time.monotonic() - start_s < 2.0


def test_an_empty_capture_ends_at_once(tmp_path: Path) -> None:
    """Nothing heard, nothing played."""
    assert played(capture(tmp_path / "x.raw", [])) == []


def test_what_is_no_capture_is_told_on_opening(tmp_path: Path) -> None:
    """Before any file of a recording is made."""
    (tmp_path / "x.raw").write_text("hello\n")
    with pytest.raises(LogFormatError, match="line 1"):
        CaptureLink(tmp_path / "x.raw").open()


def test_a_capture_that_is_not_there_is_told(tmp_path: Path) -> None:
    """In one line, before any file of a recording is made."""
    with pytest.raises(SourceUnavailable, match=r"cannot be read \(No such file"):
        CaptureLink(tmp_path / "x.raw").open()


def test_a_log_is_played_as_it_stands(tmp_path: Path) -> None:
    """Samples, words, events and times come back as they were written, from both forms."""
    samples = [Sample(START_MS + 500 * n, n / 2, {"current_a": -n / 3, "state": "drive"})
               for n in range(4)] + [Sample(START_MS + 2000, 2.0, {}, "link lost: unplugged")]
    writer = JournalWriter.create(tmp_path / "x.csv", LogMeta(), ("current_a", "state"))
    for sample in samples:
        writer.write(sample)
    writer.close()
    of_journal = LogReplay(writer.path)
    for replay in (of_journal, LogReplay(finish_log(writer.path))):
        replay.open()
        assert replay.clock.now() == (START_MS, 0.0)
        assert list(replay.heard(threading.Event())) == samples
        assert replay.columns == ("current_a", "state")


def test_a_log_is_played_at_its_pace(tmp_path: Path) -> None:
    """Two recorded seconds at ten times the speed take a fifth of a second; stop cuts it short."""
    writer = JournalWriter.create(tmp_path / "x.csv", LogMeta(), ("current_a",))
    for n in range(3):
        writer.write(Sample(n, float(n) + 50.0, {"current_a": 1.0}))
    writer.close()
    replay, stop = LogReplay(writer.path, speed=10), threading.Event()
    replay.open()
    start_s = time.monotonic()
    count = sum(1 for _ in replay.heard(stop))
    taken_s = time.monotonic() - start_s
    stop.set()
    replay.open()

    assert (count, list(replay.heard(stop))) == (3, [])
    assert 0.2 <= taken_s < 2.0
