"""Questions of the whole logbook: worked out once, behind the page's back."""

from __future__ import annotations

import threading
from datetime import timedelta
from pathlib import Path

import pytest

from analysis import load_logbook
from analysis.asking.book import Asked, Book
from analysis.asking.questions import ask_fills, ask_logs, ask_parked, ask_season
from analysis.load import load_telemetry
from analysis.telemetry import Telemetry
from collector.errors import PackhandError
from collector.logbook import Logbook
from collector.logfile import write_log
from collector.notes import Note, add_note
from dashboard.workings import FAULT, Workings
from tests.dashboard.demo_logs import META, START, drive_table, make_logbook


@pytest.fixture
def book(tmp_path: Path) -> Logbook:
    return Logbook.create(tmp_path / "book")


def test_an_answer_is_made_once_and_again_when_the_logbook_changes(book: Logbook) -> None:
    """Asked twice it is worked out once; a new note asks again, and a track laid beside a log;
    until then the old stands."""
    workings, asked = Workings(book.root), []

    def question(_: Book) -> Asked[int]:
        asked.append(1)
        return Asked(len(asked), ("one log",))

    first = workings.ask("q", question, wait_s=5)
    again = workings.ask("q", question, wait_s=5)
    add_note(book.notes_path, Note(1_777_000_000_000, "text", text="new"))
    anew = workings.ask("q", question, wait_s=5)
    book.places_folder.mkdir()
    (book.places_folder / "2026-04-02T08-15-00Z.parquet").write_bytes(b"")
    placed = workings.ask("q", question, wait_s=5)

    assert (first.answer, first.left_out, again.answer, anew.answer) == (1, ("one log",), 1, 2)
    assert placed.answer == 3
    assert not anew.is_waiting


def test_a_page_does_not_wait(book: Logbook) -> None:
    """A slow question says how far it is, and the answer is there when it is done."""
    workings, gate = Workings(book.root), threading.Event()

    def question(asked: Book) -> Asked[str]:
        assert asked.progress is not None
        asked.progress(3, 10)
        gate.wait(5)
        return Asked("done")

    waiting = workings.ask("q", question, wait_s=0.2)
    gate.set()
    workings.settle(5)

    assert (waiting.answer, waiting.is_waiting, waiting.done, waiting.to_do) == (None, True, 3, 10)
    assert workings.ask("q", question).answer == "done"


def test_what_the_world_denies_is_told(book: Logbook) -> None:
    """A failure of the world is a line, and is not tried for ever."""
    def question(_: Book) -> Asked[str]:
        raise PackhandError("logbook", "no log", "record one")

    found = Workings(book.root).ask("q", question, wait_s=5)

    assert (found.answer, found.is_waiting) == (None, False)
    assert "record one" in found.problem


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_a_fault_of_ours_is_told_and_keeps_its_traceback(
        book: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    """The page says so and waits no longer; the traceback goes where tracebacks go."""
    seen: list[type[BaseException]] = []
    monkeypatch.setattr(threading, "excepthook", lambda hook: seen.append(hook.exc_type))

    def question(_: Book) -> Asked[str]:
        raise ZeroDivisionError

    found = Workings(book.root).ask("q", question, wait_s=5)

    assert (found.problem, found.is_waiting) == (FAULT, False)
    assert seen == [ZeroDivisionError]


def test_few_answers_are_kept(book: Logbook) -> None:
    """Answers to questions long not asked are let go."""
    workings, asked = Workings(book.root), []
    for n in [*range(30), 0]:
        workings.ask(n, lambda _, n=n: asked.append(n) or Asked(n), wait_s=5)

    assert asked.count(0) == 2


def test_logs_are_opened_once_for_all_questions(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The first question has every part kept; the next ones open no log, a new log opens one."""
    book = make_logbook(tmp_path / "book", drives=2, samples=300)
    opened: list[Path] = []

    def load(path: Path, *columns: object) -> Telemetry:
        opened.append(path)
        return load_telemetry(path, *columns)  # type: ignore[arg-type]

    monkeypatch.setattr(load_logbook, "load_telemetry", load)
    workings = Workings(book.root)
    for question in (ask_logs, ask_season, ask_fills, ask_parked):
        assert workings.ask(question.__name__, question, wait_s=30).answer is not None
    assert len(opened) == 2

    write_log(book.log_path(book.stem_for(START + timedelta(days=30))), META, drive_table(300))
    assert len(workings.ask("ask_logs", ask_logs, wait_s=30).answer or ()) == 3
    assert len(opened) == 3
