"""A disk that is full, or fails, while recording: listening goes on, and nothing is lost."""

import errno
import os
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest

from collector import journal, recorder
from collector.errors import LogbookError
from collector.logbook import Logbook
from collector.logfile import read_log
from collector.record import Sample
from collector.recorder import Recording
from tests.collector.told import Told, recorded, rows_of, samples


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


def test_a_folder_that_vanishes_is_told_and_the_rest_is_rescued(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody removes the logbook while it is written: what comes after goes elsewhere."""
    monkeypatch.setenv("HOME", str(tmp_path))
    told: list[str] = []

    def remove(sample: Sample, _: Recording) -> None:
        if sample.values.get("current_a") == 10.0:
            shutil.rmtree(tmp_path / "book" / "logs")

    recording = recorded(tmp_path / "book", Told(samples(30)), on_sample=remove,
                         on_words=told.append)

    assert any("cannot be written (somebody removed it); samples wait in memory — bring the folder "
               "back" in words for words in told)
    assert "cannot be sealed (No such file or directory) — bring the folder back" in (
        recording.problem)
    assert recording.rescued is not None
    assert read_log(recording.rescued).table["current_a"].to_pylist() == [
        float(n) for n in range(11, 30)]


def test_a_change_while_the_disk_is_full_stays_in_the_log(tmp_path: Path) -> None:
    """No second log can be begun: it is told, and nothing is lost."""
    told: list[str] = []
    change = Sample(1_775_117_700_500, 0.5, event="changed: another pack")
    items = [*samples(10)[:5], change, *samples(10)[5:]]
    disk = Disk(lambda n: not 8 <= n <= 9)  # the heads of the second log
    recording = recorded(tmp_path, Told(items), on_words=told.append, write=disk.write)

    assert recording.earlier == ()
    assert [row["event"] or row["current_a"] for row in rows_of(recording)] == [
        0.0, 1.0, 2.0, 3.0, 4.0, "changed: another pack", 5.0, 6.0, 7.0, 8.0, 9.0]
    assert any("the log goes on with what has changed" in words for words in told)
    assert not list((tmp_path / "logs").glob("*.lock"))
