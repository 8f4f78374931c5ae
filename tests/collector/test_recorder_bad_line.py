"""A bad line and a recorder that is killed: no whole sample is lost, none is invented."""

import contextlib
import os
import random
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from collector.frames.encoder import encode
from collector.logbook import Logbook
from collector.logfile import read_log
from collector.meta import LogMeta
from collector.monitors import load_description
from collector.rawfile import Chunk, RawWriter
from collector.record import Sample
from collector.recorder import Recording, record
from collector.simulator.terminal import PseudoTerminal
from collector.sources import open_link
from collector.sources.described import DescribedSource
from tests.collector.told import rows_of

ROOT = Path(__file__).parents[2]
BINARY = load_description("demo-binary")

pytestmark = pytest.mark.skipif(os.name == "nt", reason="needs POSIX terminals and signals")


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


@pytest.mark.scenario(10)
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


@pytest.mark.scenario(15)
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
