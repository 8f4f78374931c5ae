"""The logbook folder: made, listed, held, recovered."""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from collector.errors import LogbookError, LogInUse
from collector.journal import JournalWriter
from collector.logbook import Logbook
from collector.logfile import finish_log, read_log
from collector.meta import LogMeta
from collector.record import Sample
from tests.permissions import without_privileges

START = datetime(2026, 4, 2, 8, 15, tzinfo=UTC)


def journal_in(book: Logbook, stem: str, count: int = 5) -> Path:
    writer = JournalWriter.create(book.log_path(stem, ".csv"), LogMeta(), ("current_a",))
    for n in range(count):
        writer.write(Sample(n, n / 10, {"current_a": float(n)}))
    writer.close()
    return writer.path


def test_a_new_logbook_can_be_read_at_once(tmp_path: Path) -> None:
    """Made with its folder and a config that is TOML; made again it keeps what is there."""
    book = Logbook.create(tmp_path / "book")
    (tmp_path / "book" / "logbook.toml").write_text("[units]\ndistance = 'mi'\n")
    Logbook.create(tmp_path / "book")

    assert Logbook.open(tmp_path / "book").config() == {"units": {"distance": "mi"}}
    assert book.logs() == []


def test_the_config_as_made_is_toml(tmp_path: Path) -> None:
    """The template parses."""
    assert Logbook.create(tmp_path / "b").config()["units"] == {"distance": "km",
                                                               "temperature": "C"}


def test_what_is_no_logbook_is_told(tmp_path: Path) -> None:
    """A missing folder and a folder of something else are told apart."""
    with pytest.raises(LogbookError, match="no such folder"):
        Logbook.open(tmp_path / "none")
    with pytest.raises(LogbookError, match="not a logbook"):
        Logbook.open(tmp_path)


def test_a_file_in_place_of_the_folder_is_told(tmp_path: Path) -> None:
    """The message says that it is a file and names the way out."""
    (tmp_path / "book").write_text("")
    with pytest.raises(LogbookError, match="a file, not a folder — choose another folder"):
        Logbook.create(tmp_path / "book")


@pytest.fixture
def locked(tmp_path: Path) -> Iterator[Path]:
    """A folder in which this person may make nothing."""
    tmp_path.chmod(0o500)
    yield tmp_path
    tmp_path.chmod(0o700)


@pytest.mark.skipif(os.name == "nt", reason="needs POSIX permissions")
def test_a_folder_without_permission_is_told(locked: Path) -> None:
    """A logbook cannot be made where the person may not write, nor looked for."""
    with without_privileges(), pytest.raises(
            LogbookError, match=r"cannot be written \(Permission denied\) — choose another folder"):
        Logbook.create(locked / "book")


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="needs a folder nobody can write")
def test_a_read_only_disk_is_told() -> None:
    """A folder in which nothing can be made, even by root, gives one line."""
    with pytest.raises(LogbookError, match=r"cannot be written .* choose another folder"):
        Logbook.create(Path("/proc/self/logbook"))


def test_a_folder_that_became_read_only_is_told_on_holding(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A lock that cannot be made is no traceback."""
    book = Logbook.create(tmp_path)

    def refuse(*_: object, **__: object) -> None:
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr("filelock.FileLock.acquire", refuse)
    with pytest.raises(LogbookError, match="Read-only file system"), book.hold("x"):
        pass


def test_a_config_that_is_not_toml_names_its_line(tmp_path: Path) -> None:
    """The line and column to mend are in the message."""
    (tmp_path / "logbook.toml").write_text("[units]\ndistance = km\n")
    with pytest.raises(LogbookError, match=r"not TOML: .*line 2"):
        Logbook.open(tmp_path).config()


def test_stems_of_one_second_differ(tmp_path: Path) -> None:
    """Two logs that start together get two names, also while the first is only locked."""
    book = Logbook.create(tmp_path)
    first = book.stem_for(START)
    with book.hold(first):
        second = book.stem_for(START)

    assert (first, second) == ("2026-04-02T08-15-00Z", "2026-04-02T08-15-00Z-2")


def test_logs_are_listed_oldest_first_each_once(tmp_path: Path) -> None:
    """A stem with both forms is its journal: sealing was cut off before the journal went."""
    book = Logbook.create(tmp_path)
    finish_log(journal_in(book, "2026-04-03T00-00-00Z"))
    sealed = finish_log(journal_in(book, "2026-04-02T00-00-00Z"))
    data = sealed.read_bytes()
    journal_in(book, "2026-04-02T00-00-00Z")

    assert [(e.stem[:10], e.is_journal, e.is_live) for e in book.logs()] == [
        ("2026-04-02", True, False), ("2026-04-03", False, False)]
    assert sealed.read_bytes() == data


def test_a_held_log_is_live_and_refuses_a_second_recorder(tmp_path: Path) -> None:
    """Another holder is told; after the end nothing is left behind."""
    book = Logbook.create(tmp_path)
    journal_in(book, "x")
    with book.hold("x"):
        assert [entry.is_live for entry in book.logs()] == [True]
        assert book.recover() == []
        with pytest.raises(LogInUse, match="another recorder is writing this log"), book.hold("x"):
            pass

    assert [entry.is_live for entry in book.logs()] == [False]
    assert not list(tmp_path.rglob("*.lock"))


@pytest.mark.parametrize(("error", "is_held"), [
    (PermissionError(13, "Permission denied"), True),
    (OSError(30, "Read-only file system"), False),
])
def test_a_lock_that_cannot_be_tried(tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
                                     error: OSError, is_held: bool) -> None:
    """Another person's lock counts as held; one on a disk that nobody can write does not."""
    def refuse(*_: object, **__: object) -> None:
        raise error

    book = Logbook.create(tmp_path)
    book.log_path("x", ".lock").touch()
    monkeypatch.setattr("filelock.FileLock.acquire", refuse)

    assert book.is_held("x") == is_held


def test_recovery_brings_back_what_it_can_and_tells_the_rest(tmp_path: Path) -> None:
    """A foreign file in the folder stays untouched and stops nothing."""
    book = Logbook.create(tmp_path)
    torn = journal_in(book, "a")
    torn.write_bytes(torn.read_bytes()[:-3])
    alien = book.log_path("b", ".csv")
    alien.write_text("time,amps\n1,2\n")
    found = {recovery.path.name: recovery for recovery in book.recover()}

    assert "bytes torn off the end" in found["a.parquet"].words
    assert read_log(found["a.parquet"].path).table.num_rows == 4
    assert found["b.csv"].words == "b.csv: not brought back: not a packhand journal"
    assert alien.read_text() == "time,amps\n1,2\n"


@pytest.mark.parametrize("kept", [0, 3, 12, 40])
def test_a_journal_cut_off_before_its_first_row_is_removed(tmp_path: Path, kept: int) -> None:
    """A recorder killed while it wrote the header leaves no file that nobody can read."""
    book = Logbook.create(tmp_path)
    journal = journal_in(book, "a")
    journal.write_bytes(journal.read_bytes()[:kept])
    [recovery] = book.recover()

    assert recovery.words == "a.csv: not brought back: nothing was in it yet; removed"
    assert book.logs() == []


def test_recovery_on_a_full_disk_keeps_the_journal(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is told and tried again the next time."""
    def full(_: Path) -> None:
        raise OSError(28, "No space left on device")

    book = Logbook.create(tmp_path)
    data = journal_in(book, "a").read_bytes()
    monkeypatch.setattr("collector.logbook.recover_log", full)
    [recovery] = book.recover()

    assert recovery.words == (
        "a.csv: not brought back: No space left on device; it stays as it is")
    assert book.log_path("a", ".csv").read_bytes() == data


def test_recovery_is_done_once(tmp_path: Path) -> None:
    """A second start finds nothing to do."""
    book = Logbook.create(tmp_path)
    journal_in(book, "a")

    assert [len(book.recover()), len(book.recover())] == [1, 0]


@pytest.mark.skipif(os.name == "nt", reason="kills with a POSIX signal")
def test_a_killed_holder_lets_go(tmp_path: Path) -> None:
    """The lock of a killed program is no obstacle, though its file stays."""
    book = Logbook.create(tmp_path)
    journal_in(book, "x")
    code = ("import sys, time; from pathlib import Path; from collector.logbook import Logbook\n"
            "with Logbook(Path(sys.argv[1])).hold('x'):\n"
            "    print('held', flush=True); time.sleep(60)")
    with subprocess.Popen([sys.executable, "-c", code, str(tmp_path)], stdout=subprocess.PIPE,
                          cwd=Path(__file__).parents[2]) as holder:
        assert holder.stdout is not None
        holder.stdout.readline()
        held = book.is_held("x")
        holder.send_signal(signal.SIGKILL)
        holder.wait()

    assert (held, book.is_held("x")) == (True, False)
    assert len(book.recover()) == 1


def test_a_new_log_has_a_name_that_nobody_has(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One that another recorder holds, or has finished since it was looked up, is passed over."""
    book = Logbook.create(tmp_path)
    book.log_path("finished").touch()
    stems = iter(["held", "finished", "free"])
    monkeypatch.setattr(book, "stem_for", lambda _: next(stems))
    with book.hold("held"), book.new_log(datetime(2026, 4, 2, tzinfo=UTC)) as stem:
        is_held = book.is_held(stem)

    assert (stem, is_held) == ("free", True)
    assert not book.is_held("free")
